"""Simplify a polygon outward: fewer corners, nothing of the original left outside.

A curved part is sampled finely; the search needs only a hull of it that is nowhere smaller
and nowhere more than a tolerance larger. Straight-sided figures come back untouched.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

Points = NDArray[np.float64]

FEW_CORNERS = 12
"""Rings with no more corners than this are left as they are."""


def simplified_outward(polygon: Polygon, tolerance_mm: float) -> Polygon:
    """Return a polygon that contains ``polygon`` and nowhere stands off it by more.

    Parameters
    ----------
    tolerance_mm
        Greatest distance from a new corner to the original outline. mm, over 0.
    """
    turned = orient(polygon)
    shell = _simplified_ring(np.asarray(turned.exterior.coords)[:-1], tolerance_mm)
    holes = [
        _simplified_ring(np.asarray(ring.coords)[:-1], tolerance_mm) for ring in turned.interiors
    ]
    simple = Polygon(shell, [hole for hole in holes if len(hole) >= 3])
    return simple if simple.is_valid and simple.buffer(1e-7).contains(polygon) else polygon


def _simplified_ring(corners: Points, tolerance_mm: float) -> Points:
    """Return a ring with the wood on its left, with corners taken out one by one."""
    ring, spent = [tuple(map(float, corner)) for corner in corners], [0.0] * len(corners)
    is_changed = True
    while is_changed and len(ring) > FEW_CORNERS:
        is_changed = False
        position = 0
        while position < len(ring) and len(ring) > FEW_CORNERS:
            if _fill_hollow(ring, spent, position, tolerance_mm) or _extend_edge(
                ring, spent, position, tolerance_mm
            ):
                is_changed = True
            position += 1
    return np.array(ring)


Corner = tuple[float, ...]


def _fill_hollow(ring: list[Corner], spent: list[float], i: int, tolerance_mm: float) -> bool:
    """Take out a reflex corner: the chord across it adds wood."""
    before, after = (i - 1) % len(ring), (i + 1) % len(ring)
    a, b, c = ring[before], ring[i], ring[after]
    if _cross(a, b, c) > 0:
        return False
    added = _height(b, a, c) + spent[i]
    if added > tolerance_mm:
        return False
    for end in (before, after):
        spent[end] = max(spent[end], added)
    del ring[i], spent[i]
    return True


def _extend_edge(ring: list[Corner], spent: list[float], i: int, tolerance_mm: float) -> bool:
    """Replace the edge after corner i by the point where its two neighbours meet outside."""
    n = len(ring)
    a, b, c, d = ring[i - 1], ring[i], ring[(i + 1) % n], ring[(i + 2) % n]
    if _cross(a, b, c) <= 0 or _cross(b, c, d) <= 0:
        return False
    meeting = _meeting(a, b, c, d)
    if meeting is None:
        return False
    added = _height(meeting, b, c) + max(spent[i], spent[(i + 1) % n])
    if added > tolerance_mm:
        return False
    ring[i], spent[i] = meeting, added
    del ring[(i + 1) % n], spent[(i + 1) % n]
    return True


def _cross(a: Corner, b: Corner, c: Corner) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _height(point: Corner, a: Corner, b: Corner) -> float:
    """Return the distance of a point from the line through a and b."""
    base = float(np.hypot(b[0] - a[0], b[1] - a[1]))
    return abs(_cross(a, b, point)) / base if base > 0 else float("inf")


def _meeting(a: Corner, b: Corner, c: Corner, d: Corner) -> Corner | None:
    """Return where the line a-b, run on past b, meets the line d-c, run on past c."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    turn = ux * vy - uy * vx
    if abs(turn) <= 1e-12 * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
        return None
    along = ((d[0] - a[0]) * vy - (d[1] - a[1]) * vx) / turn
    return (a[0] + along * ux, a[1] + along * uy) if along >= 1.0 else None
