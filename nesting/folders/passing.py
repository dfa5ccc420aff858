"""Where a file is written until it is whole: beside its place, by the name of who writes it."""

from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path


def passing_for(path: Path) -> Path:
    """Return where this process writes a file until it takes its place.

    What processes that are no more left of the same file is taken away, with the logs of a book.
    """
    _clear_earlier(path)
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def _clear_earlier(path: Path) -> None:
    if os.name != "posix":
        return
    begin = f".{path.name}."
    with contextlib.suppress(OSError):
        for name in os.listdir(path.parent):
            found = re.fullmatch(r"(\d+)\.part(-wal|-shm|-journal)?", name.removeprefix(begin))
            if name.startswith(begin) and found and not _is_alive(int(found[1])):
                path.with_name(name).unlink(missing_ok=True)


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):  # Somebody else's, or no number of a process.
        return True
    return True
