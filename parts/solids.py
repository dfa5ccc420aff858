"""Solids of parts: the only module that loads cadquery, and it does so when first asked.

A solid stands in its outline's frame with the marked face on z = 0 and the far face on
z = siding; one fitted to the boat's lines hangs below its marked face, down to z = -siding.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.given import finite, numbers, told
from parts.both_faces import left_of
from parts.curves import CHORD_ERROR_MM, Points

if TYPE_CHECKING:
    import cadquery as cq

OVERRUN_MM = 5.0
"""A cutting wedge starts this far before the wood and ends as far beyond it: no two faces lie
on each other, which solid modelling resolves badly."""


def prism(shape: Polygon, height_mm: float) -> cq.Workplane:
    """Return an outline sawn square: its polygon, cut-outs too, from z = 0 to a height."""
    import cadquery as cq

    outer = _wire(np.asarray(shape.exterior.coords)[:-1])
    inner = [_wire(np.asarray(ring.coords)[:-1]) for ring in shape.interiors]
    solid = cq.Solid.extrudeLinear(outer, inner, cq.Vector(0, 0, height_mm))
    return cq.Workplane("XY").newObject([solid])


def _wire(ring: Points, z_mm: float = 0.0) -> cq.Wire:
    import cadquery as cq

    return cq.Wire.makePolygon([cq.Vector(x, y, z_mm) for x, y in ring.tolist()], close=True)


def bevelled(body: cq.Workplane, near: Points, far: Points, height_mm: float) -> cq.Workplane:
    """Return a prism with a wedge of waste taken off.

    Parameters
    ----------
    near, far
        The waste's section in the marked face and in the far face: (n, 2) mm each, not
        closed, corner for corner, matching sides parallel, so that every side is plane.
    """
    import cadquery as cq

    grow = (far - near) * (OVERRUN_MM / height_mm)
    waste = _plane_sided(near - grow, far + grow, -OVERRUN_MM, height_mm + OVERRUN_MM)
    cut = _only_solid(body).cut(waste)
    return cq.Workplane("XY").newObject(list(cut.Solids()))


def _plane_sided(low: Points, high: Points, low_mm: float, high_mm: float) -> cq.Solid:
    import cadquery as cq

    bottom = [cq.Vector(x, y, low_mm) for x, y in low.tolist()]
    top = [cq.Vector(x, y, high_mm) for x, y in high.tolist()]
    loops = [bottom, top]
    for i in range(len(bottom)):
        k = (i + 1) % len(bottom)
        loops.append([bottom[i], bottom[k], top[k], top[i]])
    faces = [cq.Face.makeFromWires(cq.Wire.makePolygon(loop, close=True)) for loop in loops]
    return cq.Solid.makeSolid(cq.Shell.makeShell(faces))


def volume_mm3(solid: cq.Workplane) -> float:
    """Return the volume of a part's solid."""
    return float(_only_solid(solid).Volume())


def extents(solid: cq.Workplane) -> tuple[float, float, float]:
    """Return how far a solid reaches along x, y and z, mm."""
    box = _the_solid(solid).BoundingBox()
    return box.xlen, box.ylen, box.zlen


def _only_solid(body: cq.Workplane) -> cq.Shape:
    import cadquery as cq

    (only,) = body.vals()
    assert isinstance(only, cq.Shape), "a part is one solid, made here"
    return only


def ruled(edges: Sequence[tuple[Points, Points]], far_z_mm: float) -> cq.Workplane:
    """Return the solid between two faces whose edges differ: bevelled, the bevel varying.

    Parameters
    ----------
    edges
        Round the piece, each the edge in the marked face, z = 0, and in the far face, (n, 2)
        mm both, point for point; each starts where the one before ended. Between edges that
        differ the side is ruled, and smooth through their points; one sawn square is faceted.
    """
    import cadquery as cq

    low, high, sides = [], [], []
    for near, far in edges:
        pairs = _cut_in(near, far)
        for one, other in pairs:
            bottom, top = _edge(one, 0.0), _edge(other, far_z_mm)
            low.append(bottom)
            high.append(top)
            sides.append(cq.Face.makeRuledSurface(bottom, top))
    caps = [cq.Face.makeFromWires(cq.Wire.assembleEdges(loop)) for loop in (low, high)]
    solid = cq.Solid.makeSolid(cq.Shell.makeShell([*caps, *sides])).fix()
    return cq.Workplane("XY").newObject([solid])


def _cut_in(near: Points, far: Points) -> list[tuple[Points, Points]]:
    """Return an edge's pieces: every chord of a square one, a bevelled one whole."""
    if len(near) > 2 and np.allclose(near, far, rtol=0, atol=1e-9):
        return [(near[i : i + 2], far[i : i + 2]) for i in range(len(near) - 1)]
    return [(near, far)]


def _edge(points: Points, z_mm: float) -> cq.Edge:
    import cadquery as cq

    corners = [cq.Vector(x, y, z_mm) for x, y in points.tolist()]
    if len(corners) == 2:
        return cq.Edge.makeLine(*corners)
    return cq.Edge.makeSpline(corners)


def sunk(body: cq.Workplane, depth_mm: float) -> cq.Workplane:
    """Return a solid moved down by a depth: what stood on z = 0 up then hangs below it."""
    return body.translate((0.0, 0.0, -depth_mm))


def notched(body: cq.Workplane, waste: Sequence[Polygon], depth_mm: float) -> cq.Workplane:
    """Return a solid behind z = 0 with shapes cut square through it."""
    deep = depth_mm + OVERRUN_MM
    return less(body, [sunk(prism(shape, deep + OVERRUN_MM), deep) for shape in waste])


def less(body: cq.Workplane, waste: Sequence[cq.Workplane]) -> cq.Workplane:
    """Return a solid without the wood of others."""
    import cadquery as cq

    cut = _only_solid(body)
    for tool in waste:
        cut = cut.cut(_only_solid(tool))
    return cq.Workplane("XY").newObject(list(cut.Solids()))


def lofted(rings: Sequence[Points]) -> cq.Workplane:
    """Return the solid through rings of four corners or more, (n, 3) mm each, smooth along it."""
    import cadquery as cq

    wires = [
        cq.Wire.makePolygon([cq.Vector(*corner) for corner in ring.tolist()], close=True)
        for ring in rings
    ]
    solid = cq.Solid.makeLoft(wires, len(wires) == 2)
    return cq.Workplane("XY").newObject([solid])


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

    solid = _the_solid(given)
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


def _the_solid(given: cq.Workplane | cq.Shape) -> cq.Shape:
    import cadquery as cq

    if not isinstance(given, cq.Workplane | cq.Shape):
        raise ShapeError(f"{told(given)} is no solid: give a cadquery Workplane or Shape")
    shapes = given.vals() if isinstance(given, cq.Workplane) else [given]
    solids = [solid for shape in shapes if isinstance(shape, cq.Shape) for solid in shape.Solids()]
    if len(solids) != 1:
        raise ShapeError(
            f"there are {len(solids)} solids, a part is one: unite them, or choose one"
        )
    return solids[0]


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
