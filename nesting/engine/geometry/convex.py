"""Cut a polygon into convex pieces, so that no-fit data are sums of convex figures.

A constrained Delaunay triangulation (GEOS, through shapely) gives triangles; those are merged
across their shared edges while the union stays convex.

References
----------
Hertel, Mehlhorn 1983, Fast triangulation of simple polygons (the merging rule: at most four
times as many pieces as the fewest possible).
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

Points = NDArray[np.float64]
Corner = tuple[float, float]

BEND = 1e-9
"""Sine of the reflex bend that still passes as straight when triangles are merged."""


def convex_pieces(polygon: Polygon) -> tuple[Points, ...]:
    """Return convex pieces that tile a polygon, each (k, 2) float, mm, anticlockwise.

    Inner rings are respected. The pieces use the polygon's own corners only.
    """
    corners = [(float(x), float(y)) for x, y in orient(polygon).exterior.coords[:-1]]
    if not polygon.interiors and _is_convex(corners):
        return (_as_array(corners),)
    return tuple(_as_array(ring) for ring in _Merger(_triangles(polygon)).merged())


def _is_convex(ring: list[Corner]) -> bool:
    n = len(ring)
    return all(_bend(ring[i - 1], ring[i], ring[(i + 1) % n]) >= -BEND for i in range(n))


def _bend(a: Corner, b: Corner, c: Corner) -> float:
    """Return the sine of the turn at b on the way from a to c, positive to the left."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - b[0], c[1] - b[1]
    size = math.hypot(ux, uy) * math.hypot(vx, vy)
    return (ux * vy - uy * vx) / size if size > 0 else 0.0


def _as_array(ring: list[Corner]) -> Points:
    """Return a ring as (k, 2) without the corners at which it runs straight on."""
    n = len(ring)
    kept = [ring[i] for i in range(n) if _bend(ring[i - 1], ring[i], ring[(i + 1) % n]) > BEND]
    return np.array(kept if len(kept) >= 3 else ring)


def _triangles(polygon: Polygon) -> list[list[Corner]]:
    """Return the corners of each triangle, anticlockwise."""
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    points = shapely.get_coordinates(parts[shapely.area(parts) > 0]).reshape(-1, 4, 2)[:, :3]
    u, v = points[:, 1] - points[:, 0], points[:, 2] - points[:, 1]
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    points[turn < 0] = points[turn < 0, ::-1]
    return [[(x, y) for x, y in triangle] for triangle in points.tolist()]


class _Merger:
    """Pieces that are merged across shared edges; knows which piece lies left of an edge."""

    def __init__(self, rings: list[list[Corner]]) -> None:
        self._rings = dict(enumerate(rings))
        self._left_of = {
            edge: number for number, ring in self._rings.items() for edge in _edges(ring)
        }

    def merged(self) -> list[list[Corner]]:
        """Return the pieces after trying every shared edge, longest first."""
        shared = [e for e in self._left_of if e[0] < e[1] and e[::-1] in self._left_of]
        for edge in sorted(shared, key=lambda e: (-math.dist(*e), e)):
            self._merge_across(edge)
        return list(self._rings.values())

    def _merge_across(self, edge: tuple[Corner, Corner]) -> None:
        first, second = self._left_of[edge], self._left_of[edge[::-1]]
        left, right = self._rings[first], self._rings[second]
        start, other = left.index(edge[1]), right.index(edge[0])
        ahead = left[start:] + left[:start]
        beyond = (right[other:] + right[:other])[1:-1]
        at_end = _bend(ahead[-2], ahead[-1], beyond[0])
        at_start = _bend(beyond[-1], ahead[0], ahead[1])
        if first == second or min(at_end, at_start) < -BEND:
            return
        self._rings[first] = ahead + beyond
        del self._rings[second], self._left_of[edge], self._left_of[edge[::-1]]
        for side in _edges(self._rings[first]):
            self._left_of[side] = first


def _edges(ring: list[Corner]) -> list[tuple[Corner, Corner]]:
    return list(zip(ring, ring[1:] + ring[:1], strict=True))
