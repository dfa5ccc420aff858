"""The largest rectangles, sides along and across the board, that lie clear of everything.

1. The board is cut into columns, at the ends of what is in the way, and where wood is free all
   along a column is told exactly (``free_stretches``).
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
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.free_stretches import (
    Edges,
    Floats,
    Rectangle,
    Stretch,
    columns_of,
    edges_of,
    free_stretches,
    joined,
    stretch_about,
)

MOST_FOUND, MOST_KEPT = 4000, 160
"""Rectangles that are told apart, and unlike ones that are taken in several orders."""

ALIKE = 0.9
"""Rectangles that share so much of what they cover together are one and the same."""

BEAM, BRANCHES = 8, 6
"""Selections followed at a time, and rectangles tried next in each."""

LARGEST_COUNTS = 0.15
"""The largest piece counts so much again: a shop keeps one long piece rather than three that cover
little more (common practice, no source)."""

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
    fixed = edges_of([around.difference(wood), *obstacles])
    taken: list[Rectangle] = []
    while True:
        edges = joined(fixed, taken, least.gap_mm)
        found = _maximal(edges, wood.bounds, least)
        if not len(found):
            return tuple(sorted(taken, key=lambda r: (-area_of(r), r)))
        chosen = _best_selection(_unlike(found), least)
        while chosen:
            first = chosen.pop(0)
            edges = joined(fixed, [*taken, *chosen], least.gap_mm)
            taken.append(_grown(first, edges))


def area_of(rectangle: Rectangle) -> float:
    """Return a rectangle's area, mm2."""
    return (rectangle[2] - rectangle[0]) * (rectangle[3] - rectangle[1])


def _maximal(edges: Edges, bounds: Rectangle, least: Least) -> Floats:
    """Return (n, 4) rectangles of at least the least size that can grow no more."""
    low_x, low_y, high_x, high_y = bounds
    columns = columns_of(edges, low_x, high_x)
    column, start, stop = free_stretches(edges.ends, edges.owner, columns, low_y, high_y)
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
    low_x, low_y, high_x, high_y = rest.T
    within = (low_x <= low_x[:, None]) & (low_y <= low_y[:, None])
    within &= (high_x >= high_x[:, None]) & (high_y >= high_y[:, None])
    return np.asarray(rest[~np.tril(within, -1).any(axis=1)])


def _grown(rectangle: Rectangle, edges: Edges) -> Rectangle:
    """Return a rectangle grown along the board, then across it, up to what is in the way."""
    low_x, low_y, high_x, high_y = rectangle
    turned = edges.ends[:, [1, 0, 3, 2]]
    low_x, high_x = stretch_about((low_x, high_x), turned, edges.owner, (low_y, high_y))
    low_y, high_y = stretch_about((low_y, high_y), edges.ends, edges.owner, (low_x, high_x))
    return low_x, low_y, high_x, high_y
