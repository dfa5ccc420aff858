"""Which straight ways from a point are clear of what is taken, for very many ways and things.

On a board with thousands of nails nearly every way meets one, and most of them well: of each thing
the circle about it and one within it are known, so that angles alone tell of nearly all ways.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

HAIR = 1e-9
"""Circles are so much larger or smaller, as a share, than they come out: rounding decides
nothing."""


class Ways:
    """Things that ways may meet."""

    def __init__(self, things: Sequence[BaseGeometry]) -> None:
        shapes = np.array(things, dtype=object)
        self._things: NDArray[np.object_] = shapes[~shapely.is_empty(shapes)]
        shapely.prepare(self._things)
        bounds = shapely.bounds(self._things)
        self._middle = (bounds[:, :2] + bounds[:, 2:]) / 2
        self._about = _farthest(self._things, self._middle) * (1 + HAIR)
        self._within = _room_about(self._things, self._middle) * (1 - HAIR)

    def clear(self, start: tuple[float, float], ends: Floats) -> Bools:
        """Return (n,) whether the way from a point to each of (n, 2) ends touches nothing."""
        is_clear = np.ones(len(ends), dtype=bool)
        if not len(ends) or not len(self._things):
            return is_clear
        begin = np.asarray(start)
        thing, way = self._pairs(begin, ends)
        far = _nearest(self._middle[thing] - begin, ends[way] - begin)
        is_clear[way[far < self._within[thing]]] = False
        is_open = is_clear[way] & (far <= self._about[thing])
        return self._measured(is_clear, thing[is_open], way[is_open], begin, ends)

    def _pairs(self, begin: Floats, ends: Floats) -> tuple[Ints, Ints]:
        """Return (m,) things and (m,) ways that go in a direction in which the thing lies."""
        off = self._middle - begin
        far = np.hypot(*off.T)
        near = np.flatnonzero(far - self._about <= np.hypot(*(ends - begin).T).max())
        share = np.minimum(self._about[near] / np.maximum(far[near], 1e-12), 1.0)
        # One that lies about the point lies in every direction.
        half = np.where(share < 1.0, np.arcsin(share) + HAIR, np.pi)
        middle = np.arctan2(off[near, 1], off[near, 0])
        angle = np.arctan2(*(ends - begin).T[::-1])
        order = np.argsort(angle)
        turned = np.concatenate([angle[order] - 2 * np.pi, angle[order], angle[order] + 2 * np.pi])
        first = np.searchsorted(turned, middle - half, side="left")
        last = np.searchsorted(turned, middle + half, side="right")
        count = np.minimum(last - first, len(ends))
        thing = np.repeat(near, count)
        place = np.arange(len(thing)) - np.repeat(np.cumsum(count) - count, count)
        return thing, order[(np.repeat(first, count) + place) % len(ends)]

    def _measured(
        self, is_clear: Bools, thing: Ints, way: Ints, begin: Floats, ends: Floats
    ) -> Bools:
        """Return (n,) which ways stay clear once those pairs are measured that may still meet."""
        if len(way):
            ways = np.stack([np.broadcast_to(begin, ends.shape), ends], axis=1)
            lines = np.asarray(shapely.linestrings(ways))
            meets = shapely.intersects(self._things[thing], lines[way])
            is_clear[way[meets]] = False
        return is_clear


def _nearest(off: Floats, along: Floats) -> Floats:
    """Return (m,) how near (m, 2) ways from the origin come to (m, 2) points."""
    (x, y), (to_x, to_y) = off.T, along.T
    share = (x * to_x + y * to_y) / np.maximum(to_x * to_x + to_y * to_y, 1e-24)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(np.hypot(x - share * to_x, y - share * to_y))


def _farthest(things: NDArray[np.object_], middle: Floats) -> Floats:
    """Return (n,) the distance of the farthest corner of each thing from its middle."""
    corners, which = shapely.get_coordinates(things, return_index=True)
    far = np.zeros(len(things))
    np.maximum.at(far, which, np.hypot(*(corners - middle[which]).T))
    return far


def _room_about(things: NDArray[np.object_], middle: Floats) -> Floats:
    """Return (n,) the radius of the circle about each middle that lies in its thing, or 0."""
    points = np.asarray(shapely.points(middle))
    is_in = (shapely.get_dimensions(things) == 2) & shapely.contains(things, points)
    room = np.zeros(len(things))
    room[is_in] = shapely.distance(shapely.boundary(things[is_in]), points[is_in])
    return room
