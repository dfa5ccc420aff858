"""How deep a hole lies across an item's edge or in its bearing zones; compiled.

``Rings``: true edges of each outline, and of its bearing zones: segments (s, 4) with their firsts.
"""

from __future__ import annotations

import math
from collections import namedtuple

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import inner

Rings = namedtuple("Rings", "segments first zones zone_first zone_of")


@inner
def _to_segments(segments, start, end, px, py):  # type: ignore[no-untyped-def]
    """Return the distance of a point from segments, the way away from them, and if it is inside."""
    best, way_x, way_y, is_inside = np.inf, 0.0, 0.0, False
    for k in range(start, end):
        ax, ay, bx, by = segments[k]
        ux, uy = bx - ax, by - ay
        along = ((px - ax) * ux + (py - ay) * uy) / (ux * ux + uy * uy)
        along = min(max(along, 0.0), 1.0)
        vx, vy = px - ax - along * ux, py - ay - along * uy
        away = math.sqrt(vx * vx + vy * vy)
        if away < best:
            best = away
            if away > 0.0:
                way_x, way_y = vx / away, vy / away
        if (ay > py) != (by > py) and px < ax + (py - ay) / (by - ay) * ux:
            is_inside = not is_inside
    return best, way_x, way_y, is_inside


@njit(cache=True)
def hole_depth(wood, h, rings, outline, angle, is_over, x, y):  # type: ignore[no-untyped-def]
    """Return how far an item must move until a hole is wholly outside or soundly inside it.

    And the unit way to move the item. Sound is ``inside`` from every cut edge, and the bung
    clear of every bearing zone.
    """
    cosine, sine = math.cos(angle), math.sin(angle)
    dx, dy = wood.holes[h, 0] - x, wood.holes[h, 1] - y
    px, py = dx * cosine + dy * sine, -dx * sine + dy * cosine
    if is_over:
        py = -py
    start, end = rings.first[outline], rings.first[outline + 1]
    away, wx, wy, is_inside = _to_segments(rings.segments, start, end, px, py)
    out = wood.holes[h, 2] + (away if is_inside else -away)
    if out <= 0.0:
        return 0.0, 0.0, 0.0
    inward = wood.holes[h, 3] - (away if is_inside else -away)
    sign = 1.0 if is_inside else -1.0
    in_x, in_y = -wx * sign, -wy * sign
    for z in range(rings.zone_of[outline], rings.zone_of[outline + 1]):
        near, zx, zy, is_in = _to_segments(
            rings.zones, rings.zone_first[z], rings.zone_first[z + 1], px, py
        )
        deep = wood.holes[h, 4] + (near if is_in else -near)
        if deep > 0.0 and deep > inward:
            inward = deep
            turn = -1.0 if is_in else 1.0
            in_x, in_y = -zx * turn, -zy * turn
    if inward <= 0.0:
        return 0.0, 0.0, 0.0
    depth, ux, uy = (inward, in_x, in_y) if inward < out else (out, wx * sign, wy * sign)
    if is_over:
        uy = -uy
    return depth, ux * cosine - uy * sine, ux * sine + uy * cosine
