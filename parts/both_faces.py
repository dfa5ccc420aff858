"""What both faces of a bevelled piece have: a bung has to lie in that, or the bevel cuts it off."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.overlay import polygons_of, shared, united, without


def both_faces(near: Polygon, far: Polygon, cut_outs: Sequence[Polygon] = ()) -> Polygon:
    """Return what a marked face and the far face share, less what is cut through both.

    The largest piece, where a bevel parts it.
    """
    return left_of(shared(near, far), cut_outs)


def left_of(wood: BaseGeometry, taken: Sequence[Polygon]) -> Polygon:
    """Return the largest piece of what is left of wood, an empty one of none."""
    left = polygons_of(without(wood, united(taken)))
    return max(left, key=lambda piece: piece.area, default=Polygon())
