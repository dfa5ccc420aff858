"""A copy of a book put away, and brought back."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from pathlib import Path

from nesting.book.integrity import require_sound, require_whole
from nesting.book.opening import copied, log_of, opened
from nesting.book.store import Book
from nesting.errors import OutputError


def back_up(book: Book, path: Path, *, overwrite: bool = False) -> None:
    """Copy a book, as it is at this moment, whole into another file.

    Raises
    ------
    OutputError
        If there is a file and it may not be replaced, or it cannot be written.
    BookError
        If SQLite finds it damaged: a copy of it would be none. The steps and the wood are looked
        at when it is restored.
    """
    if path.exists() and not overwrite:
        raise OutputError(f"{path} is there already: name another file, or give --overwrite")
    require_whole(book)
    copied(book.connection, path)


def restore(backup: Path, path: Path, *, overwrite: bool = False) -> int:
    """Put a backup in the place of a book and return how many steps it has.

    What was there is kept beside it, as ``NAME.before-restore``. Where the book is a link to one
    that several projects share, it is that one.

    Raises
    ------
    BookError
        If the backup is no sound book; what was there is left as it was.
    OutputError
        If a book is there and may not be replaced.
    """
    if path.exists() and not overwrite:
        raise OutputError(
            f"{path} is there: with --overwrite it is put aside as {path.name}.before-restore"
        )
    with opened(backup) as book:
        require_sound(book)
        steps = book.last_step
        real = Path(os.path.realpath(path))
        copied(book.connection, real, before=lambda: _put_aside(real))
    return steps


def _put_aside(path: Path) -> None:
    """Keep a book under another name too, with its log; a damaged one may be no SQLite file.

    It stays in its place until another takes it, so that there is one whatever comes between. Its
    log does not: it would be read as that of the other.
    """
    kept = path.with_name(f"{path.name}.before-restore")
    _empty_log(path)
    try:
        for ending in ("", *LOGS):
            Path(f"{kept}{ending}").unlink(missing_ok=True)
        if path.exists():
            _doubled(path, kept)
        for ending in LOGS:
            log = Path(f"{path}{ending}")
            if log.exists():
                log.replace(f"{kept}{ending}")
    except OSError as error:
        raise OutputError(f"{path} cannot be put aside ({error.strerror or error})") from error


LOGS = ("-wal", "-shm")
"""Endings of what lies beside a book while it is written, or was left by who was killed."""


def _empty_log(path: Path) -> None:
    """Have what lies in the log of a book written into it, if it is one that can be."""
    if not log_of(path).exists():
        return
    with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(path)) as old:
        old.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _doubled(path: Path, kept: Path) -> None:
    """Give a file a second name; where the disk knows no such thing, a copy."""
    try:
        os.link(path, kept)
    except OSError:
        shutil.copy2(path, kept)
