"""Ways to begin filling a board, many at a time, each a front that parts form on lines.

What is placed first decides what still fits, and the best next part is seldom the largest: so
every part that is wanted is tried next on each beginning, and of all that come of it those are
kept which lose the least wood behind their front.

References
----------
Lowerre 1976, The HARPY speech recognition system (beam search; from memory).
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.engine.front.front import free_mm2
from nesting.engine.front.front_numba import (
    FIGURE,
    FRONT,
    LOST,
    PLACES,
    Lines,
    Looks,
    Room,
    advance,
    next_places,
    room_on,
)
from nesting.engine.stop import never

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TILT = 0.02
"""How much a place near one long edge of the board counts beside one near its end."""

NOISE = 0.1
"""Spread of what a next part is thought to lose, so that the search does not repeat itself."""

SPREAD = 0.3
"""Spread of the logarithm of what one need differs from another in what may be lost for it: some
parts come early though they lose more."""

ALIKE = 1e-3
"""Beginnings of the same parts that lose wood alike to this share of the board are the same."""

MOST_ALIKE = 4
"""Beginnings of the same parts that are kept at a time: more are seldom worth the room."""

AT_A_TIME = 32
"""Beginnings grown before time is looked at."""


@dataclass(frozen=True)
class Step:
    """One more part on a beginning: its figure, line, x and edge (1 or -1)."""

    figure: int
    line: int
    x: float
    edge: int


@dataclass(frozen=True, eq=False)
class Beginnings:
    """As many parts on each: copies left (b, n), wood lost, area used and credits spent, mm2 (b,).

    ``rows`` (b, 6) are the next places that made them of the beginnings ``before``.
    """

    left: Ints
    lost: Floats
    used: Floats
    spent: Floats
    rows: Floats
    before: Beginnings | None

    def steps(self, which: int) -> list[Step]:
        """Return the steps of one beginning, the first first."""
        found: list[Step] = []
        here: Beginnings | None = self
        while here is not None and here.before is not None:
            front, figure, line, x, edge, _ = here.rows[which]
            found.append(Step(int(figure), int(line), float(x), int(edge)))
            which, here = int(front), here.before
        return found[::-1]


def beginnings_of(
    lines: Lines,
    looks: Looks,
    wanted: Sequence[int],
    width: int,
    credits: Floats,
    rng: np.random.Generator,
    is_over: Callable[[], bool] = never,
) -> list[Beginnings]:
    """Return beginnings with one part, with two, and so on till none has room for more.

    Parameters
    ----------
    wanted
        How many of each need may be placed.
    width
        Beginnings kept at a time.
    credits
        Wood, mm2, that a beginning may lose for each need (n,) in it, beside others.
    """
    zero, alike_mm2 = np.zeros(1), ALIKE * free_mm2(lines)
    here = Beginnings(np.array([wanted], np.int64), zero, zero, zero, np.empty((1, 6)), None)
    fronts = np.full((1, lines.first.shape[1] - 1), lines.low)
    found, room = list[Beginnings](), room_on(lines, looks)
    while True:
        rows = _next_rows(fronts, here.left, lines, looks, room, is_over)
        if rows is None or not len(rows):
            return found
        front, figure = rows[:, FRONT].astype(np.int64), rows[:, FIGURE].astype(np.int64)
        lost, used = here.lost[front] + rows[:, LOST], here.used[front] + looks.area[figure]
        need = looks.need[figure]
        spent = here.spent[front] + credits[need]
        score = lost + NOISE * rng.standard_normal(len(rows)) * rows[:, LOST] - spent
        kept, left = _best_few(score, here.left, front, need, np.round(lost / alike_mm2), width)
        fronts = fronts[front[kept]]
        advance(fronts, rows[kept], looks)
        here = Beginnings(left, lost[kept], used[kept], spent[kept], rows[kept], here)
        found.append(here)


def credits_of(areas: Floats, allowances: tuple[float, float], rng: np.random.Generator) -> Floats:
    """Return how much wood, mm2, a beginning may lose for each need in it, drawn anew each time.

    Parameters
    ----------
    areas
        Area of each need's parts (n,), mm2.
    allowances
        Wood that may be lost for each area of part: least and most.
    """
    allowance = np.exp(rng.uniform(*np.log(allowances)))
    return np.asarray(areas * allowance * np.exp(SPREAD * rng.standard_normal(len(areas))))


def fullest(found: Sequence[Beginnings], count: int) -> Iterator[tuple[float, list[Step]]]:
    """Yield area used, mm2, and steps of the fullest beginnings, first those that lose least."""
    ranks = [
        (-used, lost, level, which)
        for level, some in enumerate(found)
        for which, (used, lost) in enumerate(zip(some.used, some.lost, strict=True))
    ]
    for less_used, _, level, which in heapq.nsmallest(count, ranks):
        yield -less_used, found[level].steps(which)


def _next_rows(
    fronts: Floats,
    left: Ints,
    lines: Lines,
    looks: Looks,
    room: Room,
    is_over: Callable[[], bool],
) -> Floats | None:
    """Return what may come next on each front, or None when time is over."""
    found = []
    for begin in range(0, len(fronts), AT_A_TIME):
        if is_over():
            return None
        some = slice(begin, begin + AT_A_TIME)
        rows = np.empty((len(fronts[some]) * len(looks.need) * 2 * PLACES, 6))
        count = next_places(fronts[some], left[some], TILT, lines, looks, room, rows)
        rows[:count, FRONT] += begin
        found.append(rows[:count].copy())
    return np.concatenate(found)


def _best_few(
    score: Floats, left: Ints, front: Ints, need: Ints, lost: Floats, width: int
) -> tuple[Ints, Ints]:
    """Return the best rows, and what they leave of the copies left (b, n) on their fronts.

    A few of the same parts, and of those that lose the same wood but one.
    """
    seen: dict[bytes, set[float]] = {}
    kept: list[int] = []
    kept_left: list[Ints] = []
    for row in np.argsort(score, kind="stable"):
        after = left[front[row]].copy()
        after[need[row]] -= 1
        alike = seen.setdefault(after.tobytes(), set())
        if lost[row] in alike or len(alike) == MOST_ALIKE:
            continue
        alike.add(lost[row])
        kept.append(int(row))
        kept_left.append(after)
        if len(kept) == width:
            break
    return np.array(kept, np.int64), np.array(kept_left, np.int64)
