"""A project's stock and parts list go into the book; what was said of a board before, anew."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely

from nesting.book.effects import Row
from nesting.book.fitting import told_misfits
from nesting.book.larger import whole_frame
from nesting.book.outlines import make_known, rings_of, wood_of
from nesting.book.pieces import sound_pieces
from nesting.book.renamed import at_stake, names_of, rename, require_new_name, told_new_name
from nesting.book.rows import (
    IN_STOCK,
    RECORDED,
    amount,
    board_in,
    board_row,
)
from nesting.book.store import Book, Writing
from nesting.book.wood import AT_BENCH, Data, as_json, board_data
from nesting.errors import BookError
from nesting.flat_geometry.overlay import shared
from nesting.job import Job
from nesting.need import Need
from nesting.outline import MarkKind
from nesting.stock.board import Board, off_board
from nesting.unseen import same_letters, short
from nesting.words import counted

ALIKE = 0.5
"""Two boards of one name that cover each other less than so are two boards."""


@dataclass
class Recorded:
    """What came of recording: names of boards that are new or changed, and what to look at.

    ``was`` is what the project was called before, empty where it has no new name.
    """

    new: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    is_list_new: bool = False
    was: str = ""

    @property
    def said(self) -> str:
        """In a line."""
        parts = [
            f"{self.was} is called so now" if self.was else "",
            f"recorded {counted(len(self.new), 'board')}" if self.new else "",
            f"{counted(len(self.changed), 'board')} taped anew: {', '.join(self.changed[:5])}"
            if self.changed else "",
            "the parts list" if self.is_list_new else "",
        ]  # fmt: skip
        return ", ".join(filter(None, parts)) or "nothing new"


def record(book: Book, job: Job, why: str = "", *, was: str = "") -> Recorded:
    """Enter a project's boards and parts list in one step.

    Parameters
    ----------
    was
        What the project was called before, if it has a new name: all that is its own goes with it.

    Raises
    ------
    BookError
        If a board of another project has the same name and is another board, or the project that
        this one is said to have been is not there.
    """
    found = Recorded()
    with book.writing(job.name, "recorded", why) as writing:
        found.was = was
        if was:
            rename(writing, was, job.name)
        found.notes += _record_project(writing, job)
        told = dict(book.asked("SELECT name, json_extract(body, '$.said') FROM board"))
        fresh, again = list[tuple[str, Data, str]](), list[Board]()
        for board in {board.name: board for board in job.stock}.values():
            data = board_data(board)
            said = _digest_of(data)
            if board.name not in told:
                fresh.append((board.name, data, said))
            elif told[board.name] != said:
                again.append(board)
        found.notes += _told_alike([name for name, _, _ in fresh], told)
        _record_new(writing, fresh, found)
        for board in again:
            _record_again(writing, board, found)
        wants = {need.part: want_body(need) for need in job.needs}
        found.is_list_new = _record_wants(writing, job.name, wants)
        found.notes += told_misfits(*sound_pieces(book, job.name, wants=wants), wants)
        writing.said = found.said
    return found


def _record_project(writing: Writing, job: Job) -> Sequence[str]:
    """Enter a project's own row and return what is to be said of its name."""
    rules, row = job.rules, writing.book.row("project", job.name)
    notes = list[str]()
    if row is None:
        require_new_name(writing.book, job.name)
        parts = [need.part for need in job.needs]
        notes += told_new_name(job.name, parts, at_stake(writing.book.rows))
    former = {} if row is None or "was" not in row["body"] else {"was": row["body"]["was"]}
    body = {
        "unit": job.unit.value, "kerf_mm": rules.kerf_mm, "trim_mm": rules.trim_mm,
        "blade_clearance_mm": rules.blade_clearance_mm, **former,
    }  # fmt: skip
    writing.put("project", {"name": job.name, "body": body})
    return notes


def digest(board: Board) -> str:
    """Return what stands for all that a stock file says of a board, in whatever version."""
    return _digest_of(board_data(board))


def _digest_of(data: Data) -> str:
    # Its name says which leaf it is, a note is no wood: books that kept neither know it again.
    said = {key: value for key, value in data.items() if key not in ("leaf", "note")}
    return hashlib.sha256(as_json(said).encode()).hexdigest()


def _told_alike(names: Sequence[str], told: Mapping[str, str]) -> Iterator[str]:
    """Yield a note on each new board that is another one's namesake but for capital letters.

    Raises
    ------
    BookError
        If two names have the same letters, written in two ways that nobody sees.
    """
    seen = {_folded(name): name for name in told}
    for name in names:
        other = seen.setdefault(_folded(name), name)
        if other == name:
            continue
        if same_letters(other) == same_letters(name):
            raise BookError(
                f"board {short(name)}: the book has a board of the same letters, written in "
                "another way (Unicode), which nobody sees: give it another name"
            )
        yield (
            f"boards {short(other)} and {short(name)} differ only in capital letters: they are "
            "two boards to the book, chalk them so that nobody takes one for the other"
        )


