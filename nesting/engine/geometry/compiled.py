"""How kernels that only other kernels call are compiled, and where compiled ones are.

They need no door for Python, which would have to unpack every array of their arguments: without
one they compile in half the time.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numba import njit

NONE_YET = cast(int, np.int64(0))
"""A count that is typed from the start, or the kernels it is handed to would be compiled twice."""

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


def inner(kernel: Kernel) -> Kernel:
    """Compile a kernel that only other kernels call."""
    # The stubs do not know the last two.
    compiled: Kernel = njit(  # type: ignore[call-overload]
        cache=True, no_cpython_wrapper=True, no_cfunc_wrapper=True
    )(kernel)
    return compiled


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
    """Return the file of ours that stands beside a kernel's compiled code."""
    if kernel.stats.cache_path is None:
        raise FileNotFoundError(f"what is compiled of {kernel.__name__} is not kept")
    module = Path(kernel.py_func.__code__.co_filename).stem
    return Path(kernel.stats.cache_path) / f"{module}.{kernel.__name__}.compiled"


def _source_of(kernel: Any) -> str:
    """Return what tells one state of a kernel's source, and of what compiles it, from another."""
    made = Path(kernel.py_func.__code__.co_filename).stat()
    return f"{made.st_mtime_ns} {made.st_size} numba {numba.__version__} {sys.version}"
