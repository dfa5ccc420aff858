"""Solids of parts; cadquery is loaded when first asked for one.

A solid stands in its outline's frame with the marked face on z = 0 and the far face on
z = siding; one fitted to the boat's lines hangs below its marked face, down to z = -siding.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.given import told
from parts.curves import Points

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


def _wire(ring: Points) -> cq.Wire:
    import cadquery as cq

    return cq.Wire.makePolygon([cq.Vector(x, y, 0.0) for x, y in ring.tolist()], close=True)


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


def the_solid(given: cq.Workplane | cq.Shape) -> cq.Shape:
    """Return the one solid that is given.

    Raises
    ------
    ShapeError
        If it is none, or there are several.
    """
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


def extents(solid: cq.Workplane) -> tuple[float, float, float]:
    """Return how far a solid reaches along x, y and z, mm."""
    box = the_solid(solid).BoundingBox()
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
