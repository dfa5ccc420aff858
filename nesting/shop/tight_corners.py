"""Inside corners that a machine's round cutter does not reach: where they are, what it leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from nesting.flat_geometry.overlay import without
from nesting.nest import Placement

LEFT_MM = 0.1
"""Less wood left in a corner is no corner: chords of a curve leave half as much."""

SEGMENTS = 32
"""Of a quarter turn of the cutter, when its way is followed."""


@dataclass(frozen=True)
class TightCorner:
    """A place on a board where a cutter leaves wood that belongs to no part."""

    part: str
    x_mm: float
    y_mm: float
    left_mm: float


def tight_corners(placement: Placement, cutter_mm: float) -> tuple[TightCorner, ...]:
    """Return the inside corners of a placed part that a cutter of a diameter does not reach.

    It goes round outside the part, and inside its openings; an opening that it does not get into
    is told by one place.
    """
    shape, radius = placement.polygon, cutter_mm / 2
    reached = shape.buffer(radius, quad_segs=SEGMENTS).buffer(-radius, quad_segs=SEGMENTS)
    found = list[TightCorner]()
    for piece in shapely.get_parts(without(reached, shape)):
        points = shapely.get_coordinates(piece)
        if not len(points):
            continue
        away = np.asarray(shapely.distance(reached.boundary, shapely.points(points)))
        farthest = int(np.argmax(away))
        if away[farthest] > LEFT_MM:
            x, y = (float(value) for value in points[farthest])
            found.append(TightCorner(placement.label, x, y, float(away[farthest])))
    return tuple(sorted(found, key=lambda corner: (corner.x_mm, corner.y_mm)))
