"""The largest rectangles, sides along and across the board, that lie clear of everything.

1. The board is cut into columns, at the ends of what is in the way. Within a column it is
   exact where wood is free all along: blocked is whatever an edge covers there, and what lies
   inside an obstacle at the column's left side.
2. From each column rightward, column by column, the free stretches are met with the next one's.
   A rectangle ends where its stretch gets shorter; every one that cannot grow is met so.
3. Of rectangles that lie over each other several orders of taking them are tried (a beam): the
   first is taken whole, from the others what the saw leaves. What is left of a rectangle beside
   another one is one of four, so no wood needs to be looked at again.
4. Each one taken grows to the true edges, since columns are no finer than they need be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
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

MOST_FOUND, MOST_KEPT = 4000, 160
"""Rectangles that are told apart, and unlike ones that are taken in several orders."""

ALIKE = 0.9
"""Rectangles that share so much of what they cover together are one and the same."""

BEAM, BRANCHES = 8, 6
"""Selections followed at a time, and rectangles tried next in each."""

LARGEST_COUNTS = 0.05
"""The largest piece counts so much again: of equal areas a shop keeps the longer pieces."""

ROUNDING_MM = 1e-6
"""A piece of exactly the least size counts, whatever its last digits."""


@dataclass(frozen=True)
class Least:
    """What a rectangle must measure, and how far one lies from the next; mm."""

    length_mm: float
    width_mm: float
    gap_mm: float


def clear_rectangles(
    wood: Polygon, obstacles: Sequence[BaseGeometry], least: Least
) -> tuple[Rectangle, ...]:
    """Return rectangles in the wood that touch no obstacle's inside, the largest first.

    They lie ``least.gap_mm`` from each other, and cover nearly as much as any could.
    """
    low_x, low_y, high_x, high_y = wood.bounds
    if high_x - low_x < least.length_mm - ROUNDING_MM:
        return ()
    around = box(low_x - 1.0, low_y - 1.0, high_x + 1.0, high_y + 1.0)
    fixed = _edges([around.difference(wood), *obstacles])
    taken: list[Rectangle] = []
    while True:
        edges = _joined(fixed, taken, least.gap_mm)
        found = _maximal(edges, wood.bounds, least)
        if not len(found):
            return tuple(sorted(taken, key=lambda r: (-area_of(r), r)))
        chosen = _best_selection(_unlike(found), least)
        while chosen:
            first = chosen.pop(0)
            edges = _joined(fixed, [*taken, *chosen], least.gap_mm)
            taken.append(_grown(first, edges))


def area_of(rectangle: Rectangle) -> float:
    """Return a rectangle's area, mm2."""
    return (rectangle[2] - rectangle[0]) * (rectangle[3] - rectangle[1])


@dataclass(frozen=True)
class _Edges:
    """Edges of obstacles: (n, 4) from x, y to x, y; (n,) which ring's; each end of a ring."""

    ends: Floats
    owner: NDArray[np.int64]
    corners: Floats


def _edges(obstacles: Sequence[BaseGeometry]) -> _Edges:
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
    return _Edges(ends, owner, corners)


def _joined(fixed: _Edges, taken: Sequence[Rectangle], gap_mm: float) -> _Edges:
    """Return edges with those of rectangles that are taken, grown by the gap."""
    if not taken:
        return fixed
    grown = np.asarray(taken) + np.array([-gap_mm, -gap_mm, gap_mm, gap_mm])
    more = _edges(list(shapely.box(*grown.T)))
    offset = int(fixed.owner.max(initial=-1)) + 1
    return _Edges(
        np.concatenate([fixed.ends, more.ends]),
        np.concatenate([fixed.owner, more.owner + offset]),
        np.concatenate([fixed.corners, more.corners]),
    )


