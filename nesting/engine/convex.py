"""Cut a polygon into convex pieces, so that no-fit data are sums of convex figures.

A constrained Delaunay triangulation (GEOS, through shapely) gives triangles; those are merged
across their shared edges while the union stays convex.

References
----------
Hertel, Mehlhorn 1983, Fast triangulation of simple polygons (the merging rule: at most four
times as many pieces as the fewest possible).
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

Points = NDArray[np.float64]

BEND = 1e-9
"""Sine of the reflex bend that still passes as straight when triangles are merged."""

Ring = list[int]


def convex_pieces(polygon: Polygon) -> tuple[Points, ...]:
    """Return convex pieces that tile a polygon, each (k, 2) float, mm, anticlockwise.

    Inner rings are respected. The pieces use the polygon's own corners only.
    """
    corners = np.asarray(polygon.exterior.coords)[:-1]
    if not polygon.interiors and _is_convex(corners):
        return (_anticlockwise(corners),)
    points, rings = _triangles(polygon)
    for edge in _inner_edges(points, rings):
        _merge_across(edge, points, rings)
    return tuple(_without_straight_corners(points[ring]) for ring in rings if ring)


def _anticlockwise(corners: Points) -> Points:
    x, y = corners.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return _without_straight_corners(corners if area > 0 else corners[::-1].copy())


def _is_convex(corners: Points) -> bool:
    bends = _bends(corners)
    return bool(np.all(bends >= -BEND) or np.all(bends <= BEND))


def _bends(corners: Points) -> Points:
    """Return the sine of the turn at each corner, positive to the left."""
    into = corners - np.roll(corners, 1, axis=0)
    out = np.roll(corners, -1, axis=0) - corners
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    size = np.hypot(*into.T) * np.hypot(*out.T)
    return np.asarray(cross / np.where(size > 0, size, 1.0))


def _without_straight_corners(corners: Points) -> Points:
    keep = _bends(corners) > BEND
    return np.ascontiguousarray(corners[keep]) if keep.sum() >= 3 else corners


def _triangles(polygon: Polygon) -> tuple[Points, list[Ring]]:
    index: dict[tuple[float, float], int] = {}
    rings: list[Ring] = []
    for triangle in shapely.constrained_delaunay_triangles(polygon).geoms:
        if not isinstance(triangle, Polygon) or triangle.area <= 0:
            continue
        corners = _anticlockwise(np.asarray(triangle.exterior.coords)[:-1])
        rings.append([index.setdefault((float(x), float(y)), len(index)) for x, y in corners])
    return np.array(list(index)), rings


def _inner_edges(points: Points, rings: list[Ring]) -> list[tuple[int, int]]:
    """Return the edges shared by two triangles, longest first."""
    sides = {(a, b) for ring in rings for a, b in zip(ring, ring[1:] + ring[:1], strict=True)}
    shared = [(a, b) for a, b in sides if a < b and (b, a) in sides]
    return sorted(shared, key=lambda e: (-float(np.hypot(*(points[e[0]] - points[e[1]]))), e))


def _merge_across(edge: tuple[int, int], points: Points, rings: list[Ring]) -> None:
    """Merge the two pieces on either side of an edge if the union is convex."""
    first = _piece_with(edge, rings)
    second = _piece_with(edge[::-1], rings)
    if first is None or second is None or first == second:
        return
    left, right = rings[first], rings[second]
    start = left.index(edge[1])
    other = right.index(edge[0])
    united = left[start:] + left[:start] + (right[other:] + right[:other])[1:-1]
    if len(set(united)) == len(united) and np.all(_bends(points[united]) >= -BEND):
        rings[first], rings[second] = united, []


def _piece_with(edge: tuple[int, int], rings: list[Ring]) -> int | None:
    for number, ring in enumerate(rings):
        if edge[0] in ring and ring[(ring.index(edge[0]) + 1) % len(ring)] == edge[1]:
            return number
    return None
