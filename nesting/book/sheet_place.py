"""Where a sheet lies: of which board it is, and in which of the frames that board has or had."""

from __future__ import annotations

from shapely.geometry import Polygon

from nesting.book.effects import Row
from nesting.book.outlines import wood_of
from nesting.book.sheet import Sheet
from nesting.book.store import Book
from nesting.errors import BookError

SAME_MM = 0.05
"""Two outlines of which no corner of their boxes is farther apart are of one board: sheets are
drawn to 0.01 mm."""


def sheet_place(book: Book, sheet: Sheet) -> tuple[str, tuple[float, float]]:
    """Return the root of a sheet's board, and where in its frame the sheet's own lies.

    Raises
    ------
    BookError
        If the book does not know the board, or never as it is on the sheet.
    """
    row = book.row("board", sheet.board)
    if row is None:
        raise BookError(
            f"the book knows no board {sheet.board}: enter the stock first (salvage-nest book "
            "record)"
        )
    body = row["body"]
    for frame in (frame_of(body), *reversed(body["frames"])):
        if is_same_outline(sheet.outline, frame):
            return body["root"], (frame["at"][0], frame["at"][1])
    raise BookError(
        f"the sheet of {sheet.board} is stale: the board on it is not as the book has it or ever "
        "had; nest again, and cut from the new sheet"
    )


def frame_of(body: Row) -> Row:
    """Return where a board's own frame lies, and what tells its outline from those it had."""
    wood = wood_of(body["wood"])
    return {"at": body["at"], "box": list(wood.bounds), "area_mm2": wood.area}


def is_same_outline(outline: Polygon, frame: Row) -> bool:
    """Return whether an outline on a sheet is that of a board in a frame that it has or had."""
    pairs = zip(outline.bounds, frame["box"], strict=True)
    if any(abs(drawn - known) > SAME_MM for drawn, known in pairs):
        return False
    # The outline on a sheet has no openings: what was sawn out of the middle is a groove there.
    return bool(outline.area >= frame["area_mm2"] - SAME_MM * outline.length)
