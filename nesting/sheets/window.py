"""One look at a board on a sheet: the whole of it at full size, or a length of it enlarged."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.sheets.drawing import Circle, Entity, Point, Polyline, Role, Tag, View


@dataclass(frozen=True)
class Window:
    """What stretch of a board is drawn where, and how large.

    Attributes
    ----------
    paper_mm
        mm of the drawing in one mm of paper: everything sized for the eye is a multiple.
    from_mm, to_mm
        The stretch along the board; without ends for the whole of it.
    times
        Enlargement over the drawing; 1 for the full-size view.
    shift
        Where the board's origin comes to, mm of the drawing.
    signs
        How large the signs of round keep-outs are, as a share of what the eye wants.
    """

    paper_mm: float
    from_mm: float = -math.inf
    to_mm: float = math.inf
    times: float = 1.0
    shift: Point = (0.0, 0.0)
    view: View = View.FULL_SIZE
    signs: float = 1.0

    @property
    def is_whole(self) -> bool:
        """Whether nothing is cut off."""
        return math.isinf(self.from_mm) and math.isinf(self.to_mm)

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 2) points of the board's frame on the drawing."""
        placed: NDArray[np.float64] = points * self.times + np.asarray(self.shift)
        return placed

    def point(self, x_mm: float, y_mm: float) -> Point:
        """Return one point of the board's frame on the drawing."""
        return x_mm * self.times + self.shift[0], y_mm * self.times + self.shift[1]

    def shows(self, x_mm: float) -> bool:
        """Return whether a place along the board lies in the stretch drawn."""
        return self.from_mm <= x_mm < self.to_mm

    def seen(self, geometry: BaseGeometry) -> BaseGeometry:
        """Return what is drawn of a geometry of the board's frame, on the drawing."""
        if not self.is_whole:
            low_y, high_y = geometry.bounds[1] - 1.0, geometry.bounds[3] + 1.0
            geometry = shapely.box(self.from_mm, low_y, self.to_mm, high_y).intersection(geometry)
        return shapely.transform(geometry, self.at)

    def all_seen(self, geometries: Sequence[BaseGeometry]) -> NDArray[np.object_]:
        """Return what is drawn of each of many geometries; nothing of one that is not."""
        found = np.array(geometries, dtype=object)
        if not len(found):
            return found
        if not self.is_whole:
            low, _, high, _ = shapely.bounds(found).T
            for number, geometry in enumerate(geometries):
                is_shown = low[number] <= self.to_mm and high[number] >= self.from_mm
                found[number] = self.seen(geometry) if is_shown else Polygon()
            return found
        placed: NDArray[np.object_] = shapely.transform(found, self.at)
        return placed

    def region(self, polygon: Polygon) -> Polygon | None:
        """Return the largest piece that is drawn of a polygon, or None."""
        pieces = [part for part in shapely.get_parts(self.seen(polygon)) if part.area > 0]
        return max(pieces, key=lambda piece: piece.area) if pieces else None

    def rings(
        self, polygon: Polygon, roles: tuple[Role, Role], tag: Tag | None = None
    ) -> tuple[Entity, ...]:
        """Return a polygon's rings as lines: the inner ones first, in the second role.

        Rings that the window cuts are drawn open.
        """
        rings = [*((ring, roles[1]) for ring in polygon.interiors), (polygon.exterior, roles[0])]
        if self.is_whole:
            return tuple(
                self._closed(ring, role, numbered(tag, number))
                for (ring, role), number in zip(rings, [*range(1, len(rings)), 0], strict=True)
            )
        return tuple(
            entity for ring, role in rings for entity in self.lines(LineString(ring.coords), role)
        )

    def _closed(self, ring: LinearRing, role: Role, tag: Tag | None) -> Polyline:
        corners = self.at(shapely.get_coordinates(ring)[:-1])
        placed: tuple[Point, ...] = tuple(map(tuple, corners.tolist()))
        return Polyline(placed, role, True, view=self.view, tag=self.tag(tag))

    def tag(self, tag: Tag | None) -> Tag | None:
        """Return a tag for the full-size view alone: a copy is never read back."""
        return tag if self.view is View.FULL_SIZE else None

    def lines(self, geometry: BaseGeometry, role: Role) -> tuple[Entity, ...]:
        """Return what is drawn of lines of the board's frame."""
        return as_lines(shapely.line_merge(self.seen(geometry)), role, self.view)

    def circle(
        self, x_mm: float, y_mm: float, radius_mm: float, role: Role, tag: Tag | None = None
    ) -> tuple[Entity, ...]:
        """Return a circle, whole, if its centre is drawn."""
        if not self.shows(x_mm):
            return ()
        centre = self.point(x_mm, y_mm)
        return (Circle(centre, radius_mm * self.times, role, self.view, self.tag(tag)),)


def numbered(tag: Tag | None, ring: int) -> Tag | None:
    """Return a tag that says which ring of its polygon a line is; 0 is the outer one."""
    return tag and Tag(tag.subject, (*tag.fields, ("ring", str(ring))))


def as_lines(geometry: BaseGeometry, role: Role, view: View) -> tuple[Entity, ...]:
    """Return the lines in a geometry; points and stubs without length are left out."""
    parts = shapely.get_parts(shapely.get_parts(geometry))
    parts = parts[(shapely.get_dimensions(parts) == 1) & (shapely.length(parts) > 0)]
    found = []
    for part in parts:
        points = tuple((x, y) for x, y in shapely.get_coordinates(part).tolist())
        is_closed = len(points) > 3 and points[0] == points[-1]
        found.append(Polyline(points[:-1] if is_closed else points, role, is_closed, view=view))
    return tuple(found)
