"""What an odd figure of an edge should be: that with which all the rest is least surprising.

Its own line foretells it where that runs on fair; near a stem, where a line turns quickly, the
figures of the surface beside it tell more. So several are tried, and all is faired with each.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from nesting.errors import ShapeError
from parts.lines.faired_table import FairedTable, roughly_faired
from parts.lines.reading import PINNED_MM, Cell

SURE_ENOUGH_MM = 1.0
"""A figure that is foretold with less doubt than this needs no trying."""

REACH = 2.0
"""How many times its doubt a figure is looked for from where it is foretold, at first: where it is
less surprising still farther off, it is looked for there."""

WIDER, MOST_WIDER = 2.0, 8
"""By how much farther each time, and how often at most: a line may be surer than it should be."""

NEAR_MM = 0.4
"""How near the best figure is come to."""

GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
"""The golden section: of three trials two serve again. How surprising the rest is has a narrow
trough, so that a parabola through three trials leads astray (28 mm and more, of gross errors)."""

Misfit = Callable[[float], float]


def proposed(
    state: FairedTable,
    cell: Cell,
    foretold_mm: float,
    doubt_mm: float,
    *,
    near_mm: float = NEAR_MM,
) -> tuple[float, float]:
    """Return what an odd figure of an edge should be, and the doubt of that, mm.

    Parameters
    ----------
    near_mm
        How near that is come to.
    """
    if doubt_mm < SURE_ENOUGH_MM:
        return foretold_mm, doubt_mm

    def misfit(value: float) -> float:
        put = {**state.reading.put, cell: (value, PINNED_MM)}
        try:
            return roughly_faired(replace(state.reading, put=put), state).misfit
        except ShapeError:
            return math.inf  # with it there, there is no hull

    edge = state.edge_of(cell[0])
    # No half-breadth is less than nothing.
    least = 0.0 if edge is not None and edge[1] == 0 else -math.inf
    low, high = _around(misfit, max(foretold_mm, least), REACH * doubt_mm, least)
    return _least(misfit, low, high, near_mm), min(doubt_mm, max(SURE_ENOUGH_MM, near_mm))


def _around(misfit: Misfit, start: float, reach: float, least: float) -> tuple[float, float]:
    """Return between which figures the least surprising lies."""
    low, middle, high = max(start - reach, least), start, start + reach
    below, at, above = misfit(low), misfit(middle), misfit(high)
    for _ in range(MOST_WIDER):
        if below < at and low > least:
            step = WIDER * (middle - low)
            low, middle, high = max(low - step, least), low, middle
            below, at, above = misfit(low), below, at
        elif above < at:
            step = WIDER * (high - middle)
            low, middle, high = middle, high, high + step
            below, at, above = at, above, misfit(high)
        else:
            break
    return low, high


def _least(misfit: Misfit, low: float, high: float, near_mm: float) -> float:
    """Return the least surprising figure between two, by golden sections."""
    one, other = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_one, at_other = misfit(one), misfit(other)
    while high - low > near_mm:
        if at_one < at_other:
            high, other, at_other = other, one, at_one
            one = high - GOLDEN * (high - low)
            at_one = misfit(one)
        else:
            low, one, at_one = one, other, at_other
            other = low + GOLDEN * (high - low)
            at_other = misfit(other)
    return (low + high) / 2
