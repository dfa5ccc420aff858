"""The same work for each of many things, on all cores of this machine."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

T = TypeVar("T")
S = TypeVar("S")

PIECES = 8
"""Lots that each process works off, so that none waits long for the last."""


def on_all_cores(work: Callable[[S], T], things: Sequence[S]) -> list[T]:
    """Return what the work makes of each thing, in their order.

    Where a process is killed, this one does all of it.
    """
    cores = os.cpu_count() or 1
    if cores < 2:
        return [work(thing) for thing in things]
    context = multiprocessing.get_context("spawn")
    lot = max(1, len(things) // (cores * PIECES))
    try:
        with ProcessPoolExecutor(cores, context, initializer=_leave_ctrl_c_alone) as processes:
            return list(processes.map(work, things, chunksize=lot))
    except BrokenProcessPool:
        return [work(thing) for thing in things]


def _leave_ctrl_c_alone() -> None:
    # Ctrl-C reaches every process of a terminal; only the one that waits for them answers it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
