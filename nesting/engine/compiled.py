"""How kernels that only other kernels call are compiled.

They need no door for Python, which would have to unpack every array of their arguments: without
one they compile in half the time.
"""

from __future__ import annotations

from numba import njit

# The stubs do not know the last two.
inner = njit(  # type: ignore[call-overload]
    cache=True, no_cpython_wrapper=True, no_cfunc_wrapper=True
)
