"""Outlines laid over each other: what they cover together, and what one leaves of another.

All round corners to a fine grid, on which GEOS is sure. On corners as they come it is not: where
edges run along each other but for their last digits, as parts of one cut do when both are turned,
it can take a whole part for shared or leave it out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import product

import numpy as np
import shapely
from shapely.geometry import GeometryCollection, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

GRID_MM = 1e-9
"""A thousandth of a touch, and still some hundred times what numbers round to in a 40 m frame."""


def why_invalid(shape: BaseGeometry) -> str:
    """Return what is wrong with a shape, and where, mm."""
    if shape.is_empty:
        return "it is empty, and encloses no wood"
    return re.sub(r"\[(\S+) (\S+)\]", r" at (\1, \2) mm", shapely.is_valid_reason(shape))


def united(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the union of shapes; an empty one of none."""
    return shapely.union_all(shapes, grid_size=GRID_MM) if len(shapes) else MultiPolygon()


def without(wood: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    """Return wood less what is taken from it."""
    left = _of_one_kind(wood)
    for some in _of_one_kind(taken):
        left = [one.difference(some, grid_size=GRID_MM) for one in left]
    return _together(left)


def shared(first: BaseGeometry, second: BaseGeometry) -> BaseGeometry:
    """Return what two shapes both cover: an area, and lines and points where they only touch."""
    pairs = product(_of_one_kind(first), _of_one_kind(second))
    return _together([one.intersection(other, grid_size=GRID_MM) for one, other in pairs])


def polygons_of(geometry: BaseGeometry) -> list[Polygon]:
    """Return the polygons in any geometry."""
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    if isinstance(geometry, MultiPolygon) or hasattr(geometry, "geoms"):
        return [polygon for part in geometry.geoms for polygon in polygons_of(part)]
    return []


def _of_one_kind(shape: BaseGeometry) -> list[BaseGeometry]:
    """Return a shape as areas, lines and points, each for itself: GEOS lays no mixture over
    anything, and what two shapes share may be one.
    """
    if not isinstance(shape, GeometryCollection):
        return [shape]
    parts = shapely.get_parts(shape)
    kinds = shapely.get_dimensions(parts)
    return [shapely.union_all(parts[kinds == kind], grid_size=GRID_MM) for kind in np.unique(kinds)]


def _together(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    return (
        shapes[0]
        if len(shapes) == 1
        else GeometryCollection([part for shape in shapes for part in shapely.get_parts(shape)])
    )
