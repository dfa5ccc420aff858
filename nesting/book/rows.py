"""Rows of the book as the trade sees them: boards, pieces, what a project wants."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.effects import TABLES, Row
from nesting.book.fitting import MEASURES
from nesting.book.outlines import wood_of
from nesting.book.rests import Rest
from nesting.book.store import Book
from nesting.book.wood import board_of, figures_of, keep_out_of
from nesting.errors import BookError
from nesting.stock.board import Board
from nesting.summary.fields import flag, number, rows, text, texts, whole
from nesting.units import Unit
from nesting.unseen import short

IN_STOCK, SAWN_UP, GONE = "in stock", "sawn up", "gone"
SOUND, SPOILED = "sound", "spoiled"

RECORDED, OFFCUT, REST, READ, RETURNED = "recorded", "offcut", "rest", "read", "returned"
"""How a board came into the book; the last of a spoiled piece's own wood."""


def board_row(
    name: str,
    wood: dict[str, Any],
    *,
    came: str,
    by: str,
    root: str | None = None,
    at: tuple[float, float] = (0.0, 0.0),
    parent: str | None = None,
    held_by: str | None = None,
    said: str = "",
    taped: bool = False,
) -> Row:
    """Return the row of a board in stock.

    ``root`` is the board that was once recorded, ``at`` where its own frame lies in that one's;
    ``said`` stands for what the stock file said of it; ``taped`` if a tape corrected it, or what it
    came of, so that no place in the root's frame is sure.
    """
    body = {
        "wood": wood, "root": root or name, "at": list(at), "came": came, "by": by, "said": said,
        "frames": [], "taped": taped, "checked": "",
    }  # fmt: skip
    return {"name": name, "state": IN_STOCK, "parent": parent, "held_by": held_by, "body": body}


def rest_row(name: str, rest: Rest, parent: Row, came: str, by: str) -> Row:
    """Return the row of what is left of a board, held by whoever held that."""
    x, y = parent["body"]["at"]
    return board_row(
        name, rest.data, came=came, by=by, root=parent["body"]["root"],
        at=(x + rest.at[0], y + rest.at[1]), parent=parent["name"], held_by=parent["held_by"],
        taped=parent["body"]["taped"],
    )  # fmt: skip


def shrunk_row(row: Row, rest: Rest) -> Row:
    """Return the row of a board that is the same board still, with less wood."""
    body = row["body"]
    x, y = body["at"]
    wood = wood_of(body["wood"])
    frame = {"at": body["at"], "box": list(wood.bounds), "area_mm2": wood.area}
    new = {
        **body, "wood": rest.data, "at": [x + rest.at[0], y + rest.at[1]],
        "frames": [*body["frames"], frame],
    }  # fmt: skip
    return {**row, "body": new}


def in_root(row: Row) -> Polygon:
    """Return the wood of a board in the frame of the board that was once recorded."""
    return shapely.affinity.translate(wood_of(row["body"]["wood"]), *row["body"]["at"])


def board_in(row: Row) -> Board:
    """Return the board of a row, as it can be nested."""
    return board_of(row["name"], row["body"]["wood"])


def lies_surely(body: Row) -> bool:
    """Return whether the place of a board or piece in the root's frame is sure: by no tape.

    Books did not always say so of pieces.
    """
    return not body.get("taped", True)


def amount(table: str, row: Row) -> tuple[float, float]:
    """Return area and volume of a board or piece, mm2 and mm3."""
    area, volume = figures_of(table, row["body"])[-2:]
    return float(area), float(volume)  # type: ignore[arg-type]


def board_named(book: Book, name: str) -> Row:
    """Return the row of a board in stock.

    Raises
    ------
    BookError
        If there is none by that name, or it is not in stock any more.
    """
    row = book.row("board", name)
    if row is None:
        names = [found for (found,) in book.asked("SELECT name FROM board")]
        raise BookError(f"no board {short(name)} in the book{near(name, names)}")
    if row["state"] != IN_STOCK:
        left = [
            found for (found,) in book.asked(
                "SELECT name FROM board WHERE parent = ? AND state = 'in stock' ORDER BY name", name
            )
        ]  # fmt: skip
        where = f"; of it there are still {', '.join(left)}" if left else ""
        raise BookError(f"board {name} is {row['state']}, not in stock{where}")
    return row


