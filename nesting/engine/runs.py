"""A quick look whether a figure may find room: free runs across a board against its heights.

Lines across the board, a step apart, each have a longest free run. A figure, wherever it lies,
meets as many of them one after another as its length holds steps, and at each of them some run
must be as long as the figure is high there. Where no row of lines has such runs there is no
room, and none of the dear no-fit data is made. The answer "there may be room" promises nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

STEP_MM = 25.0
"""Between lines: about a third of the shortest part's length."""

WINDOW_STEPS = 24
"""Steps in a window: where parts drift to one end, the first window mostly has the answer."""

SLACK_MM = 0.01
"""Given away on the safe side: far above all rounding, far below a saw's kerf."""


BEYOND = 1e9
"""Height, mm, given to edges that are not over a stretch: they come last and in level pairs."""


def longest_runs(free: BaseGeometry, low_x: float, high_x: float) -> Floats:
    """Return the longest free run, (m,) mm, on each line across from ``low_x`` on."""
    at = np.arange(low_x + STEP_MM / 2, high_x, STEP_MM)
    _, low_y, _, high_y = free.bounds if not free.is_empty else (0.0, 0.0, 0.0, 1.0)
    ends = np.stack([np.full(len(at), low_y - 1.0), np.full(len(at), high_y + 1.0)], axis=1)
    lines = shapely.linestrings(np.stack([np.repeat(at[:, None], 2, axis=1), ends], axis=2))
    shapely.prepare(free)
    parts, owner = shapely.get_parts(shapely.intersection(lines, free), return_index=True)
    runs = np.zeros(len(at))
    np.maximum.at(runs, owner, shapely.length(parts))
    return runs


def least_heights(shape: Polygon) -> Floats:
    """Return for each whole step of a figure's length the height it has all along it, (k,) mm.

    Of several stretches of wood above each other the highest counts.
    """
    low, _, high, _ = shape.bounds
    marks = low + STEP_MM * np.arange(int((high - low) / STEP_MM) + 1)
    if len(marks) < 2:
        return np.empty(0)
    edges = _edges(shape)
    stops = np.unique(np.concatenate([marks, edges[:, 0], edges[:, 2]]))
    stops = stops[(stops >= low) & (stops <= marks[-1])]
    left, right = stops[:-1], stops[1:]
    steps = np.searchsorted(marks, (left + right) / 2) - 1
    heights = np.full(len(marks) - 1, np.inf)
    np.minimum.at(heights, steps, _heights(edges, left, right))
    return heights


def _edges(shape: Polygon) -> Floats:
    """Return every edge that is not upright, (e, 4), its left end first."""
    rings = [np.asarray(ring.coords) for ring in (shape.exterior, *shape.interiors)]
    edges = np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
    turned = edges[:, 0] > edges[:, 2]
    edges[turned] = edges[turned][:, [2, 3, 0, 1]]
    return np.asarray(edges[edges[:, 0] < edges[:, 2]])


def _heights(edges: Floats, left: Floats, right: Floats) -> Floats:
    """Return the height that some stretch of wood has all the way between stops, (s,).

    No edge begins or ends between two stops; sorted upward, the edges over them come in pairs.
    """
    is_over = (edges[:, 0] <= left[:, None]) & (edges[:, 2] >= right[:, None])
    slope = (edges[:, 3] - edges[:, 1]) / (edges[:, 2] - edges[:, 0])
    ends = [edges[:, 1] + slope * (at[:, None] - edges[:, 0]) for at in (left, right)]
    ends = [np.where(is_over, end, BEYOND) for end in ends]
    order = np.argsort(ends[0] + ends[1], axis=1)[:, : 2 * (is_over.sum(axis=1).max() // 2)]
    low, high = (np.take_along_axis(end, order, axis=1) for end in ends)
    stretches = np.minimum(low[:, 1::2] - low[:, ::2], high[:, 1::2] - high[:, ::2])
    return np.asarray(stretches.max(axis=1))


def may_hold(runs: Floats, heights: Floats) -> bool:
    """Return False only where no place along the board has runs as long as a figure is high."""
    return bool(_fitting(runs, heights).any())


def windows(runs: Floats, heights: Floats, low_x: float) -> list[tuple[float, float]]:
    """Return ranges of x, from the left, in which alone a figure's left end may lie.

    None is much longer than a window; the board begins at ``low_x``.
    """
    fits = np.concatenate([[0], _fitting(runs, heights).astype(np.int8), [0]])
    starts, ends = np.flatnonzero(np.diff(fits) > 0), np.flatnonzero(np.diff(fits) < 0)
    found = []
    for start, end in zip(starts, ends, strict=True):
        for first in range(int(start), int(end), WINDOW_STEPS):
            last = min(first + WINDOW_STEPS, int(end))
            found.append((low_x + (first - 0.5) * STEP_MM, low_x + (last - 0.5) * STEP_MM))
    return found


def _fitting(runs: Floats, heights: Floats) -> NDArray[np.bool_]:
    """Return for each line whether it may be the first that a figure meets."""
    count = len(heights)
    if count == 0:
        return np.ones(len(runs) + 1, np.bool_)
    if count > len(runs):
        return np.zeros(0, np.bool_)
    rows = sliding_window_view(runs, count) >= heights - SLACK_MM
    return np.asarray(rows.all(axis=1))


def without(free: BaseGeometry, parts: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return free wood less the parts that lie there."""
    return free.difference(shapely.union_all(parts)) if parts else free
