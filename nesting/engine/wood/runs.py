"""A quick look where a figure may find room: free stretches across a board against its wood.

On lines across the board, a step apart, the free stretches are known. A figure, wherever it
lies, meets as many of them one after another as its length holds steps, and at each it covers
at least the wood that it has all along that step. Where no height above the board's edge suits
all of those lines there is no room, and none of the dear no-fit data is made; elsewhere the
look leaves narrow windows. Within a window there may be room: it promises nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.wood.runs_numba import cores, crossings, standing
from nesting.flat_geometry.overlay import polygons_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Box = tuple[float, float, float, float]

STEP_MM = 12.5
"""Between lines: about the least arm of a knee."""

WINDOW_STEPS = 48
"""Steps in a window: where parts drift to one end, the first window mostly has the answer."""

SLACK_MM = 0.01
"""Given away on the safe side: far above all rounding, far below a saw's kerf."""


@dataclass(frozen=True, eq=False)
class Runs:
    """Free stretches on the lines of a board: line k's are ``y[first[k] : first[k + 1]]``."""

    low_x: float
    first: Ints
    y: Floats

    @property
    def longest(self) -> Floats:
        """The longest stretch on each line, (m,) mm."""
        lengths = np.append(self.y[1::2] - self.y[::2], 0.0)
        found = np.maximum.reduceat(lengths, np.minimum(self.first[:-1] // 2, len(lengths) - 1))
        return np.where(np.diff(self.first) > 0, found, 0.0)


def runs_of(free: BaseGeometry, low_x: float, high_x: float, step_mm: float = STEP_MM) -> Runs:
    """Return the free stretches of a board between two ends, on lines a step apart."""
    edges = [edges_of(rings_of(polygon)) for polygon in polygons_of(free)]
    begin = low_x + step_mm / 2
    count = max(0, int((high_x - begin) / step_mm) + 1)
    lines = np.concatenate(edges) if edges else np.empty((0, 4))
    return Runs(low_x, *crossings(lines, begin, step_mm, count))


def runs_beside(runs: Runs, parts: Sequence[BaseGeometry]) -> Runs:
    """Return free stretches less what parts cover of them, line by line."""
    count = len(runs.first) - 1
    line, low, high = taken(runs)
    shapes = [polygon for part in parts for polygon in polygons_of(part)]
    more = [crossed(shape, runs.low_x, count) for shape in shapes]
    return between_taken(
        runs.low_x,
        count,
        np.concatenate([line, *(one[0] for one in more)]),
        np.concatenate([low, *(one[1] for one in more)]),
        np.concatenate([high, *(one[2] for one in more)]),
    )


def crossed(shape: Polygon, low_x: float, count: int) -> tuple[Ints, Floats, Floats]:
    """Return on which of the lines from ``low_x`` on a shape lies, from where to where."""
    begin = low_x + STEP_MM / 2
    first, y = crossings(edges_of(rings_of(shape)), begin, STEP_MM, count)
    return np.repeat(np.arange(count), np.diff(first))[::2], y[::2], y[1::2]


def between_taken(low_x: float, count: int, line: Ints, low: Floats, high: Floats) -> Runs:
    """Return the stretches between those that are taken: on which line, from where to where.

    What lies below the lowest or above the highest of a line is taken too.
    """
    order = np.lexsort((low, line))
    line, low, high = line[order], low[order], high[order]
    if not len(line):
        return Runs(low_x, np.zeros(count + 1, np.int64), np.empty(0))
    # Lines one above the other, so that all are swept at once.
    base = float(low.min())
    tall = float(high.max()) - base + 1.0
    reached = np.maximum.accumulate(high - base + line * tall)
    is_free = (low[1:] - base + line[1:] * tall > reached[:-1]) & (line[1:] == line[:-1])
    at = np.flatnonzero(is_free)
    ends = np.column_stack([reached[at] - line[at] * tall + base, low[at + 1]])
    first = np.concatenate([[0], 2 * np.cumsum(np.bincount(line[at], minlength=count))])
    return Runs(low_x, np.asarray(first, np.int64), np.ascontiguousarray(ends.ravel()))


def taken(runs: Runs) -> tuple[Ints, Floats, Floats]:
    """Return what is not free on each line: below, between and above its free stretches."""
    count, half = len(runs.first) - 1, runs.first // 2
    lowest, highest = runs.y.min(initial=0.0) - 1.0, runs.y.max(initial=0.0) + 1.0
    line = np.repeat(np.arange(count), np.diff(half) + 1)
    low = np.insert(runs.y[1::2], half[:-1], lowest)
    return line, low, np.insert(runs.y[::2], half[1:], highest)


def wood_of(shape: Polygon) -> Floats:
    """Return the wood (k, 2), from and to in y, that a figure has all along each step."""
    low, _, high, _ = shape.bounds
    steps = np.arange(int((high - low) / STEP_MM) + 1, dtype=np.float64)
    marks = low + STEP_MM * steps
    edges = edges_of(rings_of(shape))
    stops = np.unique(np.concatenate([marks, edges[:, 0], edges[:, 2]]))
    return np.asarray(cores(edges, marks, stops[(stops >= low) & (stops <= marks[-1])]))


def rings_of(polygon: Polygon) -> list[Floats]:
    """Return the closed rings (n, 2) of a polygon, the outer one first."""
    return [np.asarray(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]


def edges_of(rings: Sequence[Floats]) -> Floats:
    """Return every edge of closed rings that is not upright, (e, 4), its left end first."""
    edges = np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
    turned = edges[:, 0] > edges[:, 2]
    edges[turned] = edges[turned][:, [2, 3, 0, 1]]
    return np.ascontiguousarray(edges[edges[:, 0] < edges[:, 2]])


def windows(runs: Runs, wood: Floats, left_x: float, limit: Box) -> list[Box]:
    """Return boxes in which alone a figure's origin may lie, from the left.

    Parameters
    ----------
    left_x
        The figure's left end from its origin.
    limit
        Box of positions that keep the figure's box on the board.
    """
    x0, y0, x1, y1 = limit
    stands = standing(runs.first, runs.y, wood, y0, y1, SLACK_MM)
    is_there = stands[:, 0] <= stands[:, 1]
    if not is_there.any():
        return []
    fits = np.concatenate([[0], is_there.astype(np.int8), [0]])
    starts, ends = np.flatnonzero(np.diff(fits) > 0), np.flatnonzero(np.diff(fits) < 0)
    found = []
    for start, end in zip(starts, ends, strict=True):
        for first in range(int(start), int(end), WINDOW_STEPS):
            last = min(first + WINDOW_STEPS, int(end))
            left = max(x0, runs.low_x + (first - 0.5) * STEP_MM - left_x)
            right = min(x1, runs.low_x + (last - 0.5) * STEP_MM - left_x)
            if left <= right:
                low, high = stands[first:last, 0].min(), stands[first:last, 1].max()
                found.append((left, float(low), right, float(high)))
    return found


def nearly_holds(runs: Runs, wood: Floats, share: float) -> bool:
    """Return whether some row of lines has stretches as long as a share of a figure's wood.

    At its ends, where it changes most when it leans, a figure is not looked at.
    """
    heights = (wood[1:-1, 1] - wood[1:-1, 0]) * share - SLACK_MM
    longest = runs.longest
    if len(heights) == 0 or len(heights) > len(longest):
        return len(heights) == 0
    return bool((sliding_window_view(longest, len(heights)) >= heights).all(axis=1).any())


def free_beside(free: BaseGeometry, parts: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return free wood less the parts that lie there, or what else is in the way.

    On corners as they come, unlike ``overlay``, which takes twice as long: where that goes wrong
    a window is missed or a bound is off, but no part comes to lie where it may not.
    """
    return free.difference(shapely.union_all(parts)) if parts else free
