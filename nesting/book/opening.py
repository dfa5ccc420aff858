"""A book as a file: opened with care, written one step at a time, all of a step or nothing.

What a power cut leaves is the last step that was finished: the log is synced at every commit
(SQLite documentation, "Write-Ahead Logging" and PRAGMA synchronous, FULL; from memory).
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from nesting.book.schema import (
    APPLICATION_ID,
    MIGRATIONS,
    VERSION,
    expected_layout,
    layout_of,
    statements,
)
from nesting.book.sqlite_told import PATIENCE_SECONDS, told_plainly
from nesting.book.store import Book, now
from nesting.book.wood import figures_of_text
from nesting.errors import BookError, OutputError
from nesting.folders.passing import passing_for
from nesting.plain_file import plain_start

LARGEST_TEXT = 200_000_000
"""No entry of a book is longer: the step that records 10,000 boards has some 30 MB."""

MAGIC = b"SQLite format 3\x00"
"""How every SQLite file begins (SQLite documentation, "Database File Format")."""


@contextmanager
def opened(path: Path, *, create: bool = False, clock: Callable[[], str] = now) -> Iterator[Book]:
    """Open a book, an older one brought up to this form, and close it again.

    Parameters
    ----------
    create
        Whether one is begun where there is none.

    Raises
    ------
    BookError
        If it is no book, of a newer form, damaged, or holds what a book does not.
    InUseError
        If another command goes on writing.
    """
    is_new = not path.exists()
    if is_new and not create:
        raise BookError(
            f"{path} is not there: begin a book by entering the boards (salvage-nest book record)"
        )
    if not is_new:
        _require_magic(path)
    book = _ready(path, clock, is_new=is_new)
    try:
        yield book
    finally:
        book.close()


def _ready(path: Path, clock: Callable[[], str], *, is_new: bool) -> Book:
    """Return a book to read and write, or only to read where nothing can be written beside it."""
    try:
        return _brought_up(_connected(path, clock), is_new=is_new)
    except OutputError as error:
        if is_new or not path.exists() or _has_log(path):
            raise
        # SQLite then wants no log beside it (SQLite documentation, "Uniform Resource
        # Identifiers", immutable; from memory).
        book = _connected(path, clock, more="?immutable=1")
        book.only_to_read = str(error)
        return _brought_up(book)


def log_of(path: Path) -> Path:
    """Return where the log of a book lies: beside the file itself, whatever links to it."""
    return Path(f"{os.path.realpath(path)}-wal")


def _has_log(path: Path) -> bool:
    """Return whether steps may lie in the log beside a book, and not yet in it."""
    try:
        return log_of(path).stat().st_size > 0
    except OSError:
        return False


def _connected(path: Path, clock: Callable[[], str], more: str = "") -> Book:
    with told_plainly(path):
        connection = sqlite3.connect(
            path.absolute().as_uri() + more,
            timeout=PATIENCE_SECONDS, isolation_level=None, uri=True,
        )  # fmt: skip
        try:
            connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LARGEST_TEXT)
            # What a file says of its own tables is not believed (SQLite documentation, "Defense
            # Against The Dark Arts").
            for pragma in ("trusted_schema = OFF", "cell_size_check = ON", "mmap_size = 0"):
                connection.execute(f"PRAGMA {pragma}")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
        except BaseException:
            connection.close()
            raise
    return Book(path, connection, clock)


def _brought_up(book: Book, *, is_new: bool = False) -> Book:
    """Return a book that is as a book must be; it is closed if it cannot be."""
    try:
        with told_plainly(book.path):
            if is_new or not book.asked("SELECT 1 FROM sqlite_master LIMIT 1"):
                _begin(book.connection)
            _bring_up(book)
        return book
    except BaseException:
        book.close()
        raise


def _begin(connection: sqlite3.Connection) -> None:
    """Make an empty book of an empty file; of two that begin at once one waits for the other."""
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("BEGIN IMMEDIATE")
    if not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone():
        for statement in statements():
            connection.execute(statement)
    connection.execute("COMMIT")


def _require_magic(path: Path) -> None:
    """Refuse what is no book by its first bytes, before anything that could write touches it."""
    try:
        head = plain_start(path, 100)
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror or error}") from error
    if not head:
        return
    if not head.startswith(MAGIC):
        raise BookError(f"{path} is no stock book: it is no SQLite file")
    # Where the head has no mark yet the whole of it may still be in the log beside the file.
    mark = int.from_bytes(head[68:72], "big")
    if mark == 0 and head[28:32] == b"\0\0\0\1":
        return  # One page, which holds no table yet: a book whose beginning came to nothing.
    if mark != APPLICATION_ID and not log_of(path).exists():
        raise BookError(f"{path} is no stock book: it is a database of another program")


def _bring_up(book: Book) -> None:
    """Refuse what is no sound book, and bring an older one up to this form."""
    connection, path = book.connection, book.path
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise BookError(f"{path} is no stock book: it is a database of another program")
    if version > VERSION:
        raise BookError(
            f"{path} is a book of form {version}, this salvage-nest knows up to {VERSION}: use the "
            "version that wrote it, or a newer one"
        )
    if version < 1:
        raise BookError(f"{path} is a book of form {version}, which there never was")
    _require_layout(connection, path, version)
    if version < VERSION:
        if book.only_to_read:
            raise OutputError(f"{book.only_to_read}; it is of form {version} and to be brought up")
        _migrate(book, version)
    if book.only_to_read:
        return
    if str(connection.execute("PRAGMA journal_mode").fetchone()[0]) != "wal":
        connection.execute("PRAGMA journal_mode = WAL")


def _require_layout(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Refuse tables, indexes, views and triggers that a book of a version does not have."""
    found, wanted = layout_of(connection), _settled(expected_layout(version))
    odd = sorted(f"{kind} {name}" for kind, name, _ in _settled(found) ^ wanted)
    if odd:
        raise BookError(
            f"{path} is no sound book: of {', '.join(dict.fromkeys(odd))} it has what a book does "
            "not have, or lacks it; nothing in it is believed. Restore a backup"
        )


