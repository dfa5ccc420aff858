"""How kernels that only other kernels call are compiled, and where compiled ones are.

They need no door for Python, which would have to unpack every array of their arguments: without
one they compile in half the time.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit

NONE_YET = np.int64(0)
"""A count that is typed from the start, or the kernels it is handed to would be compiled twice."""

# The stubs do not know the last two.
inner = njit(  # type: ignore[call-overload]
    cache=True, no_cpython_wrapper=True, no_cfunc_wrapper=True
)


def is_on_disk(kernel: Any) -> bool:
    """Return whether an earlier run left a compiled kernel, of the source as it is, on the disk."""
    code = kernel.py_func.__code__
    python = f"py{sys.version_info.major}{sys.version_info.minor}"
    name = f"{Path(code.co_filename).stem}.{code.co_name}-*.{python}.nbi"
    made = Path(code.co_filename).stat().st_mtime
    folder = Path(kernel.stats.cache_path or ".")
    return any(index.stat().st_mtime >= made for index in folder.glob(name))