def _free_stretches(
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


def _columns(edges: _Edges, low: float, high: float) -> Floats:
    """Return where columns end, rising; few enough."""
    inner = edges.corners[(edges.corners > low) & (edges.corners < high)]
    corners = np.unique(np.round(inner, 6))
    if len(corners) > MOST_COLUMNS - SLICES:
        places = np.linspace(0, len(corners) - 1, MOST_COLUMNS - SLICES)
        corners = corners[places.astype(int)]
    return np.unique(np.concatenate([np.linspace(low, high, SLICES + 1), corners]))


def _maximal(edges: _Edges, bounds: Rectangle, least: Least) -> Floats:
    """Return (n, 4) rectangles of at least the least size that can grow no more."""
    low_x, low_y, high_x, high_y = bounds
    columns = _columns(edges, low_x, high_x)
    column, start, stop = _free_stretches(edges.ends, edges.owner, columns, low_y, high_y)
    is_wide = stop - start >= least.width_mm - ROUNDING_MM
    free: list[list[Stretch]] = [[] for _ in range(len(columns) - 1)]
    for at, a, b in zip(column[is_wide], start[is_wide], stop[is_wide], strict=True):
        free[at].append((float(a), float(b)))
    same = [i for i in range(1, len(free)) if free[i] != free[i - 1]]
    firsts = [0, *same]
    xs = [float(columns[i]) for i in firsts] + [float(high_x)]
    found = _swept([free[i] for i in firsts], xs, least)
    return np.asarray(found, np.float64).reshape(-1, 4)


def _swept(free: list[list[Stretch]], xs: list[float], least: Least) -> list[Rectangle]:
    """Return the rectangles over one column or more that can grow neither way."""
    found = []
    length, width = least.length_mm - ROUNDING_MM, least.width_mm - ROUNDING_MM
    for first in range(len(free)):
        before = free[first - 1] if first else []
        live = [s for s in free[first] if not _is_within(s, before)]
        last = first
        while live:
            following = free[last + 1] if last + 1 < len(free) else []
            is_long = xs[last + 1] - xs[first] >= length
            going: list[Stretch] = []
            for low, high in live:
                met = [
                    (max(low, a), min(high, b))
                    for a, b in following
                    if min(high, b) - max(low, a) >= width
                ]
                if is_long and (low, high) not in met:
                    found.append((xs[first], low, xs[last + 1], high))
                going += [s for s in met if not _is_within(s, before)]
            live, last = going, last + 1
    return found


def _is_within(stretch: Stretch, others: Sequence[Stretch]) -> bool:
    return any(a <= stretch[0] and stretch[1] <= b for a, b in others)


def _areas(rectangles: Floats) -> Floats:
    low_x, low_y, high_x, high_y = rectangles.T
    return np.asarray((high_x - low_x) * (high_y - low_y))


def _largest_first(rectangles: Floats) -> Floats:
    """Return rectangles by falling area; equal ones by their place."""
    low_x, low_y, high_x, high_y = rectangles.T
    return rectangles[np.lexsort((high_y, high_x, low_y, low_x, -np.round(_areas(rectangles), 3)))]


def _unlike(found: Floats) -> Floats:
    """Return the largest of those that cover nearly the same, largest first."""
    left = _largest_first(found)[:MOST_FOUND]
    kept: list[Floats] = []
    while len(left) and len(kept) < MOST_KEPT:
        first = left[0]
        kept.append(first)
        wide = np.minimum(left[:, 2], first[2]) - np.maximum(left[:, 0], first[0])
        tall = np.minimum(left[:, 3], first[3]) - np.maximum(left[:, 1], first[1])
        both = np.maximum(wide, 0.0) * np.maximum(tall, 0.0)
        union = _areas(left) + _areas(first[None])[0] - both
        left = left[both < ALIKE * union]
    return np.asarray(kept)


def _best_selection(found: Floats, least: Least) -> list[Rectangle]:
    """Return rectangles apart from each other, cut out of those found, that cover the most."""
    beam: list[tuple[float, list[Rectangle], Floats]] = [(0.0, [], found)]
    best: tuple[float, list[Rectangle]] = (0.0, [])
    while beam:
        nexts: dict[tuple[Rectangle, ...], tuple[float, list[Rectangle], Floats]] = {}
        for _, chosen, left in beam:
            for row in left[:BRANCHES]:
                picked = [*chosen, (float(row[0]), float(row[1]), float(row[2]), float(row[3]))]
                key = tuple(sorted(picked))
                if key not in nexts:
                    nexts[key] = (_worth(picked), picked, _beside(left, row, least))
        ranked = sorted(nexts.values(), key=lambda state: (-_promise(state), state[1]))
        for worth, picked, _ in ranked:
            if worth > best[0] * (1 + 1e-9):
                best = (worth, picked)
        beam = [state for state in ranked if len(state[2])][:BEAM]
    return best[1]


def _worth(picked: Sequence[Rectangle]) -> float:
    areas = [area_of(rectangle) for rectangle in picked]
    return sum(areas) + LARGEST_COUNTS * max(areas)


def _promise(state: tuple[float, list[Rectangle], Floats]) -> float:
    """Return what a selection is worth with all that still finds room beside each other in it."""
    worth, _, left = state
    rest: list[Rectangle] = []
    for a, b, c, d in left[:24].tolist():
        if all(a >= r[2] or c <= r[0] or b >= r[3] or d <= r[1] for r in rest):
            rest.append((a, b, c, d))
    return worth + sum(area_of(rectangle) for rectangle in rest)


def _beside(left: Floats, taken: Floats, least: Least) -> Floats:
    """Return what of rectangles the saw leaves when one is taken, largest first."""
    low_x, low_y, high_x, high_y = taken + least.gap_mm * np.array([-1.0, -1.0, 1.0, 1.0])
    apart = (left[:, 2] <= low_x) | (left[:, 0] >= high_x)
    apart |= (left[:, 3] <= low_y) | (left[:, 1] >= high_y)
    cut, pieces = left[~apart], [left[apart]]
    for side, limit in ((2, low_x), (0, high_x), (3, low_y), (1, high_y)):
        piece = cut.copy()
        clip = np.minimum if side >= 2 else np.maximum
        piece[:, side] = clip(piece[:, side], limit)
        pieces.append(piece)
    rest = np.concatenate(pieces)
    is_long = rest[:, 2] - rest[:, 0] >= least.length_mm - ROUNDING_MM
    rest = rest[is_long & (rest[:, 3] - rest[:, 1] >= least.width_mm - ROUNDING_MM)]
    return _undominated(_largest_first(rest)[:MOST_KEPT])


def _undominated(rest: Floats) -> Floats:
    """Return rectangles, largest first, without those that lie within a larger one."""
    low, high = rest[:, None, :2], rest[:, None, 2:]
    within = (rest[None, :, :2] <= low).all(axis=2) & (rest[None, :, 2:] >= high).all(axis=2)
    return rest[~np.tril(within, -1).any(axis=1)]


def _grown(rectangle: Rectangle, edges: _Edges) -> Rectangle:
    """Return a rectangle grown along the board, then across it, up to what is in the way."""
    low_x, low_y, high_x, high_y = rectangle
    turned = edges.ends[:, [1, 0, 3, 2]]
    low_x, high_x = _stretch_about((low_x, high_x), turned, edges.owner, (low_y, high_y))
    low_y, high_y = _stretch_about((low_y, high_y), edges.ends, edges.owner, (low_x, high_x))
    return low_x, low_y, high_x, high_y


def _stretch_about(
    inner: Stretch, ends: Floats, owner: NDArray[np.int64], column: Stretch
) -> Stretch:
    """Return the free stretch of a column that holds an inner one, or that one itself."""
    low, high = float(ends[:, [1, 3]].min()), float(ends[:, [1, 3]].max())
    _, starts, stops = _free_stretches(ends, owner, np.asarray(column), low, high)
    middle = (inner[0] + inner[1]) / 2
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        if start <= middle <= stop:
            return min(inner[0], start), max(inner[1], stop)
    return inner
