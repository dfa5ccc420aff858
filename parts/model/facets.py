"""Parts as plane facets, made without solid modelling: to be looked at, and quickly.

A part's two faces are joined edge to edge, a bent plank's corners line by line. Against the solid
only this is less true: where a notch runs out at a bevelled edge its wall is a bevel's depth off,
and a curve is as faceted as the points that the part is drawn through.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from parts.curves import Points
from parts.fitted.bent import BentPlank
from parts.fitted.fitted import Fitted
from parts.fitted.two_faces import TwoFaces
from parts.model.mesh import Mesh, mesh_of
from parts.model.piece import shape_in_place
from parts.part import Part

SAME_MM = 1e-3
"""Corners nearer than this are one: far less than can be seen."""


def facets_of(part: Part) -> Mesh:
    """Return the skin of a part that has a place in the boat, in its own frame.

    A part of a family of one's own, of which only a solid is known, takes solid modelling.
    """
    if isinstance(part, BentPlank):
        return _joined(_along(part.rings()))
    if isinstance(part, Fitted):
        return _joined(_between(part.faces()))
    return mesh_of(shape_in_place(part))


def _joined(triangles: Iterator[Points]) -> Mesh:
    """Return a mesh of (3, 3) triangles, corners that they share told once."""
    corners = np.round(np.concatenate(list(triangles)) / SAME_MM) * SAME_MM
    points, number = np.unique(corners, axis=0, return_inverse=True)
    sides = number.reshape(-1, 3)
    is_flat = (sides == np.roll(sides, 1, axis=1)).any(axis=1)
    return Mesh(points, sides[~is_flat].astype(np.int64))


def _quad(a: Points, b: Points, c: Points, d: Points) -> Points:
    return np.array([a, b, c, a, c, d])


def _along(rings: list[Points]) -> Iterator[Points]:
    """Yield the skin of a body through rings of four corners."""
    for one, other in itertools.pairwise(rings):
        for i in range(4):
            k = (i + 1) % 4
            yield _quad(one[i], one[k], other[k], other[i])
    yield _quad(*rings[0])
    yield _quad(*rings[-1])


def _between(faces: TwoFaces) -> Iterator[Points]:
    """Yield the skin between a part's two faces, its cut-outs too."""
    low = -faces.siding_mm
    near, far = (_ring([getattr(edge, face) for edge in faces.edges]) for face in ("near", "far"))
    cut = shapely.union_all(list(faces.cut_outs))
    for ring, z in ((near, 0.0), (far, low)):
        yield from _face(Polygon(ring).difference(cut), z)
    for i in range(len(near)):
        k = (i + 1) % len(near)
        for start, end in _left_of(near[i], near[k], cut):
            a, b = (near[i] + at * (near[k] - near[i]) for at in (start, end))
            c, d = (far[i] + at * (far[k] - far[i]) for at in (end, start))
            yield _quad(_at(a, 0.0), _at(b, 0.0), _at(c, low), _at(d, low))
    if not cut.is_empty:
        yield from _walls(cut.boundary.intersection(Polygon(near)), low)


def _ring(edges: list[Points]) -> Points:
    """Return edges that each begin where the one before ended as one ring."""
    return np.vstack([edge[:-1] for edge in edges])


def _at(point: Points, z: float) -> Points:
    return np.array([point[0], point[1], z])


def _face(shape: BaseGeometry, z: float) -> Iterator[Points]:
    for triangle in shapely.get_parts(shapely.constrained_delaunay_triangles(shape)):
        corners = shapely.get_coordinates(triangle)[:3]
        yield np.column_stack([corners, np.full(3, z)])


def _left_of(start: Points, end: Points, cut: BaseGeometry) -> list[tuple[float, float]]:
    """Return the stretches of a line that a cut-out leaves, as shares of it."""
    line = LineString([start, end])
    if cut.is_empty or not line.intersects(cut):
        return [(0.0, 1.0)]
    pieces = [p for p in shapely.get_parts(line.difference(cut)) if p.length > SAME_MM]
    ends = [shapely.get_coordinates(piece)[[0, -1]] for piece in pieces]
    return [
        (float(np.hypot(*(a - start))) / line.length, float(np.hypot(*(b - start))) / line.length)
        for a, b in ends
    ]


def _walls(lines: BaseGeometry, low: float) -> Iterator[Points]:
    for line in shapely.get_parts(lines):
        points = shapely.get_coordinates(line)
        for a, b in itertools.pairwise(points):
            yield _quad(_at(a, 0.0), _at(b, 0.0), _at(b, low), _at(a, low))
