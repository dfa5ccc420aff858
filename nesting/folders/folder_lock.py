"""A folder that one run at a time may write into; the system lets go of it when the run ends."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nesting.errors import InUseError, OutputError

LOCK = ".in-use"
"""The file that is locked where a folder itself cannot be; it goes with the run."""

MOST_TRIES = 5
"""A folder may be taken away between being found and being locked; not so often."""

_held: set[str] = set()
"""What this process holds: it may ask for it again."""


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder, made if it is not there and gone afterwards if nothing came into it.

    Raises
    ------
    InUseError
        If another run holds it.
    OutputError
        If it cannot be made.
    """
    key = os.path.realpath(folder)
    if key in _held:
        yield
        return
    made = _missing(folder)
    try:
        handle = _handle(folder)
    except OSError as error:
        raise OutputError(
            f"{folder} cannot be written ({error.strerror or error}): choose another folder"
        ) from error
    if handle is None:
        raise InUseError(
            f"another run is writing into {folder}: wait until it is done, or choose another folder"
        )
    _held.add(key)
    try:
        yield
    finally:
        _held.discard(key)
        _let_go(handle, folder, made)


def _missing(folder: Path) -> list[Path]:
    """Return which folders are not there yet, the innermost first."""
    return [path for path in (folder, *folder.parents) if not path.exists()]


def _handle(folder: Path) -> int | None:
    """Return what holds a folder, or None if it is held already."""
    for _ in range(MOST_TRIES):
        folder.mkdir(parents=True, exist_ok=True)
        handle = _opened(folder)
        if handle is None:
            return None
        if _is_there(handle, folder):
            return handle
        os.close(handle)
    return None


def _is_there(handle: int, folder: Path) -> bool:
    """Return whether what is held is still what stands in its place."""
    for path in (folder, folder / LOCK):
        with contextlib.suppress(OSError):
            if os.path.samestat(os.fstat(handle), path.stat()):
                return True
    return False


if sys.platform == "win32":

    def _opened(folder: Path) -> int | None:
        import msvcrt

        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            os.close(handle)
            return None
        return handle

else:

    def _opened(folder: Path) -> int | None:
        """Return a locked handle of the folder, or of a file in it where only that can be."""
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except BlockingIOError:
            os.close(handle)
            return None
        except OSError:  # Some network disks lock nothing that is open for reading only.
            os.close(handle)
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT)
        try:
            fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except OSError:
            os.close(handle)
            return None


def _let_go(handle: int, folder: Path, made: list[Path]) -> None:
    """Take away what was made for the lock alone, and let go."""
    is_open = sys.platform != "win32"  # There a file that is open cannot be taken away.
    if not is_open:
        os.close(handle)
    lock = folder / LOCK
    with contextlib.suppress(OSError):
        if not is_open or os.path.samestat(os.fstat(handle), lock.stat()):
            lock.unlink()
    for path in made:
        with contextlib.suppress(OSError):
            path.rmdir()
    if is_open:
        os.close(handle)
