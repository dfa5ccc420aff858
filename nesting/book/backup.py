"""A copy of a book put away, and brought back."""

from __future__ import annotations

import os
from pathlib import Path

from nesting.book.integrity import require_sound, require_whole
from nesting.book.opening import copied, opened
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
        _put_aside(real)
        copied(book.connection, real)
    return steps


def _put_aside(path: Path) -> None:
    """Move a book away with its log; a damaged one may be no SQLite file any more."""
    kept = path.with_name(f"{path.name}.before-restore")
    try:
        for ending in ("", "-wal", "-shm"):
            file = Path(f"{path}{ending}")
            if file.exists():
                file.replace(Path(f"{kept}{ending}"))
    except OSError as error:
        raise OutputError(f"{path} cannot be put aside ({error.strerror or error})") from error
