"""A cut sheet as the saw followed it: read from the written file, or from one changed in CAD."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from shapely.geometry import Polygon

from nesting.book.as_drawn import require_as_drawn
from nesting.book.pieces import wanted
from nesting.book.renamed import called_now
from nesting.book.rows import near
from nesting.book.store import Book
from nesting.errors import BookError
from nesting.piece_names import said
from nesting.sheets.read_back import SheetRecord, read_back
from nesting.stock.keep_out import KeepOut
from nesting.summary.fields import rows, text
from nesting.summary.file import read_summary
from nesting.unseen import short


@dataclass(frozen=True)
class Drawn:
    """One piece on a sheet: which of its part it is, and its cut line in the sheet's frame."""

    label: str
    part: str
    number: int
    siding_mm: float
    polygon: Polygon


@dataclass(frozen=True)
class Sheet:
    """What a cut sheet says, in the frame that its board had when it was drawn."""

    board: str
    project: str
    outline: Polygon
    thickness_mm: float
    keep_outs: tuple[KeepOut, ...]
    pieces: tuple[Drawn, ...]
    offcuts: tuple[Polygon, ...]

    def pieces_named(self, labels: Sequence[str]) -> tuple[Drawn, ...]:
        """Return pieces by their labels, or by their part where only one of it is there.

        Raises
        ------
        BookError
            If one is not on the sheet.
        """
        found: list[Drawn] = []
        known = {name for piece in self.pieces for name in (piece.label, piece.part)}
        for label in (said(label, known) for label in labels):
            exact = [piece for piece in self.pieces if piece.label == label]
            meant = exact or [piece for piece in self.pieces if piece.part == label]
            if len(meant) != 1:
                names = [piece.label for piece in self.pieces]
                on = f"on the sheet of {self.board} there are {', '.join(names)}"
                raise BookError(f"no piece {short(label)}: {on}{near(label, names)}")
            if meant[0] not in found:
                found.append(meant[0])
        return tuple(found)


def planned_sheet(book: Book, folder: Path, board: str) -> Sheet:
    """Return the sheet of a board in the folder of a written plan.

    Raises
    ------
    BookError
        If the plan has no such board.
    """
    content = read_summary(folder)
    try:
        project = called_now(book, text(content, "project"))
        files = {text(row, "board"): text(row, "file") for row in rows(content, "boards")}
    except (KeyError, TypeError, ValueError) as error:
        raise BookError(f"the summary in {folder} cannot be read: {error}") from error
    if board not in files:
        older = next((name for name in _came_of(book, board) if name in files), "")
        hint = f": name {older}, which it came of and whose sheet that is" if older else ""
        raise BookError(
            f"the plan in {folder} saws nothing from board {short(board)}"
            f"{hint or near(board, list(files))}"
        )
    name = files[board]
    if Path(name).name != name:
        raise BookError(f"the summary in {folder} names the sheet {short(name)}, no file of it")
    return sheet_in(book, folder / name, project)


def _came_of(book: Book, board: str) -> Iterator[str]:
    """Yield the board that one came of, the one that that came of, and so on."""
    row = book.row("board", board)
    while row is not None and row["parent"] is not None:
        yield row["parent"]
        row = book.row("board", row["parent"])


def sheet_in(book: Book, path: Path, project: str) -> Sheet:
    """Return what a sheet's file says for a project.

    Raises
    ------
    DrawingError
        If it is no cut sheet of ours.
    BookError
        If it has a piece that the project does not want.
    """
    record = read_back(path)
    require_as_drawn(record, path)
    return Sheet(
        record.board_name, project, record.outline, record.thickness_mm, record.keep_outs,
        tuple(_pieces(book, record, project)), record.offcuts,
    )  # fmt: skip


def _pieces(book: Book, record: SheetRecord, project: str) -> list[Drawn]:
    found, labels = [], dict[str, list[str]]()
    sidings = dict[str, float]()
    for cut in record.cuts:
        if cut.part not in labels:
            body = wanted(book, project, cut.part)["body"]
            labels[cut.part], sidings[cut.part] = body["labels"], body["siding_mm"]
        if cut.label not in labels[cut.part]:
            raise BookError(
                f"the sheet of {record.board_name} has a piece {short(cut.label)}, which the parts "
                "list in the book does not have: enter it anew (salvage-nest book record), or nest "
                "again"
            )
        if not cut.polygon.is_valid:
            raise BookError(f"the cut line of {cut.label} crosses itself on the sheet")
        number = labels[cut.part].index(cut.label) + 1
        found.append(Drawn(cut.label, cut.part, number, sidings[cut.part], cut.polygon))
    return found