def _settled(layout: frozenset[tuple[str, str, str]]) -> frozenset[tuple[str, str, str]]:
    """Return a layout with the blanks about columns that were added later as in new ones."""
    return frozenset(
        (kind, name, sql.replace(" ,", ",").replace(" )", ")").replace("( ", "("))
        for kind, name, sql in layout
    )


def _migrate(book: Book, version: int) -> None:
    """Bring an older book up to this form in one transaction; it is copied first."""
    kept = Path(f"{book.path}.form-{version}")
    if not kept.exists():
        copied(book.connection, kept)
    connection = book.connection
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another command may have done so meanwhile.
        at = int(connection.execute("PRAGMA user_version").fetchone()[0])
        for number in range(at, VERSION):
            MIGRATIONS[number](connection, figures_of_text)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        _require_layout(connection, book.path, VERSION)
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def copied(
    connection: sqlite3.Connection, path: Path, *, before: Callable[[], None] = lambda: None
) -> None:
    """Copy a book, as it is at this moment, into a file that takes its place whole.

    ``before`` is called once the copy is whole, before it takes its place.
    """
    passing = passing_for(path)
    try:
        passing.unlink(missing_ok=True)
        with told_plainly(path), _to_fill(passing) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        with passing.open("rb") as stream:
            os.fsync(stream.fileno())
        before()
        os.replace(passing, path)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror or error})") from error
    finally:
        with contextlib.suppress(OSError):
            passing.unlink(missing_ok=True)


def _to_fill(path: Path) -> contextlib.closing[sqlite3.Connection]:
    return contextlib.closing(sqlite3.connect(path, isolation_level=None))
