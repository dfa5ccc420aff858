"""Pieces that were sawn, as the trade sees them, and which of a parts list they are."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

from nesting.book.effects import Row
from nesting.book.fitting import misfits
from nesting.book.rows import SOUND, near
from nesting.book.store import Book, Writing
from nesting.errors import BookError
from nesting.piece_names import said
from nesting.unseen import short


def piece_row(number: int, project: str, part: str, copy: int, board: str, body: Row) -> Row:
    """Return the row of a piece that was sawn."""
    return {
        "number": number, "project": project, "part": part, "copy": copy, "state": SOUND,
        "board": board, "body": body,
    }  # fmt: skip


def next_number(writing: Writing) -> int:
    """Return the number of the next piece."""
    return int(writing.book.asked("SELECT coalesce(max(number), 0) + 1 FROM piece")[0][0])


def piece_named(book: Book, project: str, label: str) -> Row:
    """Return the sound piece of a project by its label.

    Raises
    ------
    BookError
        If none of that name was sawn.
    """
    rows = book.rows("piece", "project = ? AND state = 'sound'", project)
    label = said(label, {name for row in rows for name in (row["body"]["label"], row["part"])})
    found = [row for row in rows if row["body"]["label"] == label]
    found = found or [row for row in rows if row["part"] == label]
    if len(found) == 1:
        return found[0]
    labels = [row["body"]["label"] for row in rows]
    if found:
        names = "; ".join(row["body"]["label"] for row in found)
        raise BookError(f"{short(label)} may be one of these: {names}; name one")
    raise BookError(f"no piece {short(label)} of {project} was sawn{near(label, labels)}")


def wanted(book: Book, project: str, part: str) -> Row:
    """Return what a project wants of a part.

    Raises
    ------
    BookError
        If it has no such part.
    """
    row = book.row("want", project, part)
    if row is None:
        raise BookError(
            f"the book knows no part {short(part)} of the project {short(project)}: enter its "
            "parts list first (salvage-nest book record)"
        )
    return row


def sound_pieces(
    book: Book,
    project: str,
    parts: Iterable[str] | None = None,
    *,
    wants: Mapping[str, Row] | None = None,
) -> tuple[list[Row], dict[int, str]]:
    """Return the sound pieces of a project, or of some parts, and why some do not count.

    The reasons go by the numbers of the pieces. ``wants`` is the parts list, where it was read.
    """
    chosen = None if parts is None else sorted(set(parts))
    some = "" if chosen is None else " AND part IN (SELECT value FROM json_each(?))"
    given = (project,) if chosen is None else (project, json.dumps(chosen))
    pieces = book.rows("piece", "project = ? AND state = 'sound'" + some, *given)
    if wants is None:
        lines = book.rows("want", "project = ?" + some, *given)
        wants = {row["part"]: row["body"] for row in lines}
    return pieces, misfits(pieces, wants, _woods(book, pieces))


def boards_of_sawn(book: Book, project: str) -> dict[str, str]:
    """Return the board that gave each piece of a project that is sawn and counts, by its label."""
    pieces, odd = sound_pieces(book, project)
    return {row["body"]["label"]: row["board"] for row in pieces if row["number"] not in odd}


def _woods(book: Book, pieces: Sequence[Row]) -> dict[str, str]:
    """Return of what wood each board is that gave one of the pieces."""
    names = json.dumps(sorted({row["board"] for row in pieces}))
    return dict(
        book.asked(
            "SELECT name, species FROM board WHERE name IN (SELECT value FROM json_each(?))", names
        )
    )


def why_odd(book: Book, row: Row) -> str:
    """Return why a piece does not count, empty if it does."""
    wants = {want["part"]: want["body"] for want in [wanted(book, row["project"], row["part"])]}
    return misfits([row], wants, _woods(book, [row])).get(row["number"], "")


def sawn_of(book: Book, project: str, parts: Iterable[str] | None = None) -> dict[str, set[int]]:
    """Return which copies of each part were sawn and count."""
    pieces, odd = sound_pieces(book, project, parts)
    return copies_of(row for row in pieces if row["number"] not in odd)


def copies_of(pieces: Iterable[Row]) -> dict[str, set[int]]:
    """Return the copies of each part among pieces."""
    found = defaultdict[str, set[int]](set)
    for row in pieces:
        found[row["part"]].add(row["copy"])
    return found


def other_piece(
    book: Book, project: str, label: str, *, beside: Collection[str] = ()
) -> tuple[str, int, Row]:
    """Return part, number and line of the parts list of a piece that is wanted and not sawn yet.

    Of a part by its name alone it is the first that is not among those sawn ``beside`` it.

    Raises
    ------
    BookError
        If there is none of that label.
    """
    lines = book.rows("want", "project = ?", project)
    label = said(label, {name for row in lines for name in (row["part"], *row["body"]["labels"])})
    wants = [row for row in lines if row["part"] == label or label in row["body"]["labels"]]
    sawn = sawn_of(book, project, [row["part"] for row in wants])
    for row in wants:
        part, body = row["part"], row["body"]
        for copy, name in enumerate(body["labels"], start=1):
            is_next = part == label and copy not in sawn[part] and name not in beside
            if name == label or is_next:
                if copy in sawn[part]:
                    raise BookError(f"{label} was sawn before: a piece is there once")
                return part, copy, body
    raise BookError(f"{project} wants no piece {label}, or has all of it")


def make_way(writing: Writing, project: str, part: str, copy: int, *, but: int = 0) -> None:
    """Give the piece that has a name and does not count another one: the next one has it now.

    ``but`` is the number of a piece that keeps it.
    """
    rows = writing.book.rows("piece", "project = ? AND part = ? AND state = 'sound'", project, part)
    free = 1 + max((row["copy"] for row in rows), default=0)
    for row in rows:
        if row["copy"] == copy and row["number"] != but:
            body = row["body"]
            label = f"{body['label']} (piece {row['number']})"
            body = {**body, "label": label, "serves": body.get("serves")}
            writing.put("piece", {**row, "copy": max(free, copy + 1), "body": body})
