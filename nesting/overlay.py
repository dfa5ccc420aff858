"""Outlines laid over each other: what they cover together, and what one leaves of another.

All round corners to a fine grid, on which GEOS is sure. On corners as they come it is not: where
edges run along each other but for their last digits, as parts of one cut do when both are turned,
it can take a whole part for shared or leave it out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

GRID_MM = 1e-9
"""A thousandth of a touch, and still some hundred times what numbers round to in a 40 m frame."""


def why_invalid(shape: BaseGeometry) -> str:
    """Return what is wrong with a shape, and where, mm."""
    return re.sub(r"\[(\S+) (\S+)\]", r" at (\1, \2) mm", shapely.is_valid_reason(shape))


def united(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the union of shapes; an empty one of none."""
    return shapely.union_all(shapes, grid_size=GRID_MM) if len(shapes) else MultiPolygon()


def without(wood: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    """Return wood less what is taken from it."""
    return wood.difference(taken, grid_size=GRID_MM)


def shared(first: BaseGeometry, second: BaseGeometry) -> BaseGeometry:
    """Return what two shapes both cover."""
    return first.intersection(second, grid_size=GRID_MM)
