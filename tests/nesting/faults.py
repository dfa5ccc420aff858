"""Faults put in at every moment in turn: a disk that is full, a program that is killed."""

import contextlib
import errno
import io
import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

DOORS = [
    (io, "open"), (os, "open"), (os, "mkdir"), (os, "rename"), (os, "replace"), (os, "fsync"),
    (os, "rmdir"), (os, "unlink"), (os, "listdir"),
]  # fmt: skip
"""Whatever touches a disk goes through one of these."""

MAKING = {"open", "mkdir", "rename", "replace", "fsync"}
"""Those that a full disk can refuse."""


@contextmanager
def at_every_door(tell: Callable[..., None], *, with_given: bool = False) -> Iterator[None]:
    """Have something told the name of each door before it is gone through, and what is given."""

    def told(name, real):
        def door(*given, **more):
            is_read = name == "open" and not _makes(*given, **more)
            tell("read" if is_read else name, *(given if with_given else ()))
            # Waiting for the disk takes most of the time, and proves nothing here.
            return None if name == "fsync" else real(*given, **more)

        return door

    before = [(module, name, getattr(module, name)) for module, name in DOORS]
    for module, name, real in before:
        setattr(module, name, told(name, real))
    try:
        yield
    finally:
        for module, name, real in before:
            setattr(module, name, real)


def _makes(path, mode="r", *_, **__):
    """Return whether opening a file so makes it or writes into it."""
    if isinstance(mode, int):
        return bool(mode & (os.O_CREAT | os.O_WRONLY | os.O_RDWR))
    return not set(mode).isdisjoint("wax+")


def full_disk(nth: int) -> Callable[[str], None]:
    """Return what refuses the n-th making of something; the disk has room again afterwards."""
    seen = [0]

    def tell(name: str) -> None:
        seen[0] += name in MAKING
        if name in MAKING and seen[0] == nth:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    return tell


def disk_full_from(nth: int) -> Callable[[str], None]:
    """Return what refuses to make anything from the n-th time on."""
    seen = [0]

    def tell(name: str) -> None:
        seen[0] += name in MAKING
        if name in {"open", "mkdir", "fsync"} and seen[0] >= nth:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    return tell


def signalled(nth: int, number: int) -> Callable[[str], None]:
    """Return what sends this process a signal at the n-th door."""
    seen = [0]

    def tell(_: str) -> None:
        seen[0] += 1
        if seen[0] == nth:
            signal.raise_signal(number)

    return tell


def in_a_child(work: Callable[[], None]) -> int:
    """Do some work in a copy of this process and return how it ended: 0, or minus a signal."""
    child = os.fork()
    if not child:
        with contextlib.suppress(BaseException):
            work()
            os._exit(0)
        os._exit(1)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def content(folder: Path) -> dict[str, bytes]:
    """Return what is in a folder, by its place in it."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}
