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
from collections import namedtuple

import numpy as np

from nesting.engine.geometry.compiled import inner

Sums = namedtuple("Sums", "edges first boxes used")
"""Half-planes (e, 3) as normal and reach, first (s + 1), boxes (s, 4); how many sums are used."""

NIL = 1e-9
"""Depths up to this, mm, are rounding: items that touch on all sides must not seem to overlap."""

FAN = 16
"""Directions that bound a round clearance: at most 2 % of it is given away between two."""


@inner
def reach(points, start, end, nx, ny):  # type: ignore[no-untyped-def]
    """Return how far points reach along a direction."""
    far = -np.inf
    for k in range(start, end):
        far = max(far, nx * points[k, 0] + ny * points[k, 1])
    return far


@inner
def _put(sums, at, nx, ny, c):  # type: ignore[no-untyped-def]
    sums.edges[at, 0], sums.edges[at, 1], sums.edges[at, 2] = nx, ny, c
    return at + 1


@inner
def _is_met(sums, start, end, nx, ny):  # type: ignore[no-untyped-def]
    """Return whether a direction is among the half-planes already."""
    for k in range(start, end):
        if abs(sums.edges[k, 0] - nx) + abs(sums.edges[k, 1] - ny) < 1e-12:
            return True
    return False


@inner
def add_sum(sums, a, p, points, start, end, box, gap, is_round):  # type: ignore[no-untyped-def]
    """Append the sum of a fixed figure and piece p of a, kept a gap apart.

    The figure is a point, a line or a convex ring. The corners of the gap are round, in ``FAN``
    directions, or sharp.
    """
    own0, own1 = a.piece_first[p], a.piece_first[p + 1]
    begin = at = sums.first[sums.used[0]]
    size = end - start
    for k in range(size if size > 1 else 0):
        x, y = points[start + k, 0], points[start + k, 1]
        follow = start + (k + 1) % size
        ux, uy = points[follow, 0] - x, points[follow, 1] - y
        length = math.sqrt(ux * ux + uy * uy)
        nx, ny = uy / length, -ux / length
        c = nx * x + ny * y + reach(a.edges, own0, own1, -nx, -ny) + gap
        at = _put(sums, at, nx, ny, c)
    fixed = at
    for k in range(own0, own1):
        nx, ny = -a.edges[k, 2], -a.edges[k, 3]
        if not _is_met(sums, begin, fixed, nx, ny):
            at = _put(sums, at, nx, ny, reach(points, start, end, nx, ny) + a.edges[k, 4] + gap)
    for k in range(FAN if is_round else 0):
        nx, ny = math.cos(2.0 * math.pi * k / FAN), math.sin(2.0 * math.pi * k / FAN)
        far = reach(points, start, end, nx, ny) + reach(a.edges, own0, own1, -nx, -ny)
        at = _put(sums, at, nx, ny, far + gap)
    s = sums.used[0]
    own = a.piece_boxes[p]
    sums.boxes[s, 0], sums.boxes[s, 1] = box[0] - own[2] - gap, box[1] - own[3] - gap
    sums.boxes[s, 2], sums.boxes[s, 3] = box[2] - own[0] + gap, box[3] - own[1] + gap
    sums.first[s + 1] = at
    sums.used[0] = s + 1


@inner
def add_item_sums(sums, a, slot, b, j, gap):  # type: ignore[no-untyped-def]
    """Append the sums of every piece of item j of b, fixed, and every piece of a moving one."""
    for q in range(b.item_first[j], b.item_first[j + 1]):
        for p in range(a.item_first[slot], a.item_first[slot + 1]):
            start, end = b.piece_first[q], b.piece_first[q + 1]
            add_sum(sums, a, p, b.edges, start, end, b.piece_boxes[q], gap, gap < 0.0)


@inner
def add_obstacle_sums(sums, a, slot, wood, k):  # type: ignore[no-untyped-def]
    """Append the sums of obstacle k of the wood and every piece of a moving item."""
    gap = wood.boxes[k, 4]
    for p in range(a.item_first[slot], a.item_first[slot + 1]):
        start, end = wood.first[k], wood.first[k + 1]
        add_sum(sums, a, p, wood.corners, start, end, wood.boxes[k], gap, gap > 0.0)


@inner
def depth_in(sums, s, x, y):  # type: ignore[no-untyped-def]
    """Return the depth of a place in one sum, 0 outside, and the half-plane it is least in."""
    boxes, edges = sums.boxes, sums.edges
    depth, nearest = np.inf, sums.first[s]
    if x <= boxes[s, 0] or x >= boxes[s, 2] or y <= boxes[s, 1] or y >= boxes[s, 3]:
        return 0.0, nearest
    for e in range(sums.first[s], sums.first[s + 1]):
        deep = edges[e, 2] - edges[e, 0] * x - edges[e, 1] * y
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
