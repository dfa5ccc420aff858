"""How kernels are compiled, each by one process only, and where compiled ones are.

Processes that are started together come to the same kernels at the same time. The first compiles,
the others wait and then find it on the disk: no sooner, but the processors are free meanwhile.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numba import njit
from numba.core.compiler_lock import global_compiler_lock
from numba.core.dispatcher import Dispatcher

NONE_YET = cast(int, np.int64(0))
"""A count that is typed from the start, or the kernels it is handed to would be compiled twice."""

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


MOST_WAITING = 120.0
"""Seconds to wait for another process; after that it is held up, and is not waited for."""

BETWEEN_LOOKS = 0.02
"""Seconds."""


def door(kernel: Kernel) -> Kernel:
    """Compile a kernel that Python calls."""
    compiled: Kernel = njit(cache=True)(kernel)  # type: ignore[assignment]
    return _by_one_process(compiled)


def inner(kernel: Kernel) -> Kernel:
    """Compile a kernel that only other kernels call, in half the time: it needs no door for Python,
    which would have to unpack every array of its arguments.
    """
    # The stubs do not know the last two.
    compiled: Kernel = njit(  # type: ignore[call-overload]
        cache=True, no_cpython_wrapper=True, no_cfunc_wrapper=True
    )(kernel)
    return _by_one_process(compiled)


def _by_one_process(kernel: Kernel) -> Kernel:
    """Let a kernel be compiled, or loaded from the disk, by one process at a time."""
    if not isinstance(kernel, Dispatcher):  # as it is where numba is told to compile nothing
        return kernel
    dispatcher: Any = kernel
    compile_or_load = dispatcher.compile

    def in_turn(signature: Any) -> Any:
        # Its own lock first: threads of one process must not wait for each other's files.
        with global_compiler_lock, _held(_lock_of(kernel)):
            return compile_or_load(signature)

    dispatcher.compile = in_turn
    return kernel


@contextmanager
def _held(lock: Path | None) -> Iterator[None]:
    """Hold a file that other processes wait for; nothing where files cannot be held."""
    handle = None if lock is None else _opened(lock)
    if handle is None:
        yield
        return
    try:
        end = time.monotonic() + MOST_WAITING
        while not _is_ours(handle) and time.monotonic() < end:
            time.sleep(BETWEEN_LOOKS)
        yield
    finally:
        os.close(handle)


def _opened(lock: Path) -> int | None:
    with suppress(OSError):
        lock.parent.mkdir(parents=True, exist_ok=True)
        return os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
    return None


def _is_ours(handle: int) -> bool:
    """Return whether a file could be locked, or cannot be here; to close it, or die, unlocks it."""
    if sys.platform == "win32":
        return True
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def is_on_disk(kernel: Any) -> bool:
    """Return whether a compiled kernel, of the source as it is, was noted to be on the disk."""
    with suppress(OSError):
        return _note_of(kernel).read_text(encoding="utf-8") == _source_of(kernel)
    return False


def note_on_disk(*kernels: Any) -> None:
    """Note that kernels used here are on the disk now, where they can be written there."""
    for kernel in kernels:
        if kernel.signatures and not is_on_disk(kernel):
            # Without a note the next run compiles them beside its search, which finds them at once.
            with suppress(OSError):
                _note_of(kernel).write_text(_source_of(kernel), encoding="utf-8")


def _note_of(kernel: Any) -> Path:
    """Return the file of ours that says that a kernel's compiled code stands beside it."""
    if (place := _beside(kernel, "compiled")) is None:
        raise FileNotFoundError(f"what is compiled of {kernel.__name__} is not kept")
    return place


def _lock_of(kernel: Any) -> Path | None:
    """Return the file that is held while a kernel is compiled."""
    return _beside(kernel, "lock")


def _beside(kernel: Any, ending: str) -> Path | None:
    if kernel.stats.cache_path is None:
        return None
    module = Path(kernel.py_func.__code__.co_filename).stem
    return Path(kernel.stats.cache_path) / f"{module}.{kernel.__name__}.{ending}"


def _source_of(kernel: Any) -> str:
    """Return what tells one state of a kernel's source, and of what compiles it, from another."""
    made = Path(kernel.py_func.__code__.co_filename).stat()
    return f"{made.st_mtime_ns} {made.st_size} numba {numba.__version__} {sys.version}"
