"""Wood that a tape makes larger than it can be: refused unless somebody says that it is so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.book.effects import Row
from nesting.book.outlines import wood_of
from nesting.book.rows import amount
from nesting.book.store import Book
from nesting.book.wood import Data
from nesting.errors import BookError

RECORDED_SHARE = 0.1
"""By so much a tape may find a board larger than it was recorded (common practice, no source)."""

CUT_SHARE = 0.01
"""By so much one of what was cut may be larger than what it came of: two tapes differ."""

Size = dict[str, float]
"""Length, width and thickness, mm, by their names."""


def taped_body(body: Row, wood: Data) -> Row:
    """Return what the book keeps of a board once a tape gave it another outline.

    No sheet of before finds its place on it any more; what it was while whole is kept.
    """
    cut = [body["whole"]] if "whole" in body else body["frames"][:1]
    whole = {"whole": cut[0]} if cut else {}
    return {**body, "wood": wood, "taped": True, "frames": [], **whole}


def whole_frame(row: Row) -> Row | None:
    """Return box and area of a board before anything was cut of it, None if nothing was."""
    body = row["body"]
    frames: list[Row] = [*([body["whole"]] if "whole" in body else []), *body["frames"]]
    return frames[0] if frames else None


def is_whole(row: Row) -> bool:
    """Return whether nothing was cut of a board, nor it of another."""
    return row["parent"] is None and whole_frame(row) is None


def _sizes(row: Row, box: Sequence[float]) -> Size:
    low_x, low_y, high_x, high_y = box
    thick = row["body"]["wood"]["thickness_mm"]
    return {"long": high_x - low_x, "wide": high_y - low_y, "thick": thick}


def why_larger(book: Book, before: Row, after: Row) -> str:
    """Return in what a board is larger than the wood it came of, empty if it is not."""
    return next(_larger(book, before, after), "")


def require_no_larger(book: Book, before: Row, after: Row) -> None:
    """Refuse a board that is larger than the wood it came of.

    Raises
    ------
    BookError
        Says in what, and what it may be.
    """
    if why := why_larger(book, before, after):
        raise BookError(
            f"{after['name']}: {why}; if the tape is right, say so (salvage-nest book taped, "
            "with --larger)"
        )


def _larger(book: Book, before: Row, after: Row) -> Iterator[str]:
    """Yield in what a board is larger than it may be."""
    now = _sizes(after, wood_of(after["body"]["wood"]).bounds)
    source, share = _source(book, before), CUT_SHARE
    said = f"{source['name']}, which it was cut from, is"
    if is_whole(before):
        share, said = RECORDED_SHARE, "the book has it"
    whole = whole_frame(source)
    box = whole["box"] if whole else wood_of(source["body"]["wood"]).bounds
    for word, most in _sizes(source, box).items():
        if now[word] > most * (1.0 + share):
            yield f"it would be {now[word]:g} mm {word}, {said} {most:g} mm {word}"
    if not is_whole(before):
        area, room = amount("board", after)[0], _room(book, before)
        if area > room * (1.0 + CUT_SHARE):
            yield (
                f"it would have {area:.0f} mm2, and of {before['body']['root']} only "
                f"{room:.0f} mm2 are in no piece and no other board"
            )


def _source(book: Book, row: Row) -> Row:
    """Return the board that one was cut from; itself where it came of none."""
    return row if row["parent"] is None else book.row("board", row["parent"]) or row


def _room(book: Book, row: Row) -> float:
    """Return how much of a root's wood, mm2, is neither in pieces nor in other boards."""
    root = book.row("board", row["body"]["root"])
    assert root is not None, "boards are never taken out of a book"
    frame = whole_frame(root)
    whole = frame["area_mm2"] if frame else wood_of(root["body"]["wood"]).area
    of_root = "json_extract(body, '$.root') = ?"
    ((others,),) = book.asked(
        f"SELECT total(area_mm2) FROM board WHERE state = 'in stock' AND name <> ? AND {of_root}",
        row["name"], root["name"],
    )  # fmt: skip
    ((pieces,),) = book.asked(
        "SELECT total(area_mm2) FROM piece WHERE state = 'sound' AND board IN "
        f"(SELECT name FROM board WHERE {of_root})", root["name"],
    )  # fmt: skip
    return float(whole - others - pieces)