def require_free(row: Row, project: str) -> None:
    """Refuse a board that another project holds."""
    if row["held_by"] not in (None, project):
        raise BookError(
            f"board {row['name']} is reserved by the project {row['held_by']}: ask there, or nest "
            "again without it"
        )


def near(given: str, known: Sequence[str]) -> str:
    """Return which name may be meant, for the end of a message."""
    found = get_close_matches(given, known, n=3, cutoff=0.5)
    return f"; did you mean {', '.join(short(name) for name in found)}?" if found else ""


def next_name(book: Book, root: str) -> str:
    """Return what the next offcut of a board is called: ``D-07.1``, ``D-07.2`` and on."""
    taken = {
        name
        for (name,) in book.asked("SELECT name FROM board WHERE name GLOB ? || '.*'", _glob(root))
    }
    number = 1
    while f"{root}.{number}" in taken:
        number += 1
    return f"{root}.{number}"


def _glob(name: str) -> str:
    """Return a name in which nothing stands for anything else."""
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)


def check_row(table: str, row: Row) -> None:
    """Refuse a row whose body lacks what the book needs of it.

    Raises
    ------
    BookError
        Names the row and what is wrong.
    """
    try:
        _CHECKS[table](row["body"])
    except (KeyError, TypeError, ValueError) as error:
        keys = " ".join(str(row[key]) for key in TABLES[table].key)
        raise BookError(f"{table} {keys}: {error}") from error


def _check_project(body: Row) -> None:
    Unit(text(body, "unit"))
    if "was" in body:
        texts(body, "was")
    for name in ("kerf_mm", "trim_mm", "blade_clearance_mm"):
        if not 0 <= number(body, name) <= LARGEST_ALLOWANCE_MM:
            raise ValueError(f"{name} is {body[name]:g} mm")


def _check_want(body: Row) -> None:
    if len(texts(body, "labels")) != whole(body, "quantity"):
        raise ValueError("it has not as many labels as pieces")
    text(body, "family")
    texts(body, "species")
    for name in ("area_mm2", "siding_mm"):
        number(body, name)
    if "outline" in body:
        wood_of(body)


def _check_plan(body: Row) -> None:
    for name in ("pieces", "boards"):
        texts(body, name)
    for one in rows(body, "lies") if "lies" in body else ():
        for name in ("label", "part", "board"):
            text(one, name)
        for name in ("x_mm", "y_mm", "angle_deg"):
            number(one, name)
        flag(one, "turned_over")


def _check_board(body: Row) -> None:
    for name in ("root", "came", "by", "said", "checked"):
        text(body, name)
    flag(body, "taped")
    _figures(body["at"], 2)
    for frame in [*rows(body, "frames"), *([body["whole"]] if "whole" in body else [])]:
        _figures(frame["at"], 2)
        _figures(frame["box"], 4)
        number(frame, "area_mm2")
    board_of("it", body["wood"])


def _check_piece(body: Row) -> None:
    for name in ("label", "sawn_as"):
        text(body, name)
    if not 0 < number(body, "siding_mm") <= number(body, "thickness_mm") + 1:
        raise ValueError("its siding is not that of a piece of its board")
    if "taped" in body:
        flag(body, "taped")
    _figures(body["frame"], 2)
    if body.get("serves") is not None:
        _figures(body["serves"]["form"], MEASURES)
        number(body["serves"], "siding_mm")
        texts(body["serves"], "species")
    wood_of(body)
    for data in rows(body, "keep_outs"):
        keep_out_of(data)


def _figures(given: Any, count: int) -> None:
    if not isinstance(given, list) or len(given) != count:
        raise TypeError(f"{count} figures must stand where {given!r:.40} does")
    for value in given:
        number({"figure": value}, "figure")


_CHECKS = {
    "project": _check_project, "want": _check_want, "plan": _check_plan, "board": _check_board,
    "piece": _check_piece,
}  # fmt: skip

LARGEST_ALLOWANCE_MM = 100.0
"""No kerf, trim or clearance is larger."""
