"""A plan is reserved: its boards are held for this project, and no other takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from nesting.book.effects import Row
from nesting.book.rows import IN_STOCK, board_named, near, require_free
from nesting.book.still_given import board_stamp, part_stamp
from nesting.book.store import Book
from nesting.errors import BookError
from nesting.summary.fields import flag, number, rows, text, whole
from nesting.unseen import short
from nesting.words import counted


@dataclass(frozen=True)
class Planned:
    """What the book keeps of a written plan.

    Attributes
    ----------
    boards
        Names of those that it opens.
    body
        What it says of pieces, parts left over, bungs, metal and scrap, as plain data.
    step
        The step of the book after which it was made; None where it went by none.
    """

    project: str
    boards: tuple[str, ...]
    body: Mapping[str, Any]
    step: int | None = None


def planned(content: Mapping[str, Any], identity: str = "") -> Planned:
    """Return what the book keeps of a summary.

    Raises
    ------
    BookError
        If the summary cannot be read.
    """
    try:
        boards = rows(content, "boards")
        body = {
            "identity": identity,
            "pieces": sorted(text(p, "label") for row in boards for p in rows(row, "parts")),
            "boards": [text(row, "board") for row in boards],
            "lies": [_lie(text(row, "board"), p) for row in boards for p in rows(row, "parts")],
            "left_over": [
                [text(row, "part"), whole(row, "count"), text(row, "reason")]
                for row in rows(content, "unplaced")
            ],
            "bungs": [
                [text(bung, "part"), number(bung, "diameter_mm")]
                for row in boards
                for bung in rows(row, "bungs")
            ],
            "scrap_percent": number(content, "scrap_percent"),
            "uncredited_scrap_percent": number(content, "uncredited_scrap_percent"),
        }
        names = tuple(text(row, "board") for row in boards)
        step = whole(content["book"], "step") if "book" in content else None
        return Planned(text(content, "project"), names, body, step)
    except (KeyError, TypeError, ValueError) as error:
        raise BookError(f"the summary cannot be read: {error}; nest the project again") from error


def _lie(board: str, part: Mapping[str, Any]) -> Row:
    """Return what a plan says of where a piece lies."""
    return {
        "board": board,
        **{name: text(part, name) for name in ("label", "part")},
        **{name: number(part, name) for name in ("x_mm", "y_mm", "angle_deg")},
        "turned_over": flag(part, "turned_over"),
    }


def conflicts(book: Book, project: str, names: Sequence[str]) -> list[str]:
    """Return what stands in the way of holding boards for a project, in words."""
    found = []
    for name in names:
        row = book.row("board", name)
        if row is None:
            found.append(f"{short(name)} is not in the book")
        elif row["state"] != IN_STOCK:
            found.append(f"{name} is {row['state']}{_by(book, row)}")
        elif row["held_by"] not in (None, project):
            found.append(f"{name} is reserved by {row['held_by']}")
    return found


def _by(book: Book, row: Row) -> str:
    found = book.asked("SELECT DISTINCT project FROM piece WHERE board = ?", row["name"])
    return f" by {', '.join(sorted(name for (name,) in found))}" if found else ""


def reserve(book: Book, plan: Planned, why: str = "") -> int:
    """Hold the boards of a plan for its project, in place of those of its last one.

    Raises
    ------
    BookError
        If one is not in the book, was sawn up, or is another project's; names all of them.
    """
    with book.writing(plan.project, "reserved", why) as writing:
        if wrong := conflicts(book, plan.project, plan.boards):
            more = f"; and {counted(len(wrong) - 10, 'board')} more" if len(wrong) > 10 else ""
            raise BookError(
                f"the plan of {plan.project} cannot be reserved: {'; '.join(wrong[:10])}{more}. "
                "Nest again (boards that are not in the book: salvage-nest book record)"
            )
        for row in book.rows("board", "held_by = ?", plan.project):
            if row["name"] not in plan.boards:
                writing.put("board", {**row, "held_by": None})
        for name in plan.boards:
            row = board_named(book, name)
            writing.put("board", {**row, "held_by": plan.project})
        writing.put("plan", {"project": plan.project, "body": _stamped(book, plan)})
        writing.said = f"reserved the plan: {counted(len(plan.boards), 'board')}"
    return len(plan.boards)


def _stamped(book: Book, plan: Planned) -> Row:
    """Return what the book keeps of a plan, with what its boards and parts were when it was made.

    So what happened between is known as well as what happens later.
    """
    parts = {one["part"] for one in plan.body.get("lies", [])}
    wants = {row["part"]: row for row in book.rows("want", "project = ?", plan.project)}
    was = _before(book, plan.step)
    stamps = {
        name: board_stamp(was.get(("board", name)) or board_named(book, name))
        for name in plan.boards
    }
    of_parts = {
        part: part_stamp((was.get(("want", plan.project, part)) or wants[part])["body"])
        for part in sorted(parts)
        if part in wants
    }
    return {**plan.body, "stamps": stamps, "parts": of_parts}


def _before(book: Book, step: int | None) -> dict[tuple[object, ...], Row | None]:
    """Return the rows that were changed after a step, as they were then; by table and key."""
    found = dict[tuple[object, ...], Row | None]()
    for later in book.steps("number > ?", step) if step is not None else ():
        for effect in later.effects:
            found.setdefault((effect.table, *effect.key), effect.before)
    return found


def hold(book: Book, project: str, names: Sequence[str], why: str = "") -> None:
    """Hold single boards for a project.

    Raises
    ------
    BookError
        If one is another project's, or not in stock.
    """
    with book.writing(project, "reserved", why) as writing:
        for name in names:
            row = board_named(book, name)
            require_free(row, project)
            writing.put("board", {**row, "held_by": project})
        writing.said = f"reserved {counted(len(names), 'board')}: {', '.join(names[:5])}"


def release(book: Book, project: str, names: Sequence[str] = (), why: str = "") -> int:
    """Let go of boards that a project holds, all of them if none is named."""
    with book.writing(project, "released", why) as writing:
        held = {row["name"]: row for row in book.rows("board", "held_by = ?", project)}
        for name in names:
            if name not in held:
                raise BookError(f"{project} holds no board {short(name)}{near(name, list(held))}")
        chosen = list(names) or list(held)
        for name in chosen:
            writing.put("board", {**held[name], "held_by": None})
        writing.said = f"released {counted(len(chosen), 'board')}"
    return len(chosen)
