"""A program that reckons little with matrices, and wants no threads for it."""

from __future__ import annotations

import os
import sys


def alone() -> None:
    """Have numpy start no threads of its own, where it is not loaded yet.

    Its library for matrices (OpenBLAS) starts one a core and lets each wait busily: 80 ms of
    processor time of every word of the book (2026-11-28). What the user says of it holds.
    """
    if "numpy" not in sys.modules:
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
