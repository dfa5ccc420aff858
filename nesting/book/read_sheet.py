"""A cut sheet read back as stock: its board as it is drawn now, keep-outs added in CAD too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon

from nesting.book.added_in_cad import SAME_MM, added_in_cad
from nesting.book.as_drawn import require_as_drawn
from nesting.book.effects import Row
from nesting.book.larger import require_no_larger, taped_body
from nesting.book.outlines import wood_of
from nesting.book.rows import READ, amount, board_in, board_named, board_row, require_free
from nesting.book.sheet_place import frame_of, is_same_outline
from nesting.book.store import Book, Writing
from nesting.book.wood import AT_BENCH, board_data, moved_board
from nesting.errors import BookError
from nesting.flat_geometry.overlay import shared, without
from nesting.project.setting import Woods
from nesting.sheets.read_back import SheetRecord, read_back
from nesting.stock.board import Board, off_board
from nesting.stock.keep_out import KeepOut
from nesting.words import counted

ALIKE = 0.5
"""A sheet's board and the book's that share less of their wood are two boards."""


def read_sheet(
    book: Book, project: str, path: Path, species: str | None = None, why: str = ""
) -> str:
    """Enter a sheet's board as it is drawn and return what that came to, in words.

    What was found at the bench stays, whether the sheet has it or not.

    Raises
    ------
    DrawingError
        If it is no cut sheet of ours.
    BookError
        If the book does not know the board and no species is given, or it is another's.
    """
    record = read_back(path)
    require_as_drawn(record, path)
    drawn = _checked(record, path)
    with book.writing(project, "read", why) as writing:
        row = book.row("board", record.board_name)
        said = (
            _new(writing, record, drawn, species)
            if row is None
            else _changed(writing, project, record, drawn)
        )
        writing.said = said
    return said


def require_known(book: Book, path: Path) -> None:
    """Refuse to cut by a sheet on which somebody drew, or moved, what the book does not have there.

    Raises
    ------
    DrawingError
        If it is no cut sheet of ours.
    BookError
        If there is such a one; names the first.
    """
    record = read_back(path)
    require_as_drawn(record, path)
    row = book.row("board", record.board_name)
    known = board_in(row).keep_outs if row is not None else ()
    # One that was cut from since has its keep-outs elsewhere, in a frame of its own.
    is_as_drawn = row is not None and _is_like(record.outline, board_in(row).shape)
    for keep_out in (*(record.keep_outs if is_as_drawn else ()), *added_in_cad(record, path)):
        if not any(_is_one(keep_out, one) for one in known):
            x, y, _ = keep_out.bounding_circle
            raise BookError(
                f"{path} has {keep_out.kind} at ({x:g}, {y:g}) mm, which the book does not know: "
                "read the sheet first (salvage-nest book read), then cut what is clear or nest anew"
            )


def _checked(record: SheetRecord, path: Path) -> tuple[KeepOut, ...]:
    """Return all keep-outs of a sheet, refusing what lies off its board."""
    if not record.outline.is_valid or record.outline.area <= 0:
        raise BookError(f"{path}: the board's edge crosses itself; mend it in CAD")
    keep_outs = (*record.keep_outs, *added_in_cad(record, path))
    for message in off_board(keep_outs, record.outline).values():
        raise BookError(f"{path}: {message}")
    return keep_outs


def _new(
    writing: Writing, record: SheetRecord, drawn: Sequence[KeepOut], species: str | None
) -> str:
    told = dict(record.told)
    said = told.pop("species", None)
    if species is None and said is None:
        raise BookError(
            f"the book knows no board {record.board_name}, and its sheet does not say what wood it "
            "is: give --species"
        )
    wood = said if species is None else Woods().named(species)
    if wood is None:
        raise BookError(Woods().unknown(str(species)))
    board = Board(
        record.board_name, record.outline, record.thickness_mm, wood, keep_outs=tuple(drawn), **told
    )
    # A drawing that was moved: a board's own frame begins at its lower left corner.
    low_x, low_y = board.shape.bounds[:2]
    board = moved_board(board, -low_x, -low_y)
    row = board_row(board.name, board_data(board), came=READ, by=writing.project)
    writing.put("board", row)
    writing.enter(*amount("board", row))
    return f"{board.name}: new from a sheet, {counted(len(drawn), 'keep-out')}"


def _changed(writing: Writing, project: str, record: SheetRecord, drawn: Sequence[KeepOut]) -> str:
    row = board_named(writing.book, record.board_name)
    require_free(row, project)
    old = board_in(row)
    record, drawn, moved_said = _moved_back(old, record, drawn)
    _require_now(row, record)
    wood = wood_of(row["body"]["wood"])
    outline = Polygon(record.outline.exterior)
    is_new_outline = not _is_like(outline, Polygon(wood.exterior))
    shape = _with_openings(outline, wood) if is_new_outline else wood
    keep_outs, more, gone = _matched(old, drawn, shape)
    board = replace(
        old, shape=Polygon(shape.exterior), keep_outs=keep_outs, thickness_mm=record.thickness_mm
    )
    data = board_data(board, shape)
    body = taped_body(row["body"], data) if is_new_outline else {**row["body"], "wood": data}
    new = {**row, "body": body}
    before, after = amount("board", row), amount("board", new)
    if is_new_outline:
        require_no_larger(writing.book, row, new)
    if new != row:
        writing.put("board", new)
    writing.enter(after[0] - before[0], after[1] - before[1])
    outline_said = "another outline, " if is_new_outline else ""
    return f"{old.name}: {outline_said}{counted(more, 'keep-out')} more, {_gone(gone)}{moved_said}"


def _moved_back(
    old: Board, record: SheetRecord, drawn: Sequence[KeepOut]
) -> tuple[SheetRecord, Sequence[KeepOut], str]:
    """Return a sheet that was moved as a whole where the book has its board, and what to say.

    Raises
    ------
    BookError
        If its edge alone was moved, so that nobody knows where the rest lies on the board.
    """
    outline = Polygon(record.outline.exterior)
    (x, y, *_), (old_x, old_y, *_) = outline.bounds, old.shape.bounds
    back = (old_x - x, old_y - y)
    if _is_like(outline, old.shape) or not _is_like(translate(outline, *back), old.shape):
        return record, drawn, ""
    moved = [keep_out.moved(*back) for keep_out in record.keep_outs]
    is_whole = all(any(_is_one(one, known) for known in old.keep_outs) for one in moved)
    by = f"({-back[0]:g}, {-back[1]:g}) mm"
    if not is_whole or (drawn and not moved):
        raise BookError(
            f"on the sheet the edge of {old.name} was moved by {by}, and what lies on it was not, "
            "or nothing tells: move it back"
        )
    record = replace(record, outline=translate(record.outline, *back))
    return record, [one.moved(*back) for one in drawn], f"; the drawing was moved by {by}"


def _gone(keep_outs: Sequence[KeepOut]) -> str:
    places = [
        f"{k.kind} at ({k.bounding_circle[0]:g}, {k.bounding_circle[1]:g}) mm" for k in keep_outs
    ]
    return f"{len(places)} gone" + (f": {', '.join(places[:5])}" if places else "")


def _require_now(row: Row, record: SheetRecord) -> None:
    """Refuse a sheet of the board as it was before something was cut from it."""
    body = row["body"]
    if not is_same_outline(record.outline, frame_of(body)) and any(
        is_same_outline(record.outline, frame) for frame in body["frames"]
    ):
        raise BookError(
            f"the sheet of {row['name']} is stale: the board was cut from since it was drawn"
        )
    wood = Polygon(wood_of(body["wood"]).exterior)
    if shared(wood, record.outline).area < ALIKE * max(wood.area, record.outline.area):
        raise BookError(f"the board on the sheet is not like {row['name']} in the book")


def _is_like(first: Polygon, second: Polygon) -> bool:
    return bool(shapely.hausdorff_distance(first.exterior, second.exterior) <= SAME_MM)


def _with_openings(outline: Polygon, wood: Polygon) -> Polygon:
    """Return an outline with the openings that the wood has."""
    openings = [Polygon(ring) for ring in wood.interiors]
    if not openings:
        return outline
    rest = without(outline, shapely.union_all(openings))
    if not isinstance(rest, Polygon):
        raise BookError("the outline on the sheet runs through where pieces were sawn out")
    return rest


def _matched(
    old: Board, drawn: Sequence[KeepOut], wood: Polygon
) -> tuple[tuple[KeepOut, ...], int, list[KeepOut]]:
    """Return keep-outs as they are now, how many are new, and which of before are gone.

    One that the sheet has as the book has it stays as it was, its notes and all.
    """
    kept, left = list[KeepOut](), list(drawn)
    gone = list[KeepOut]()
    for keep_out in old.keep_outs:
        match = next((one for one in left if _is_one(one, keep_out)), None)
        if match is not None:
            left.remove(match)
        if keep_out.is_opening:
            continue
        if match is not None or keep_out.source == AT_BENCH:
            kept.append(keep_out)
        else:
            gone.append(keep_out)
    off = off_board(kept, Polygon(wood.exterior))
    gone += [kept[number] for number in off]
    kept = [keep_out for number, keep_out in enumerate(kept) if number not in off]
    return (*kept, *left), len(left), gone


def _is_one(first: KeepOut, second: KeepOut) -> bool:
    pairs = zip(first.bounding_circle, second.bounding_circle, strict=True)
    return first.kind is second.kind and all(abs(a - b) < SAME_MM for a, b in pairs)
