"""How deep a hole lies across an item's edge or in its bearing zones; compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from nesting.engine.geometry.arrays import Floats, Ints, X, Y
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import BUNG, INSIDE, OUTSIDE, Wood


class Rings(NamedTuple):
    """True edges of each outline, and of its bearing zones: segments (s, 4) with their firsts."""

    segments: Floats
    first: Ints
    zones: Floats
    zone_first: Ints
    zone_of: Ints


@inner
def _to_segments(
    segments: Floats, start: int, end: int, px: float, py: float
) -> tuple[float, float, float, bool]:
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


@door
def hole_depth(
    wood: Wood, h: int, rings: Rings, outline: int, angle: float, is_over: bool, x: float, y: float
) -> tuple[float, float, float]:
    """Return how far an item must move until a hole is wholly outside or soundly inside it.

    And the unit way to move the item. Sound is ``inside`` from every cut edge, and the bung
    clear of every bearing zone.
    """
    cosine, sine = math.cos(angle), math.sin(angle)
    dx, dy = wood.holes[h, X] - x, wood.holes[h, Y] - y
    px, py = dx * cosine + dy * sine, -dx * sine + dy * cosine
    if is_over:
        py = -py
    start, end = rings.first[outline], rings.first[outline + 1]
    away, wx, wy, is_inside = _to_segments(rings.segments, start, end, px, py)
    out = wood.holes[h, OUTSIDE] + (away if is_inside else -away)
    if out <= 0.0:
        return 0.0, 0.0, 0.0
    inward = wood.holes[h, INSIDE] - (away if is_inside else -away)
    sign = 1.0 if is_inside else -1.0
    in_x, in_y = -wx * sign, -wy * sign
    for z in range(rings.zone_of[outline], rings.zone_of[outline + 1]):
        near, zx, zy, is_in = _to_segments(
            rings.zones, rings.zone_first[z], rings.zone_first[z + 1], px, py
        )
        deep = wood.holes[h, BUNG] + (near if is_in else -near)
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
