"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from nesting.errors import OutputError
from nesting.folders.passing import passing_for


def write_whole(path: Path, content: bytes, *, overwrite: bool = False) -> Path:
    """Write a file by way of a temporary one beside it and return its path.

    A reader sees the old file or the new one, never half of it; when anything fails, the old
    one is as it was and nothing is left lying about.

    Raises
    ------
    OutputError
        If the file is there and may not be overwritten, or the folder cannot be written.
    """
    path = Path(path)
    if path.exists() and not overwrite:
        raise OutputError(f"{path} is there already; move it, or ask for it to be overwritten")
    if not path.parent.is_dir():
        raise OutputError(f"{path.parent} is no folder: make it first, or name another")
    passing = passing_for(path)
    try:
        _write_through(passing, content)
        os.replace(passing, path)
    except OSError as error:
        raise OutputError(
            f"{path} cannot be written: {error.strerror or error}; check the folder's "
            "permissions and free space, or name another"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            passing.unlink(missing_ok=True)
    return path


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
