"""Inside corners that a machine's round cutter does not reach: where they are, what it leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from nesting.flat_geometry.line_distances import distances
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
    pieces = shapely.get_parts(without(reached, shape))
    points, which = shapely.get_coordinates(pieces, return_index=True)
    away = distances(reached.boundary, points)
    found = list[TightCorner]()
    for piece in np.unique(which[away > LEFT_MM]):
        own = np.flatnonzero(which == piece)
        farthest = own[int(np.argmax(away[own]))]
        x, y = (float(value) for value in points[farthest])
        found.append(TightCorner(placement.label, x, y, float(away[farthest])))
    return tuple(sorted(found, key=lambda corner: (corner.x_mm, corner.y_mm)))
