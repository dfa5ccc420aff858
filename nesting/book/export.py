"""A book as plain files, and a book made of them again.

``steps.csv`` is the whole of it: what happened, line by line. ``boards.yaml`` is a stock file of
what is in stock, ``pieces.csv`` and ``parts.csv`` are for reading.
"""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from nesting.book.effects import Effect, Step, effects_of, write_effects, write_step
from nesting.book.integrity import Made, require_sound
from nesting.book.opening import opened
from nesting.book.outlines import make_known
from nesting.book.pieces import sawn_of
from nesting.book.rows import IN_STOCK, board_in
from nesting.book.schema import LEDGER
from nesting.book.steps import Pile, outlines
from nesting.book.store import Book
from nesting.book.wood import check_texts
from nesting.errors import BookError, OutputError
from nesting.folders.passing import passing_for
from nesting.folders.whole_folder import replaced_whole, require_free
from nesting.plain_file import plain_bytes
from nesting.project.written_stock import boards_text
from nesting.spreadsheet import guarded, unguarded

STEPS, BOARDS, PIECES, PARTS = "steps.csv", "boards.yaml", "pieces.csv", "parts.csv"
FILES = (STEPS, BOARDS, PIECES, PARTS)

HEAD = ("step", "when", "project", "kind", "said", "why", "takes_back", *LEDGER, "effects")

LARGEST_MB = 500
"""A file of steps is read up to this size."""


