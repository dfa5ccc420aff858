"""Outlines drawn with thousands of corners, thinned before anything looks at each of them.

Shifted by a hair, then rid of corners by less than the hair: what comes of it holds the outline
wholly, or lies wholly within it. The referee and the sheets keep to the true line.
"""

from __future__ import annotations

from functools import lru_cache

import shapely
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

MANY_CORNERS = 500
"""Outlines with no more corners than this are left as they are."""

HAIR_MM, LESS_MM = 0.05, 0.04
"""By how much an outline is shifted, and how far a corner that goes may lie off the new line: the
difference is more than rounded corners of the shift are cut by."""

THIN_MM = HAIR_MM + LESS_MM
"""How far an outline thinned outward may lie off the true one; inward, a jagged edge may end at the
bottom of its notches."""

KEPT = 1_000
"""Outlines of many corners whose thinned ones are kept: they are asked for often."""


def thinned_outward(polygon: Polygon) -> Polygon:
    """Return a polygon with few corners that holds one with many, or that one itself."""
    return polygon if _corners(polygon) <= MANY_CORNERS else _outward(polygon)


@lru_cache(maxsize=KEPT)
def _outward(polygon: Polygon) -> Polygon:
    thin = _with_fewer(polygon.buffer(HAIR_MM))
    return thin if isinstance(thin, Polygon) and thin.contains(polygon) else polygon


def thinned_inward(polygon: Polygon) -> Polygon:
    """Return a polygon with few corners within one with many, or that one itself."""
    return polygon if _corners(polygon) <= MANY_CORNERS else _inward(polygon)


@lru_cache(maxsize=KEPT)
def _inward(polygon: Polygon) -> Polygon:
    thin = _with_fewer(polygon.buffer(-HAIR_MM))
    return thin if isinstance(thin, Polygon) and polygon.contains(thin) else polygon


def thinned(polygon: Polygon) -> Polygon:
    """Return a polygon with few corners nowhere farther than ``LESS_MM`` from one with many."""
    return polygon if _corners(polygon) <= MANY_CORNERS else _simpler(polygon)


@lru_cache(maxsize=KEPT)
def _simpler(polygon: Polygon) -> Polygon:
    thin = _with_fewer(polygon)
    return thin if isinstance(thin, Polygon) else polygon


def _with_fewer(shape: BaseGeometry) -> BaseGeometry:
    """Return a shape without corners that lie within ``LESS_MM`` of what is left.

    Each ring by itself: of 3,000 corners that takes a thirtieth of the time in which the library
    sees to it that no two lines cross. It does so only where they would.
    """
    if isinstance(shape, Polygon) and not shape.is_empty:
        rings = [_ring_with_fewer(ring) for ring in (shape.exterior, *shape.interiors)]
        thin = Polygon(rings[0], rings[1:])
        if thin.is_valid:
            return thin
    return shape.simplify(LESS_MM)


def _ring_with_fewer(ring: LinearRing) -> LinearRing:
    thin = shapely.simplify(ring, LESS_MM, preserve_topology=False)
    return thin if len(thin.coords) > 3 else ring


def _corners(polygon: Polygon) -> int:
    return int(shapely.get_num_coordinates(polygon))
