"""One line or curve of a drawing, kind by kind, as points in mm."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from nesting.dxf_file.entities import BrokenError, EmptyError, Entity
from nesting.dxf_file.flat import (
    Frame,
    Points,
    SplineData,
    arc,
    bulged,
    ellipse,
    fitted,
    plane_axes,
    spline,
    sweep_of,
)

_SPLINE_FITTED = 4
"""Flag of a polyline that a spline was fitted to: only there are corners that are not on it."""

_SPLINE_FRAME = 16
"""Flag of a polyline's vertex that only controls a fitted curve and is not on it."""

LEANING = 1e-3
"""How far a half axis may rise over its length: its ellipse is less narrow by a millionth."""

_IN_SPACE = 8
"""Flag of a polyline whose corners each have their own height."""


class Drawn:
    """One entity that is a line or curve: its points in mm, and what else it says."""

    def __init__(self, entity: Entity, frame: Frame) -> None:
        self._entity = entity
        self._frame = frame
        self.is_closed = False
        self.circle: tuple[float, float, float] | None = None
        self.width_mm = 0.0

    def points(self) -> Points:
        """Return (n, 3) points, mm; those of a ring without its first once more, or with it."""
        reads: dict[str, Callable[[], Points]] = {
            "LINE": self._line,
            "ARC": self._arc,
            "CIRCLE": self._circle,
            "ELLIPSE": self._ellipse,
            "SPLINE": self._spline,
            "LWPOLYLINE": self._polyline,
            "POLYLINE": self._old_polyline,
        }
        return np.asarray(reads[self._entity.kind]())

    def _line(self) -> Points:
        ends = [self._entity.point(10, what="start"), self._entity.point(11, what="end")]
        return self._frame.points(np.array(ends))

    def _round(self) -> tuple[Frame, Points, float]:
        """Return the plane, the centre in it and the radius of a circle or an arc."""
        x, y, z = self._entity.point(10, what="centre")
        radius = self._entity.number(40, what="radius")
        return self._frame.of_plane(self._entity, z), np.array([x, y]), radius

    def _circle(self) -> Points:
        plane, centre, radius = self._round()
        flat = arc(centre, radius, 0.0, 2 * math.pi, plane.sagitta)[:-1]
        self.is_closed = True
        if plane.plan_scale is not None:
            x, y, _ = plane.points(centre[None])[0].tolist()
            self.circle = (x, y, 2 * radius * plane.plan_scale)
        return plane.points(flat)

    def _arc(self) -> Points:
        plane, centre, radius = self._round()
        start = math.radians(self._entity.number(50, what="start angle"))
        end = math.radians(self._entity.number(51, what="end angle"))
        return plane.points(arc(centre, radius, start, sweep_of(start, end), plane.sagitta))

    def _ellipse(self) -> Points:
        centre = np.array(self._entity.point(10, what="centre"))
        major = np.array(self._entity.point(11, what="half axis"))
        ratio = self._entity.number(40, what="ratio of its axes")
        square = plane_axes(self._entity)[:, 2]
        if abs(square @ major) > LEANING * np.linalg.norm(major):
            raise BrokenError("has a half axis that leans out of its own plane")
        minor = ratio * np.cross(square, major)
        if not ratio > 0:
            raise BrokenError(f"has axes in a ratio of {ratio:g}")
        start = self._entity.number(41, what="start", default=0.0)
        end = self._entity.number(42, what="end", default=2 * math.pi)
        axes = np.array([major, minor])
        span = start, sweep_of(start, end)
        return self._frame.points(ellipse(centre, axes, span, self._frame.sagitta))

    def _spline(self) -> Points:
        control, fit = (np.array(self._entity.points(code)).reshape(-1, 3) for code in (10, 11))
        knots, weights = self._entity.numbers(40), self._entity.numbers(41)
        for code, held, what in ((72, knots, "knots"), (73, control, "control points"),
                                 (74, fit, "points to go through")):  # fmt: skip
            said = self._entity.numbers(code)
            if said and said[0] != len(held):
                raise BrokenError(f"says {said[0]:g} {what} and has {len(held)}")
        if len(control):
            degree = self._entity.flags(71)
            data = SplineData(degree, knots, control, weights)
            return self._frame.points(spline(data, self._frame.sagitta))
        starts, ends = self._entity.points(12), self._entity.points(13)
        tangents = np.array([starts[0], ends[0]]) if starts and ends else None
        return self._frame.points(fitted(fit, tangents, self._frame.sagitta))

    def _polyline(self) -> Points:
        corners = _corners(self._entity)
        said = self._entity.numbers(90)
        if said and said[0] != len(corners):
            raise BrokenError(f"says {said[0]:g} corners and has {len(corners)}")
        widths = [width for code in (40, 41, 43) for width in self._entity.numbers(code)]
        plane = self._frame.of_plane(
            self._entity, self._entity.number(38, what="height", default=0.0)
        )
        return self._ring(corners, widths, plane)

    def _old_polyline(self) -> Points:
        is_fitted = bool(self._entity.flags() & _SPLINE_FITTED)
        vertices = [
            vertex
            for vertex in self._entity.members
            if not (is_fitted and vertex.flags() & _SPLINE_FRAME)
        ]
        places = [vertex.point(10, what="place") for vertex in vertices]
        if self._entity.flags() & _IN_SPACE:
            self.is_closed = bool(self._entity.flags() & 1)
            if not places:
                raise EmptyError("has no corners")
            return self._frame.points(np.array(places))
        corners = [
            (x, y, vertex.number(42, what="bulge", default=0.0))
            for (x, y, _), vertex in zip(places, vertices, strict=True)
        ]
        widths = [
            width
            for part in (self._entity, *vertices)
            for code in (40, 41)
            for width in part.numbers(code)
        ]
        height = self._entity.number(30, what="height", default=0.0)
        return self._ring(corners, widths, self._frame.of_plane(self._entity, height))

    def _ring(
        self, corners: list[tuple[float, float, float]], widths: list[float], plane: Frame
    ) -> Points:
        self.is_closed = bool(self._entity.flags() & 1)
        self.width_mm = max((abs(width) for width in widths), default=0.0) * plane.scale
        return plane.points(bulged(corners, is_closed=self.is_closed, sagitta=plane.sagitta))


def _corners(entity: Entity) -> list[tuple[float, float, float]]:
    """Return the corners of a light polyline with the bulge after each."""
    bulges: list[float] = []
    for tag in entity.tags:
        if tag.code == 10:
            bulges.append(0.0)
        elif tag.code == 42:
            if not bulges:
                raise BrokenError("has a bulge before its first corner")
            bulges[-1] = float(tag.text)
    return [(x, y, b) for (x, y, _), b in zip(entity.points(10), bulges, strict=True)]