def export(book: Book, folder: Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write a book as plain files into a folder and return them.

    Raises
    ------
    OutputError
        If one is there already and may not be replaced.
    """
    require_free([folder / name for name in FILES], overwrite=overwrite)
    made = {
        STEPS: _csv([HEAD, *_step_rows(book)]),
        BOARDS: stock_file(book).encode(),
        PIECES: _csv(_piece_rows(book)),
        PARTS: _csv(_part_rows(book)),
    }
    with replaced_whole(folder) as fresh:
        for name, content in made.items():
            (fresh / name).write_bytes(content)
    return tuple(folder / name for name in FILES)


def _csv(rows: Iterator[Sequence[object]] | list[Sequence[object]]) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    return stream.getvalue().encode()


def _step_rows(book: Book) -> Iterator[Sequence[object]]:
    """Yield the steps, what each did as the book has it."""
    texts = book.asked("SELECT effects FROM step ORDER BY number")
    for step, (effects,) in zip(book.steps(effects=False), texts, strict=True):
        yield _step_row(step, effects)


def _step_row(step: Step, effects: str) -> Sequence[object]:
    undoes = "" if step.undoes is None else step.undoes
    figures = [repr(figure) for figure in step.ledger]
    return (
        step.number, step.at, step.project, step.kind, step.said, step.why, undoes, *figures,
        effects,
    )  # fmt: skip


def _piece_rows(book: Book) -> Iterator[Sequence[object]]:
    yield ("no.", "project", "piece", "part", "copy", "state", "from board", "sawn as", "siding_mm")
    yield from book.asked(
        "SELECT number, project, json_extract(body, '$.label'), part, copy, state, board, "
        "json_extract(body, '$.sawn_as'), json_extract(body, '$.siding_mm') "
        "FROM piece ORDER BY number"
    )


def _part_rows(book: Book) -> Iterator[Sequence[object]]:
    yield ("project", "part", "family", "wanted", "sawn")
    sawn = {name: sawn_of(book, name) for (name,) in book.asked("SELECT name FROM project")}
    for project, part, family, quantity in book.asked(
        "SELECT project, part, json_extract(body, '$.family'), json_extract(body, '$.quantity') "
        "FROM want ORDER BY project, part"
    ):
        yield (project, part, family, quantity, len(sawn[project][part]))


def stock_file(book: Book) -> str:
    """Return what is in stock as a stock file in mm, which a project can name."""
    rows = book.rows("board", f"state = '{IN_STOCK}'")
    make_known(row["body"]["wood"] for row in rows)
    return boards_text([board_in(row) for row in rows])


def rebuild(folder: Path, path: Path) -> int:
    """Make a book of exported files and return how many steps it has.

    The book comes into its place whole, after it was found sound.

    Raises
    ------
    OutputError
        If the book is there already.
    BookError
        If the files are no book; says where.
    """
    if path.exists():
        raise OutputError(f"{path} is there already: give the book another name, or put it away")
    passing = passing_for(path)
    files = [Path(f"{passing}{ending}") for ending in ("", "-wal", "-shm", "-journal")]
    try:
        with opened(passing, create=True) as book:
            # Nobody knows the file before it is whole: it is written once, and synced once.
            for pragma in ("journal_mode = DELETE", "synchronous = OFF"):
                book.asked(f"PRAGMA {pragma}")
            made = _refill(book, folder / STEPS)
            require_sound(book, made)
        with passing.open("rb") as stream:
            os.fsync(stream.fileno())
        # A link refuses what came there meanwhile; a move would take its place.
        os.link(passing, path)
    except FileExistsError:
        raise OutputError(f"{path} is there already: give the book another name") from None
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise OutputError(f"{path} cannot be written ({error.strerror or error})") from error
    finally:
        for file in files:
            file.unlink(missing_ok=True)
    return len(made[0])


def _refill(book: Book, file: Path) -> Made:
    """Write the steps of a file into an empty book and return them, and what they make."""
    connection, pile = book.connection, Pile()
    read = list(_steps_in(file))
    steps = [step for _, step, _ in read]
    make_known(outlines(steps))
    connection.execute("BEGIN IMMEDIATE")
    for count, (line, step, effects) in enumerate(read, start=1):
        if step.number != count:
            raise BookError(f"{file}:{line}: step {step.number} comes where {count} must")
        try:
            for effect in step.effects:
                pile.apply(effect)
            write_step(connection, step, effects)
        except _WRONG as error:
            raise BookError(f"{file}:{line}: step {step.number}: {error}") from error
    try:
        # What a row was in between stands in the steps alone.
        for table, rows in pile.tables.items():
            write_effects(connection, [Effect(table, None, row) for row in rows.values()])
        connection.execute("COMMIT")
    except _WRONG as error:
        raise BookError(f"{file}: the steps do not hang together: {error}") from error
    return steps, pile


_WRONG = (BookError, KeyError, TypeError, ValueError, OverflowError, Book.errors)
"""What comes of steps that somebody changed."""


def _steps_in(file: Path) -> Iterator[tuple[int, Step, str]]:
    """Yield the steps of a file, each with its line and the text of what it did."""
    try:
        content = plain_bytes(file, LARGEST_MB * 1_000_000)
        stream = io.StringIO(content.decode("utf-8-sig"), newline="")
    except OSError as error:
        raise BookError(f"{file} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise BookError(f"{file} is not UTF-8: {error}") from error
    csv.field_size_limit(LARGEST_MB * 1_000_000)
    rows = csv.reader(stream, strict=True)
    try:
        head = tuple(next(rows, ()))
        if head != HEAD:
            raise BookError(f"{file}:1: the first row must be {', '.join(HEAD)}")
        for row in rows:
            yield rows.line_num, *_step(row)
    except (csv.Error, ValueError, TypeError, KeyError, RecursionError) as error:
        if isinstance(error, BookError):
            raise
        raise BookError(f"{file}:{rows.line_num}: {error}") from error


def _step(row: Sequence[str]) -> tuple[Step, str]:
    if len(row) != len(HEAD):
        raise ValueError(f"{len(row)} cells, must be {len(HEAD)}")
    number, at, project, kind, said, why, undoes, *figures, effects = map(unguarded, row)
    check_texts(at, project, kind, said, why)
    ledger = tuple(float(figure) for figure in figures)
    if not all(map(math.isfinite, ledger)):
        raise ValueError("a figure is none")
    back = int(undoes) if undoes else None
    did = effects_of(effects)
    return Step(int(number), at, project, kind, said, why, back, did, ledger), effects
