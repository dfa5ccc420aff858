"""What SQLite says of a book, in a sentence."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nesting.errors import BookError, InUseError, OutputError

PATIENCE_SECONDS = 3.0
"""How long a command waits for another one that is writing; a step takes some milliseconds."""

_BOTH = (
    "book and folder must be writable and on a disk of this machine, since a log lies beside it "
    "while a command writes"
)

_HINTS = (
    ("SQLITE_CANTOPEN", _BOTH),
    ("SQLITE_READONLY", _BOTH),
    ("SQLITE_FULL", "make room on the disk; nothing was changed"),
    ("SQLITE_IOERR", "is the disk full, or the folder on a network? nothing was changed"),
)
"""What to do about what SQLite says, by how its name for it begins."""


@contextmanager
def told_plainly(path: Path) -> Iterator[None]:
    """Say in a sentence what SQLite says of a book."""
    try:
        yield
    except sqlite3.OperationalError as error:
        name = getattr(error, "sqlite_errorname", "")
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise InUseError(
                f"another command is writing in the book {path} and has not ended within "
                f"{PATIENCE_SECONDS:g} s: wait until it is done and say this again; nothing was "
                "changed. If none is, the folder keeps no locks, as on a network: the book must "
                "lie on a disk of this machine"
            ) from error
        if hint := next((hint for start, hint in _HINTS if name.startswith(start)), None):
            raise OutputError(f"the book {path} cannot be written: {error}; {hint}") from error
        raise BookError(f"the book {path} cannot be read: {error}; restore a backup") from error
    except sqlite3.IntegrityError as error:
        raise BookError(f"the book {path} does not take this step: {error}") from error
    except sqlite3.DatabaseError as error:
        raise BookError(f"the book {path} is damaged ({error}): restore a backup") from error
    except (json.JSONDecodeError, RecursionError) as error:
        raise BookError(f"the book {path} holds what cannot be read ({error})") from error