def _folded(name: str) -> str:
    return same_letters(name).casefold()


def _record_new(writing: Writing, fresh: Sequence[tuple[str, Data, str]], found: Recorded) -> None:
    """Enter boards that the book does not know."""
    make_known(data for _, data, _ in fresh)
    rows = [
        board_row(name, data, came=RECORDED, by=writing.project, said=said)
        for name, data, said in fresh
    ]
    writing.add("board", *rows)
    for row in rows:
        writing.enter(*amount("board", row))
    found.new += [row["name"] for row in rows]


def _record_again(writing: Writing, board: Board, found: Recorded) -> None:
    """Take what a stock file says anew of a board that is in the book."""
    row = writing.book.row("board", board.name)
    assert row is not None, "its name was read from the book"
    require_same(row, board, names_of(writing.book, writing.project))
    if (why := stands_against(row)) is not None:
        found.notes.append(
            f"board {board.name} was changed in the stock file, but {why}: the book goes on with "
            "what it holds; say there what is otherwise (salvage-nest book found, or taped)"
        )
        return
    new = retold(row, board)
    writing.put("board", new)
    before, after = amount("board", row), amount("board", new)
    writing.enter(after[0] - before[0], after[1] - before[1])
    found.changed.append(board.name)


def require_same(row: Row, board: Board, projects: Sequence[str]) -> None:
    """Refuse a board that has the name of another one, whatever became of that since.

    ``projects`` are the names that the project has and had: it may say its own boards anew.

    Raises
    ------
    BookError
        If its wood or its outline is another's, and another project recorded that.
    """
    body = row["body"]
    if body["by"] in projects:
        return
    if body["wood"]["species"] != board.species or not _is_alike(row, board):
        size = f"{board.length_mm:g} x {board.width_mm:g} mm"
        raise BookError(
            f"board {short(board.name)}, {board.species}, {size}, has the name of another one in "
            f"the book, which {body['by'] or 'somebody'} recorded ({body['wood']['species']}): "
            "give it another name"
        )


def _is_alike(row: Row, board: Board) -> bool:
    """Return whether a board covers one of the book well, or the box that it had while whole."""
    frame, mine = whole_frame(row), board.shape
    wood = wood_of(row["body"]["wood"])
    if frame is not None:
        wood, mine = shapely.box(*frame["box"]), shapely.box(*mine.bounds)
    return bool(shared(wood, mine).area >= ALIKE * max(wood.area, mine.area))


def stands_against(row: Row) -> str | None:
    """Return why a stock file has no say any more in what a board is, or None."""
    if row["state"] != IN_STOCK:
        return f"it is {row['state']}"
    if row["body"]["frames"]:
        return "it was cut from"
    if row["body"]["taped"]:
        return "it was taped at the bench"
    return None


def retold(row: Row, board: Board) -> Row:
    """Return the row of a board by what a stock file says now, with what was found at the bench."""
    found = [k for k in board_in(row).keep_outs if k.source == AT_BENCH]
    off = off_board(found, board.shape)
    kept = [
        keep_out
        for number, keep_out in enumerate(found)
        if number not in off and keep_out not in board.keep_outs
    ]
    whole = replace(board, keep_outs=(*board.keep_outs, *kept))
    body = {**row["body"], "wood": board_data(whole), "said": digest(board)}
    return {**row, "body": body}


def _record_wants(writing: Writing, project: str, wants: Mapping[str, Row]) -> bool:
    """Enter the parts list, a body by its part; what is on it no more is taken off."""
    count = len(writing.effects)
    before = {row["part"]: row for row in writing.book.rows("want", "project = ?", project)}
    for part in before:
        if part not in wants:
            writing.take("want", project, part)
    rows = [{"project": project, "part": part, "body": body} for part, body in wants.items()]
    writing.add("want", *(row for row in rows if row["part"] not in before))
    for row in rows:
        if before.get(row["part"], row) != row:
            writing.put("want", row)
    return len(writing.effects) > count


def want_body(need: Need) -> Row:
    """Return what the book keeps of a line of the parts list."""
    count = need.in_all or need.quantity
    return {
        "quantity": count,
        "family": need.family,
        "area_mm2": need.outline.area_mm2,
        "outline": rings_of(need.outline.shape),
        "siding_mm": need.outline.siding_mm,
        "species": list(need.species),
        "bolts": [
            mark.diameter_mm
            for mark in need.outline.marks
            if mark.kind is MarkKind.BOLT and mark.diameter_mm is not None
        ],
        "labels": [need.called(number) for number in range(1, count + 1)],
    }
