"""What happens beside the plan: metal found, pieces spoiled or used otherwise, boards taped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import shapely
import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.effects import Row
from nesting.book.fitting import is_listed, serving, told_lacking
from nesting.book.from_nowhere import TAPED, TAPED_LARGER
from nesting.book.larger import require_no_larger, taped_body, why_larger
from nesting.book.outlines import wood_of
from nesting.book.pieces import make_way, other_piece, piece_named, wanted, why_odd
from nesting.book.rests import kept_in, rest_of
from nesting.book.rows import (
    GONE,
    RETURNED,
    SPOILED,
    amount,
    board_in,
    board_named,
    lies_surely,
    next_name,
    require_free,
    rest_row,
)
from nesting.book.sheet_place import SAME_MM
from nesting.book.store import Book, Writing
from nesting.book.wood import AT_BENCH, board_data, keep_out_data, keep_out_of, moved_board
from nesting.errors import BookError
from nesting.stock.board import Board, off_board
from nesting.stock.keep_out import KeepOut
from nesting.unseen import short
from nesting.words import counted, first_few


def found(
    book: Book, project: str, name: str, keep_outs: Sequence[KeepOut], why: str = ""
) -> list[KeepOut]:
    """Enter keep-outs that were found in a board in stock; return those that it had before.

    One that is told again, as it was to the last figure, is there once.

    Raises
    ------
    BookError
        If the board is not in stock, one lies off it, or it had all of them.
    """
    with book.writing(project, "found", why) as writing:
        row = board_named(book, name)
        wood = wood_of(row["body"]["wood"])
        for message in off_board(keep_outs, Polygon(wood.exterior)).values():
            raise BookError(f"board {name}: {message}")
        new, known = _told_apart(board_in(row).keep_outs, keep_outs)
        if known and not new:
            raise BookError(
                f"board {name} has {counted(len(known), 'place')} already as told here: nothing is "
                "entered"
            )
        data = [keep_out_data(replace(keep_out, source=AT_BENCH)) for keep_out in new]
        old = row["body"]["wood"]
        body = {**row["body"], "wood": {**old, "keep_outs": [*old["keep_outs"], *data]}}
        writing.put("board", {**row, "body": body})
        kinds = ", ".join(dict.fromkeys(str(keep_out.kind) for keep_out in new))
        writing.said = f"{name}: found {kinds}, {counted(len(new), 'place')}"
    return known


def _told_apart(
    before: Sequence[KeepOut], told: Sequence[KeepOut]
) -> tuple[list[KeepOut], list[KeepOut]]:
    """Return which of the keep-outs that are told are new, and which were there before."""
    new, known = list[KeepOut](), list[KeepOut]()
    for keep_out in told:
        is_known = any(_is_one(keep_out, other) for other in (*before, *new))
        (known if is_known else new).append(keep_out)
    return new, known


def _is_one(first: KeepOut, second: KeepOut) -> bool:
    if first.kind is not second.kind or first.depth_mm != second.depth_mm:
        return False
    return bool(shapely.hausdorff_distance(first.polygon, second.polygon) <= SAME_MM)


class Spoiled(NamedTuple):
    """What came of spoiling a piece: the board of its wood, if any, and whether it is wanted."""

    returned: str
    is_wanted: bool


class Became(NamedTuple):
    """What a piece is called now, and whether the one that it was is wanted again."""

    label: str
    is_wanted: bool


def _is_wanted(book: Book, row: Row) -> bool:
    """Return whether a parts list has a piece of the name of one."""
    want = book.row("want", row["project"], row["part"])
    return want is not None and is_listed(row, {row["part"]: want["body"]})


def spoil(book: Book, project: str, label: str, why: str = "", *, is_kept: bool = False) -> Spoiled:
    """Enter that a piece that was sawn is spoiled; as long as the list has it, it is wanted again.

    Parameters
    ----------
    is_kept
        Whether its wood goes back into stock, as a board of its outline.

    Raises
    ------
    BookError
        If no such piece was sawn.
    """
    with book.writing(project, "spoiled", why) as writing:
        row = piece_named(book, project, label)
        writing.put("piece", {**row, "state": SPOILED})
        area, volume = amount("piece", row)
        name = _returned(writing, row) if is_kept else ""
        if not is_kept:
            writing.lose(area, volume)
        kept = f"; its wood is back as {name}" if name else ""
        writing.said = f"spoiled {row['body']['label']}{kept}"
    return Spoiled(name, _is_wanted(book, row))


def _returned(writing: Writing, piece: Row) -> str:
    """Put the wood of a piece back into stock and return its name."""
    parent = writing.book.row("board", piece["board"])
    assert parent is not None, "a foreign key says so"
    body, shape = piece["body"], wood_of(piece["body"])
    # The piece lies in the frame that its board had; rests may have come off that since.
    x, y = body["frame"]
    now_x, now_y = parent["body"]["at"]
    bare = replace(board_in(parent), keep_outs=(), thickness_mm=body["siding_mm"])
    board = replace(
        moved_board(bare, now_x - x, now_y - y),
        shape=Polygon(shape.exterior),
        keep_outs=tuple(
            kept for data in body["keep_outs"] for kept in kept_in(keep_out_of(data), shape)
        ),
    )
    rest = rest_of(board, shape)
    name = next_name(writing.book, parent["body"]["root"])
    row = rest_row(name, rest, parent, RETURNED, writing.project)
    row["body"]["at"] = [x + rest.at[0], y + rest.at[1]]
    row["body"]["taped"] = row["body"]["taped"] or not lies_surely(body)
    writing.put("board", {**row, "held_by": None})
    return name


def use_for(book: Book, project: str, label: str, other: str, why: str = "") -> Became:
    """Enter that a piece that was sawn became another one.

    Raises
    ------
    BookError
        If the other is not wanted, was sawn before, or is thicker.
    """
    with book.writing(project, "used", why) as writing:
        row = piece_named(book, project, label)
        part, number, want = other_piece(book, project, other)
        siding = want["siding_mm"]
        if siding > row["body"]["siding_mm"]:
            raise BookError(
                f"{label} is {row['body']['siding_mm']:g} mm thick, too thin for {other}, which "
                f"is {siding:g} mm"
            )
        new = _as(writing, row, part, number, want, siding)
        before, after = amount("piece", row), amount("piece", new)
        writing.lose(before[0] - after[0], before[1] - after[1])
        writing.said = f"{row['body']['label']} is used for {new['body']['label']}"
    return Became(str(new["body"]["label"]), _is_wanted(book, row))


def lacking(book: Book, project: str, label: str, other: str) -> str:
    """Return that a piece has not the wood of the part that it is to become; empty if it may.

    Raises
    ------
    BookError
        As :func:`use_for` does of names.
    """
    row = piece_named(book, project, label)
    _, number, want = other_piece(book, project, other)
    board = book.row("board", row["board"])
    assert board is not None, "a foreign key says so"
    return told_lacking(
        wood_of(row["body"]), board["body"]["wood"]["species"], row["body"]["label"], want,
        want["labels"][number - 1],
    )  # fmt: skip


def serve(book: Book, project: str, label: str, why: str = "") -> str:
    """Enter that a piece that was sawn serves as its part, whatever the parts list says now.

    Returns
    -------
    str
        What the piece is called now.

    Raises
    ------
    BookError
        If the list has no such part or not so many of it, another piece has its place, or
        nothing speaks against it.
    """
    with book.writing(project, "used", why) as writing:
        row = piece_named(book, project, label)
        part, copy, want = row["part"], row["copy"], wanted(book, project, row["part"])["body"]
        if not (odd := why_odd(book, row)):
            raise BookError(f"{row['body']['label']} counts as it is: name the part it becomes")
        if copy > want["quantity"]:
            raise BookError(f"{row['body']['label']}: {odd}; name the part that it becomes")
        new = _as(writing, row, part, copy, want, row["body"]["siding_mm"])
        writing.said = f"{row['body']['label']} serves as it is, though {odd}"
    return str(new["body"]["label"])


def _as(writing: Writing, row: Row, part: str, copy: int, want: Row, siding: float) -> Row:
    """Put a piece where it is some copy of some part, as the parts list has that now."""
    make_way(writing, row["project"], part, copy, but=row["number"])
    label = want["labels"][copy - 1]
    body = {**row["body"], "label": label, "siding_mm": siding, "serves": serving(want)}
    new = {**row, "part": part, "copy": copy, "body": body}
    writing.put("piece", new)
    return new


def tape(
    book: Book,
    project: str,
    name: str,
    shape: Polygon | None,
    thickness_mm: float | None = None,
    why: str = "",
    *,
    is_larger: bool = False,
) -> None:
    """Enter what a tape says of a board in stock: its outline, its thickness, or both.

    Keep-outs that lie off the new outline are taken off. A new outline has no openings; its lowest
    point lies as high as the board's did, wherever the tape counted from.

    Parameters
    ----------
    is_larger
        Whether somebody stands by it that the board is larger than the wood it came of.

    Raises
    ------
    BookError
        If another project holds the board, or it is larger and nobody stands by it.
    """
    with book.writing(project, TAPED, why) as writing:
        row = board_named(book, name)
        require_free(row, project)
        new = _taped(row, shape, thickness_mm)
        if not is_larger:
            require_no_larger(book, row, new)
        elif why_larger(book, row, new):
            writing.kind = TAPED_LARGER
        writing.put("board", new)
        before, after = amount("board", row), amount("board", new)
        writing.enter(after[0] - before[0], after[1] - before[1])
        larger = ", larger than what it came of" if writing.kind == TAPED_LARGER else ""
        writing.said = f"{name} taped anew{larger}"


def _taped(row: Row, shape: Polygon | None, thickness_mm: float | None) -> Row:
    """Return the row of a board as a tape has it."""
    board = board_in(row)
    if shape is None:
        wood = wood_of(row["body"]["wood"])
        thick = replace(board, thickness_mm=thickness_mm or board.thickness_mm)
        return {**row, "body": {**row["body"], "wood": board_data(thick, wood), "taped": True}}
    data = board_data(_within(board, shape, thickness_mm))
    return {**row, "body": taped_body(row["body"], data)}


def _within(board: Board, outline: Polygon, thickness_mm: float | None) -> Board:
    by_mm = board.shape.bounds[1] - outline.bounds[1]
    shape = shapely.affinity.translate(outline, 0.0, by_mm) if by_mm else outline
    off = off_board(board.keep_outs, shape)
    kept = tuple(k for number, k in enumerate(board.keep_outs) if number not in off)
    thick = thickness_mm or board.thickness_mm
    return replace(board, shape=shape, keep_outs=kept, thickness_mm=thick)


def discard(book: Book, project: str, names: Sequence[str], why: str = "") -> None:
    """Enter that boards are gone: burnt, given away, used elsewhere."""
    with book.writing(project, "gone", why) as writing:
        for name in names:
            row = board_named(book, name)
            require_free(row, project)
            writing.put("board", {**row, "state": GONE, "held_by": None})
            writing.lose(*amount("board", row))
        writing.said = f"gone: {_listed(names)}"


def check_off(book: Book, project: str, names: Sequence[str], why: str = "") -> None:
    """Enter that boards were gone over with the metal detector, or looked at anew."""
    with book.writing(project, "checked", why) as writing:
        for name in names:
            row = board_named(book, name)
            writing.put("board", {**row, "body": {**row["body"], "checked": writing.at}})
        writing.said = f"checked: {_listed(names)}"


def _listed(names: Sequence[str]) -> str:
    return first_few([short(name) for name in names], 5)
