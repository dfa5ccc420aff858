"""Convex sums: where an item's origin may not lie because of one convex figure; compiled.

The sum of a fixed convex figure and the mirror image of a moving one holds every place of the
moving one's origin at which the two overlap. Each is kept as half-planes n . t <= c and a box;
the depth of a place in it is the least c - n . t.

References
----------
Minkowski sums of convex polygons: de Berg and others, Computational Geometry, 3rd ed., 13.3
(from memory): the normals of the sum are those of both figures.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from nesting.engine.geometry.arrays import (
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    NORMAL_X,
    NORMAL_Y,
    REACH,
    Floats,
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import inner
from nesting.engine.jostle.blocks import GAP, OUT_X, OUT_Y, SUPPORT, Block, Wood


class Sums(NamedTuple):
    """Half-planes (e, 3), first (s + 1), boxes (s, 4); how many sums are used, (1)."""

    edges: Floats
    first: Ints
    boxes: Floats
    used: Ints


NIL = 1e-9
"""Depths up to this, mm, are rounding: items that touch on all sides must not seem to overlap."""

FAN = 16
"""Directions that bound a round clearance: at most 2 % of it is given away between two."""


@inner
def reach(points: Floats, start: int, end: int, nx: float, ny: float) -> float:
    """Return how far points reach along a direction."""
    far = -np.inf
    for k in range(start, end):
        far = max(far, nx * points[k, X] + ny * points[k, Y])
    return far


@inner
def _put(sums: Sums, at: int, nx: float, ny: float, c: float) -> int:
    sums.edges[at, NORMAL_X], sums.edges[at, NORMAL_Y], sums.edges[at, REACH] = nx, ny, c
    return at + 1


@inner
def _is_met(sums: Sums, start: int, end: int, nx: float, ny: float) -> bool:
    """Return whether a direction is among the half-planes already."""
    for k in range(start, end):
        if abs(sums.edges[k, NORMAL_X] - nx) + abs(sums.edges[k, NORMAL_Y] - ny) < 1e-12:
            return True
    return False


@inner
def add_sum(
    sums: Sums,
    a: Block,
    p: int,
    points: Floats,
    start: int,
    end: int,
    box: Floats,
    gap: float,
    is_round: bool,
) -> None:
    """Append the sum of a fixed figure and piece p of a, kept a gap apart.

    The figure is a point, a line or a convex ring. The corners of the gap are round, in ``FAN``
    directions, or sharp.
    """
    own0, own1 = a.piece_first[p], a.piece_first[p + 1]
    begin = at = sums.first[sums.used[0]]
    size = end - start
    for k in range(size if size > 1 else 0):
        x, y = points[start + k, X], points[start + k, Y]
        follow = start + (k + 1) % size
        ux, uy = points[follow, X] - x, points[follow, Y] - y
        length = math.sqrt(ux * ux + uy * uy)
        nx, ny = uy / length, -ux / length
        c = nx * x + ny * y + reach(a.edges, own0, own1, -nx, -ny) + gap
        at = _put(sums, at, nx, ny, c)
    fixed = at
    for k in range(own0, own1):
        nx, ny = -a.edges[k, OUT_X], -a.edges[k, OUT_Y]
        if not _is_met(sums, begin, fixed, nx, ny):
            at = _put(
                sums, at, nx, ny, reach(points, start, end, nx, ny) + a.edges[k, SUPPORT] + gap
            )
    for k in range(FAN if is_round else 0):
        nx, ny = math.cos(2.0 * math.pi * k / FAN), math.sin(2.0 * math.pi * k / FAN)
        far = reach(points, start, end, nx, ny) + reach(a.edges, own0, own1, -nx, -ny)
        at = _put(sums, at, nx, ny, far + gap)
    s = sums.used[0]
    own = a.piece_boxes[p]
    sums.boxes[s, LOW_X], sums.boxes[s, LOW_Y] = (
        box[LOW_X] - own[HIGH_X] - gap,
        box[LOW_Y] - own[HIGH_Y] - gap,
    )
    sums.boxes[s, HIGH_X], sums.boxes[s, HIGH_Y] = (
        box[HIGH_X] - own[LOW_X] + gap,
        box[HIGH_Y] - own[LOW_Y] + gap,
    )
    sums.first[s + 1] = at
    sums.used[0] = s + 1


@inner
def add_item_sums(sums: Sums, a: Block, slot: int, b: Block, j: int, gap: float) -> None:
    """Append the sums of every piece of item j of b, fixed, and every piece of a moving one."""
    for q in range(b.item_first[j], b.item_first[j + 1]):
        for p in range(a.item_first[slot], a.item_first[slot + 1]):
            start, end = b.piece_first[q], b.piece_first[q + 1]
            add_sum(sums, a, p, b.edges, start, end, b.piece_boxes[q], gap, gap < 0.0)


@inner
def add_obstacle_sums(sums: Sums, a: Block, slot: int, wood: Wood, k: int) -> None:
    """Append the sums of obstacle k of the wood and every piece of a moving item."""
    gap = wood.boxes[k, GAP]
    for p in range(a.item_first[slot], a.item_first[slot + 1]):
        start, end = wood.first[k], wood.first[k + 1]
        add_sum(sums, a, p, wood.corners, start, end, wood.boxes[k], gap, gap > 0.0)


@inner
def depth_in(sums: Sums, s: int, x: float, y: float) -> tuple[float, int]:
    """Return the depth of a place in one sum, 0 outside, and the half-plane it is least in."""
    boxes, edges = sums.boxes, sums.edges
    depth, nearest = np.inf, sums.first[s]
    if (
        x <= boxes[s, LOW_X]
        or x >= boxes[s, HIGH_X]
        or y <= boxes[s, LOW_Y]
        or y >= boxes[s, HIGH_Y]
    ):
        return 0.0, nearest
    for e in range(sums.first[s], sums.first[s + 1]):
        deep = edges[e, REACH] - edges[e, NORMAL_X] * x - edges[e, NORMAL_Y] * y
        if deep < depth:
            depth, nearest = deep, e
            if deep <= NIL:
                return 0.0, nearest
    return depth, nearest


def sums_for(edges: int, count: int) -> Sums:
    """Return room for so many half-planes and sums."""
    return Sums(
        np.empty((edges, 3)),
        np.zeros(count + 1, np.int64),
        np.empty((count, 4)),
        np.zeros(1, np.int64),
    )
