"""Where wood is free all along a column of a board: exact, from the edges of what is in the way.

Blocked in a column is whatever an edge covers there, and what lies inside an obstacle at the
column's left side; all else is free from the one side of the column to the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Rectangle = tuple[float, float, float, float]
"""Low x, low y, high x, high y; mm."""
Stretch = tuple[float, float]

SLICES = 96
"""Columns of equal width, besides those that end where an obstacle does."""

MOST_COLUMNS = 500
"""With more, neighbours are joined: what is blocked in one of them is blocked in both."""

FEW_CORNERS = 16
"""Columns end at every corner of obstacles with no more; of others at their ends alone."""


@dataclass(frozen=True)
class Edges:
    """Edges of obstacles: (n, 4) from x, y to x, y; (n,) which ring's; each end of a ring."""

    ends: Floats
    owner: NDArray[np.int64]
    corners: Floats


def edges_of(obstacles: Sequence[BaseGeometry]) -> Edges:
    """Return the edges of polygons; the inner rings of one belong to it."""
    polygons = [part for part in shapely.get_parts(list(obstacles)) if isinstance(part, Polygon)]
    rings, of = shapely.get_rings(polygons, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    is_inner = ring[1:] == ring[:-1]
    ends = np.hstack([points[:-1], points[1:]])[is_inner]
    owner = np.asarray(of, np.int64)[ring[:-1][is_inner]]
    counts = np.bincount(owner, minlength=len(polygons))
    bounds = shapely.bounds(polygons).reshape(-1, 4)
    corners = np.concatenate([ends[counts[owner] <= FEW_CORNERS][:, 0], bounds[:, [0, 2]].ravel()])
    return Edges(ends, owner, corners)


def joined(fixed: Edges, taken: Sequence[Rectangle], gap_mm: float) -> Edges:
    """Return edges with those of rectangles that are taken, grown by the gap."""
    if not taken:
        return fixed
    grown = np.asarray(taken) + np.array([-gap_mm, -gap_mm, gap_mm, gap_mm])
    more = edges_of(list(shapely.box(*grown.T)))
    offset = int(fixed.owner.max(initial=-1)) + 1
    return Edges(
        np.concatenate([fixed.ends, more.ends]),
        np.concatenate([fixed.owner, more.owner + offset]),
        np.concatenate([fixed.corners, more.corners]),
    )


def free_stretches(
    ends: Floats, owner: NDArray[np.int64], columns: Floats, low: float, high: float
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return every stretch between low and high that is free all along a column.

    Three arrays: which column, from where, to where.
    """
    touched = _covered_by_edges(ends, columns)
    inside = _inside_at_left(ends, owner, columns)
    every = np.arange(len(columns) - 1)
    edge = np.full(len(every), 1.0)
    column = np.concatenate([touched[0], inside[0], every, every])
    start = np.concatenate([touched[1], inside[1], low - edge, high * edge])
    stop = np.concatenate([touched[2], inside[2], low * edge, high + edge])
    start, stop = np.clip(start, low - 1.0, high), np.clip(stop, low, high + 1.0)
    # Columns one above the other, so that all are swept at once.
    tall = high - low + 4.0
    order = np.lexsort((start, column))
    column, start, stop = column[order], start[order], stop[order]
    reached = np.maximum.accumulate(stop + column * tall)
    is_free = start[1:] + column[1:] * tall > reached[:-1]
    is_free &= column[1:] == column[:-1]
    at = np.flatnonzero(is_free)
    return column[at], reached[at] - column[at] * tall, start[at + 1]


def _covered_by_edges(ends: Floats, columns: Floats) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return which column each edge reaches into, and from where to where it goes there."""
    rightward = ends[:, 0] <= ends[:, 2]
    left = np.where(rightward[:, None], ends[:, :2], ends[:, 2:])
    right = np.where(rightward[:, None], ends[:, 2:], ends[:, :2])
    first = np.searchsorted(columns, left[:, 0], side="right") - 1
    last = np.searchsorted(columns, right[:, 0], side="left")
    first, last = np.maximum(first, 0), np.minimum(last, len(columns) - 1)
    counts = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(ends)), counts)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts) + first[edge]
    a, b = left[edge], right[edge]
    run = np.maximum(b[:, 0] - a[:, 0], 1e-300)

    def height_at(x: Floats) -> Floats:
        share = np.clip((x - a[:, 0]) / run, 0.0, 1.0)
        return np.asarray(a[:, 1] + share * (b[:, 1] - a[:, 1]))

    is_upright = b[:, 0] <= a[:, 0]
    one = np.where(is_upright, a[:, 1], height_at(columns[column]))
    other = np.where(is_upright, b[:, 1], height_at(columns[column + 1]))
    return column, np.minimum(one, other), np.maximum(one, other)


def _inside_at_left(
    ends: Floats, owner: NDArray[np.int64], columns: Floats
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return what lies inside an obstacle just right of each column's left side."""
    left, right = np.minimum(ends[:, 0], ends[:, 2]), np.maximum(ends[:, 0], ends[:, 2])
    first = np.searchsorted(columns[:-1], left, side="left")
    last = np.searchsorted(columns[:-1], right, side="left")
    counts = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(ends)), counts)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts) + first[edge]
    x1, y1, x2, y2 = ends[edge].T
    height = y1 + (columns[column] - x1) / (x2 - x1) * (y2 - y1)
    order = np.lexsort((height, owner[edge], column))
    column, height = column[order], height[order]
    return column[::2], height[::2], height[1::2]


def columns_of(edges: Edges, low: float, high: float) -> Floats:
    """Return where columns end, rising; few enough."""
    inner = edges.corners[(edges.corners > low) & (edges.corners < high)]
    corners = np.unique(np.round(inner, 6))
    if len(corners) > MOST_COLUMNS - SLICES:
        places = np.linspace(0, len(corners) - 1, MOST_COLUMNS - SLICES)
        corners = corners[places.astype(int)]
    return np.unique(np.concatenate([np.linspace(low, high, SLICES + 1), corners]))


def stretch_about(
    inner: Stretch, ends: Floats, owner: NDArray[np.int64], column: Stretch
) -> Stretch:
    """Return the free stretch of a column that holds an inner one, or that one itself."""
    low, high = float(ends[:, [1, 3]].min()), float(ends[:, [1, 3]].max())
    _, starts, stops = free_stretches(ends, owner, np.asarray(column), low, high)
    middle = (inner[0] + inner[1]) / 2
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        if start <= middle <= stop:
            return min(inner[0], start), max(inner[1], stop)
    return inner
