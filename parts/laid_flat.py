"""A solid laid flat: its outline, its thickness, and where its bevels leave it whole."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.given import finite, numbers
from parts.both_faces import left_of
from parts.curves import CHORD_ERROR_MM, Points
from parts.solids import the_solid

if TYPE_CHECKING:
    import cadquery as cq

LEVEL = 1e-6
"""Square and level are so to this: cosines, and mm in the thickness."""

GRID_MM = 1e-6
"""Corners of a solid laid flat are rounded to this, a hundredth of what sheets are read back to."""

FACETS_MM, FACETS_RAD = CHORD_ERROR_MM / 2, 0.3
"""Facets of a solid stay this near to its surface: chords then do to its outline."""

SPECK_MM2 = 1e-3
"""A gap in an outline no larger than this is rounding, no cut-out."""


BEVEL_LEAN = math.sin(math.radians(50.0))
"""A surface that leans less from upright is an edge's bevel or chamfer, else a hollow or a crown
of the face (common practice, no source)."""


@dataclass(frozen=True)
class LaidFlat:
    """A solid on z = 0, all it covers, its thickness, and whether it is just that sawn square.

    ``both_faces`` is what it covers less its bevelled edges; None if it has none.
    """

    shape: Polygon
    both_faces: Polygon | None
    thickness_mm: float
    is_square: bool
    body: cq.Workplane


def laid_flat(
    given: cq.Workplane | cq.Shape, square_to: tuple[float, float, float] | None = None
) -> LaidFlat:
    """Return a solid laid flat, its outline in the corner of x and y.

    One that lies flat keeps its directions; any other comes to lie with its longest side along x.

    Parameters
    ----------
    square_to
        Direction of its thickness; square to its largest flat face if not given.

    Raises
    ------
    ShapeError
        If there is not one solid, no direction to lay it by, or its outline is in pieces.
    """
    import cadquery as cq

    solid = the_solid(given)
    normal = _thickness_direction(solid, square_to)
    is_level = math.hypot(normal.x, normal.y) < LEVEL
    if not is_level:
        solid = solid.moved(cq.Location(cq.Plane((0, 0, 0), normal=normal)).inverse)
        solid = solid.rotate((0, 0, 0), (0, 0, 1), -long_side_deg(_covered(*faceted(solid))))
    points, triangles = faceted(solid)
    low, high = points.min(axis=0), points.max(axis=0)
    points = points - low
    thickness = round(float(high[2] - low[2]), 6)
    body = cq.Workplane("XY").newObject([solid.translate(cq.Vector(*(-low).tolist()))])
    is_square = _is_square(points[triangles], thickness)
    shape = _covered(points, triangles)
    return LaidFlat(shape, _between_bevels(shape, points[triangles]), thickness, is_square, body)


def long_side_deg(shape: Polygon) -> float:
    """Return the direction of the longer side of the least rectangle about a shape, (-90, 90]."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = np.diff(corners, axis=0)[:2]
    lengths = np.hypot(*sides.T)
    # Of two sides alike, as a square has them, the one along x.
    x, y = min(sides[lengths > lengths.max() - LEVEL], key=lambda side: abs(float(side[1])))
    degrees = math.degrees(math.atan2(y, x)) % 180.0
    degrees = degrees - 180.0 if degrees > 90.0 else degrees
    return 0.0 if abs(degrees) < LEVEL else degrees


def _thickness_direction(solid: cq.Shape, given: tuple[float, float, float] | None) -> cq.Vector:
    import cadquery as cq

    if given is not None:
        along = [finite(each, "each of square_to") for each in numbers(given, "square_to")]
        if len(along) != 3:
            raise ShapeError(f"square_to has {len(along)} numbers, must be three, as (0, 0, 1)")
        direction = cq.Vector(*along)
        if direction.Length < LEVEL:
            raise ShapeError("square_to is (0, 0, 0), which is no direction")
        return direction.normalized()
    flat = [face for face in solid.Faces() if face.geomType() == "PLANE"]
    if not flat:
        raise ShapeError("the solid has no flat face to be laid on: give square_to, as (0, 0, 1)")
    return max(flat, key=lambda face: face.Area()).normalAt().normalized()


def faceted(
    solid: cq.Shape, chord_mm: float = FACETS_MM, turn_rad: float = FACETS_RAD
) -> tuple[Points, Points]:
    """Return a solid's surface as points (n, 3) mm and the corners (k, 3) of triangles.

    They stay within a distance of the surface, and turn from one to the next by no more.
    """
    from OCP.BRepMesh import BRepMesh_IncrementalMesh  # type: ignore[attr-defined]

    # The library's own way takes the distance as a share of each edge; here it is mm.
    BRepMesh_IncrementalMesh(solid.wrapped, chord_mm, False, turn_rad, False)
    points, triangles = solid.tessellate(chord_mm, turn_rad)
    return np.array([point.toTuple() for point in points]), np.array(triangles)


def _covered(points: Points, triangles: Points) -> Polygon:
    """Return all that a surface covers as seen from above."""
    # Corners that facets share are the same to the last digit then: no cracks between them. Laid on
    # a grid as they are united, long thin facets would leave some (GEOS 3.14).
    flat = shapely.polygons(np.round(points[:, :2] / GRID_MM)[triangles] * GRID_MM)
    united = shapely.union_all(flat[shapely.area(flat) > GRID_MM])
    pieces = [piece for piece in shapely.get_parts(united) if piece.area > SPECK_MM2]
    if len(pieces) != 1:
        raise ShapeError(f"seen so, the solid is in {len(pieces)} pieces: give another square_to")
    holes = [ring for ring in pieces[0].interiors if Polygon(ring).area > SPECK_MM2]
    return Polygon(pieces[0].exterior, holes)


def _lean_of(corners: Points) -> Points:
    """Return how far triangles (k, 3, 3) are from upright: sines, (k,), 1 of one that lies flat."""
    sides = corners[:, 1:] - corners[:, :1]
    normals = np.cross(sides[:, 0], sides[:, 1])
    return np.asarray(np.abs(normals[:, 2]) / np.maximum(np.linalg.norm(normals, axis=1), 1e-12))


def _between_bevels(shape: Polygon, corners: Points) -> Polygon | None:
    """Return a shape less what triangles (k, 3, 3) that lean, and are steep, cover of it."""
    lean = _lean_of(corners)
    leaning = corners[(lean > LEVEL) & (lean < BEVEL_LEAN)][:, :, :2]
    return left_of(shape, [Polygon(each) for each in leaning]) if len(leaning) else None


def _is_square(corners: Points, thickness_mm: float) -> bool:
    """Return whether triangles (k, 3, 3) all stand upright, or lie on the lower or upper face."""
    lean = _lean_of(corners)
    heights = corners[:, :, 2]
    is_on_face = (
        np.abs(heights - np.clip(np.round(heights / thickness_mm), 0, 1) * thickness_mm) < LEVEL
    ).all(axis=1)
    return bool(((lean < LEVEL) | is_on_face).all())
