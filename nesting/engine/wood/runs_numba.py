"""Compiled: free stretches on lines across a board, and where along them a figure may stand.

Plain twins of these kernels are in the tests.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import FROM_X, FROM_Y, TO_X, TO_Y, Floats, Ints
from nesting.engine.geometry.compiled import NONE_YET, door, inner
from nesting.engine.geometry.sorting import sort_few

LOW, HIGH = 0, 1
"""Of stretches across a board."""

MIDDLE, AT_LEFT, AT_RIGHT = 0, 1, 2
"""Of the heights of an edge over a stretch along the board; the middle is twice it."""

MOST = 64
"""Stretches kept on one line; where there are more, the last two become one: never too little."""


@door
def crossings(edges: Floats, low_x: float, step: float, count: int) -> tuple[Ints, Floats]:
    """Return first (m + 1) and y, sorted, where edges (e, 4) cross lines ``step`` apart.

    Edges run from left to right; one holds its left end and not its right one, so that each
    line has an even number of crossings: free stretches are between the first and second, and
    so on.
    """
    first = np.zeros(count + 1, np.int64)
    for e in range(edges.shape[0]):
        begin, end = _lines(edges[e, FROM_X], edges[e, TO_X], low_x, step, count)
        for i in range(begin, end):
            first[i + 1] += 1
    for i in range(count):
        first[i + 1] += first[i]
    y = np.empty(first[count])
    used = np.zeros(count, np.int64)
    for e in range(edges.shape[0]):
        x0, y0, x1, y1 = edges[e, FROM_X], edges[e, FROM_Y], edges[e, TO_X], edges[e, TO_Y]
        begin, end = _lines(x0, x1, low_x, step, count)
        for i in range(begin, end):
            at = first[i] + used[i]
            y[at] = y0 + (low_x + i * step - x0) / (x1 - x0) * (y1 - y0)
            used[i] += 1
    for i in range(count):
        sort_few(y, first[i], first[i + 1])
    return first, y


@inner
def _lines(x0: float, x1: float, low_x: float, step: float, count: int) -> tuple[int, int]:
    """Return the range of lines that an edge from ``x0`` up to, not including, ``x1`` crosses."""
    begin = max(0, int(np.ceil((x0 - low_x) / step)) - 1)
    while begin < count and low_x + begin * step < x0:
        begin += 1
    end = begin
    while end < count and low_x + end * step < x1:
        end += 1
    return begin, end


@inner
def _shared(kept: Floats, count: int, low: float, high: float, fresh: Floats) -> int:
    """Add to ``fresh`` what stretches (count, 2) share with one more; return how many it adds."""
    added = 0
    for k in range(count):
        below, above = max(kept[k, LOW], low), min(kept[k, HIGH], high)
        if below <= above:
            fresh[added, LOW], fresh[added, HIGH] = below, above
            added += 1
    return added


@inner
def _take(kept: Floats, fresh: Floats, count: int) -> int:
    """Take over the first stretches (count, 2) of ``fresh``; return how many.

    Not by a slice: numba spends two seconds on what it would say if the sizes differed.
    """
    for k in range(count):
        kept[k, LOW], kept[k, HIGH] = fresh[k, LOW], fresh[k, HIGH]
    return count


@door
def cores(edges: Floats, marks: Floats, stops: Floats) -> Floats:
    """Return low and high (k, 2) of wood that a figure has all the way between two marks.

    No edge (e, 4), from left to right, begins or ends between two stops, marks are stops. Of
    several such stretches the longest; low is above high where there is none.
    """
    count = marks.shape[0] - 1
    found = np.empty((count, 2))
    kept, fresh, part = np.empty((MOST, 2)), np.empty((MOST, 2)), np.empty((MOST, 2))
    ends = np.empty((edges.shape[0], 3))
    at = 0
    for k in range(count):
        kept[0, LOW], kept[0, HIGH] = -np.inf, np.inf
        size = NONE_YET + 1
        while at + 1 < stops.shape[0] and stops[at + 1] <= marks[k + 1]:
            left, right = stops[at], stops[at + 1]
            over = _ends_over(edges, left, right, ends)
            total = NONE_YET
            for p in range(0, over - 1, 2):
                low, high = (
                    max(ends[p, AT_LEFT], ends[p, AT_RIGHT]),
                    min(ends[p + 1, AT_LEFT], ends[p + 1, AT_RIGHT]),
                )
                added = _shared(kept, size, low, high, part)
                for q in range(added):
                    if total < MOST:
                        fresh[total, LOW], fresh[total, HIGH] = part[q, LOW], part[q, HIGH]
                        total += 1
            size = _take(kept, fresh, total)
            at += 1
        found[k, LOW], found[k, HIGH] = 1.0, 0.0
        for q in range(size):
            longer = found[k, HIGH] - found[k, LOW] < kept[q, HIGH] - kept[q, LOW]
            if longer and np.isfinite(kept[q, LOW]):
                found[k, LOW], found[k, HIGH] = kept[q, LOW], kept[q, HIGH]
    return found


@inner
def _ends_over(edges: Floats, left: float, right: float, ends: Floats) -> int:
    """Fill ``ends`` with middle, left and right y of the edges over a stretch, sorted upward."""
    over = 0
    for e in range(edges.shape[0]):
        x0, y0, x1, y1 = edges[e, FROM_X], edges[e, FROM_Y], edges[e, TO_X], edges[e, TO_Y]
        if x0 <= left and x1 >= right:
            slope = (y1 - y0) / (x1 - x0)
            a, b = y0 + slope * (left - x0), y0 + slope * (right - x0)
            place = over
            while place > 0 and ends[place - 1, MIDDLE] > a + b:
                for k in range(3):
                    ends[place, k] = ends[place - 1, k]
                place -= 1
            ends[place, MIDDLE], ends[place, AT_LEFT], ends[place, AT_RIGHT] = a + b, a, b
            over += 1
    return over


@door
def standing(
    first: Ints, y: Floats, wood: Floats, low_y: float, high_y: float, slack: float
) -> Floats:
    """Return for each line (s, 2) the least and greatest y at which a figure may stand.

    The line is the first that the figure meets, ``wood`` (k, 2) what it covers at each line
    from there on; low is above high where it cannot stand.
    """
    lines, length = first.shape[0] - 1, wood.shape[0]
    starts = max(0, lines - length + 1)
    found = np.empty((starts, 2))
    kept, fresh, part = np.empty((MOST, 2)), np.empty((MOST, 2)), np.empty((MOST, 2))
    for start in range(starts):
        kept[0, LOW], kept[0, HIGH] = low_y, high_y
        size = NONE_YET + 1
        for k in range(length):
            if wood[k, LOW] > wood[k, HIGH]:
                continue
            total = NONE_YET
            for p in range(first[start + k], first[start + k + 1] - 1, 2):
                low, high = y[p] - wood[k, LOW] - slack, y[p + 1] - wood[k, HIGH] + slack
                if low > high:
                    continue
                added = _shared(kept, size, low, high, part)
                for q in range(added):
                    if total < MOST:
                        fresh[total, LOW], fresh[total, HIGH] = part[q, LOW], part[q, HIGH]
                        total += 1
                    else:
                        fresh[MOST - 1, LOW] = min(fresh[MOST - 1, LOW], part[q, LOW])
                        fresh[MOST - 1, HIGH] = max(fresh[MOST - 1, HIGH], part[q, HIGH])
            size = _take(kept, fresh, total)
            if size == 0:
                break
        found[start, LOW], found[start, HIGH] = np.inf, -np.inf
        for q in range(size):
            found[start, LOW] = min(found[start, LOW], kept[q, LOW])
            found[start, HIGH] = max(found[start, HIGH], kept[q, HIGH])
    return found
