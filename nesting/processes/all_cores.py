"""The same work for each of many things, on all cores of this machine."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from functools import partial
from typing import TypeVar

from nesting.processes.workers import Workers, answers

T = TypeVar("T")
S = TypeVar("S")

MANY_NESTS = 300
"""From so many opened boards on they are measured and accounted for on all cores: starting
processes takes as long as some hundred."""

PIECES = 8
"""Lots that each process works off, so that none waits long for the last."""


def on_all_cores(
    work: Callable[[S], T], things: Sequence[S], workers: int | None = None
) -> list[T]:
    """Return what the work makes of each thing, in their order, by so many processes if not all.

    What a lost process had to do is done by another, or here.
    """
    cores = (os.cpu_count() or 1) if workers is None else workers
    if cores < 2:
        return [work(thing) for thing in things]
    size = max(1, len(things) // (cores * PIECES))
    lots = [things[at : at + size] for at in range(0, len(things), size)]
    with Workers(cores) as others:
        return [made for lot in answers(others, partial(_each, work), lots) for made in lot]


def _each(work: Callable[[S], T], things: Sequence[S]) -> list[T]:
    return [work(thing) for thing in things]
