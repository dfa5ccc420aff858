"""Outlines drawn with thousands of corners, thinned before anything looks at each of them.

Shifted by a hair, then rid of corners by less than the hair: what comes of it holds the outline
wholly, or lies wholly within it. The referee and the sheets keep to the true line.
"""

from __future__ import annotations

from functools import lru_cache

import shapely
from shapely.geometry import Polygon

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
    thin = polygon.buffer(HAIR_MM).simplify(LESS_MM)
    return thin if isinstance(thin, Polygon) and thin.contains(polygon) else polygon


def thinned_inward(polygon: Polygon) -> Polygon:
    """Return a polygon with few corners within one with many, or that one itself."""
    return polygon if _corners(polygon) <= MANY_CORNERS else _inward(polygon)


@lru_cache(maxsize=KEPT)
def _inward(polygon: Polygon) -> Polygon:
    thin = polygon.buffer(-HAIR_MM).simplify(LESS_MM)
    return thin if isinstance(thin, Polygon) and polygon.contains(thin) else polygon


def thinned(polygon: Polygon) -> Polygon:
    """Return a polygon with few corners nowhere farther than ``LESS_MM`` from one with many."""
    return polygon if _corners(polygon) <= MANY_CORNERS else _simpler(polygon)


@lru_cache(maxsize=KEPT)
def _simpler(polygon: Polygon) -> Polygon:
    thin = polygon.simplify(LESS_MM)
    return thin if isinstance(thin, Polygon) else polygon


def _corners(polygon: Polygon) -> int:
    return int(shapely.get_num_coordinates(polygon))
