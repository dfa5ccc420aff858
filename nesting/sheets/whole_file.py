"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path

from nesting.errors import OutputError


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
    _clear_earlier(path)
    passing = path.with_name(f".{path.name}.{os.getpid()}.part")
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


def _clear_earlier(path: Path) -> None:
    """Take away what a process left beside a file that was killed while it wrote it."""
    if os.name != "posix":
        return
    begin = f".{path.name}."
    with contextlib.suppress(OSError):
        for name in os.listdir(path.parent):
            found = name.startswith(begin) and re.fullmatch(r"(\d+)\.part", name[len(begin) :])
            if found and not _is_alive(int(found[1])):
                path.with_name(name).unlink(missing_ok=True)


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):  # Somebody else's, or no number of a process.
        return True
    return True


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
