"""Solids cut at parallel planes: the sections, as areas, of a skin of triangles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.errors import ShapeError
from nesting.flat_geometry.linked import groups
from parts.curves import Points
from parts.laid_flat import faceted
from parts.model.mesh import Mesh

if TYPE_CHECKING:
    import cadquery as cq

WELD_MM = 1e-4
"""Corners of facets that lie nearer than this are one: those of two faces of a solid that meet in
an edge are so to the seventh digit, and no facet is as short."""

CHORD_MM, TURN_RAD = 0.05, 0.15
"""Facets stay so near to a solid's surface. On a ball only the turn from one to the next counts."""

Numbers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Skin:
    """The closed skin of a piece: (n, 3) points, mm, and (m, 3) corners, outward to the right."""

    points: Points
    triangles: Numbers

    @cached_property
    def low(self) -> Points:
        """The least x, y and z of it."""
        return np.asarray(self.points.min(axis=0))

    @cached_property
    def high(self) -> Points:
        """The greatest x, y and z of it."""
        return np.asarray(self.points.max(axis=0))

    @cached_property
    def edges(self) -> tuple[Numbers, Numbers]:
        """The ends of every edge once, (k, 2), and the edges of every triangle, (m, 3)."""
        sides = np.sort(self.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        ends, of_side = np.unique(sides, axis=0, return_inverse=True)
        return ends, np.asarray(of_side.reshape(-1, 3), dtype=np.int64)


def skin_of(mesh: Mesh) -> Skin:
    """Return the closed skin that the facets of a solid make.

    Raises
    ------
    ShapeError
        If they leave gaps.
    """
    from scipy.spatial import cKDTree

    near = cKDTree(mesh.points).query_pairs(WELD_MM, output_type="ndarray")
    of_point = groups(near.T.astype(np.int64), len(mesh.points))
    points = np.zeros((of_point.max() + 1, 3))
    points[of_point] = mesh.points
    corners = of_point[mesh.triangles]
    is_whole = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    skin = Skin(points, corners[is_whole])
    if not _is_closed(skin):
        raise ShapeError("the solid is not closed: its faces leave gaps")
    return skin


def skin_of_solid(solid: cq.Shape) -> Skin:
    """Return the closed skin of a solid, as facets.

    Raises
    ------
    ShapeError
        If it is not closed.
    """
    points, triangles = faceted(solid, CHORD_MM, TURN_RAD)
    return skin_of(Mesh(points, np.asarray(triangles, dtype=np.int64)))


def _is_closed(skin: Skin) -> bool:
    """Return whether every edge is run through as often one way as the other."""
    sides = skin.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    ways = np.where(sides[:, 0] < sides[:, 1], 1, -1)
    each = np.zeros(len(skin.edges[0]), dtype=np.int64)
    np.add.at(each, skin.edges[1].ravel(), ways)
    return not each.any()


def sections(skin: Skin, axis: int, places: Points) -> Iterator[tuple[int, BaseGeometry]]:
    """Yield number and section of each plane that cuts a skin, in the order of the planes.

    Parameters
    ----------
    axis
        The planes stand square to it: 0 along the boat, 1 across, 2 up.
    places
        (k,) where they stand on it, rising.
    """
    starts, stops, points = _crossings(skin, axis, places)
    if not len(starts):
        return
    order = np.argsort(starts)
    following = np.searchsorted(starts[order], stops[order])
    plane_of = starts[order] // len(skin.edges[0])
    firsts = np.flatnonzero(np.diff(plane_of, prepend=-1))
    rings = _rings(following.tolist(), firsts.tolist())
    points = points[order]
    for first, loops in zip(firsts, rings, strict=True):
        yield int(plane_of[first]), _area([points[loop] for loop in loops])


def _crossings(skin: Skin, axis: int, places: Points) -> tuple[Numbers, Numbers, Points]:
    """Return where planes cut triangles: the edges at which each cut begins and ends, numbered.

    Edges are numbered anew in each plane; points are those at which the cuts begin, (n, 2).
    """
    ends, of_triangle = skin.edges
    height = skin.points[:, axis]
    corners = height[skin.triangles]
    # A corner on a plane counts as above it: then every cut goes on in the next triangle.
    first = np.searchsorted(places, corners.min(axis=1), side="right")
    count = np.searchsorted(places, corners.max(axis=1), side="right") - first
    triangle = np.repeat(np.arange(len(corners)), count)
    before = np.repeat(np.cumsum(count) - count, count)
    plane = np.arange(len(triangle)) - before + first[triangle]
    is_above = corners[triangle] >= places[plane][:, None]
    goes_above = np.roll(is_above, -1, axis=1)
    up = (~is_above & goes_above).argmax(axis=1)
    down = (is_above & ~goes_above).argmax(axis=1)
    at = of_triangle[triangle, up]
    low, high = (skin.points[ends[at, side]] for side in (0, 1))
    share = (places[plane] - low[:, axis]) / (high[:, axis] - low[:, axis])
    points = low + share[:, None] * (high - low)
    base = plane * len(ends)
    across = [k for k in range(3) if k != axis]
    return base + at, base + of_triangle[triangle, down], points[:, across]


def _rings(following: list[int], firsts: list[int]) -> Iterator[list[list[int]]]:
    """Yield the closed loops of each plane, given which cut follows which."""
    is_done = bytearray(len(following))
    for start, stop in zip(firsts, [*firsts[1:], len(following)], strict=True):
        loops = []
        for begin in range(start, stop):
            loop = []
            while not is_done[begin]:
                is_done[begin] = 1
                loop.append(begin)
                begin = following[begin]
            if len(loop) > 2:
                loops.append(loop)
        yield loops


def _area(loops: list[Points]) -> BaseGeometry:
    """Return what lies inside an odd number of loops."""
    whole: BaseGeometry = shapely.Polygon()
    for loop in loops:
        shape = areas_of(shapely.make_valid(shapely.Polygon(loop)))
        whole = shape if whole.is_empty else areas_of(shapely.symmetric_difference(whole, shape))
    return whole


def areas_of(shape: BaseGeometry) -> BaseGeometry:
    """Return what of a shape has an area: lines and points that come with it are left out."""
    if isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
        return shape
    parts = shapely.get_parts(shape)
    flat = shapely.get_parts(parts[shapely.get_type_id(parts) == shapely.GeometryType.MULTIPOLYGON])
    single = parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON]
    return shapely.MultiPolygon([*single, *flat])
