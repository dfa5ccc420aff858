"""The borders of what covers an area in a drawing: hatches, and solid quadrilaterals."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from nesting.dxf_file.entities import BrokenError, Entity
from nesting.dxf_file.flat import (
    Frame,
    Points,
    SplineData,
    arc,
    bulged,
    ellipse,
    spline,
    sweep_of,
)
from nesting.dxf_file.tags import Tag, number_of

_POLYLINE_PATH = 2
"""Flag of a hatch's border that is one polyline, not edge after edge."""

MEETING = 0.2
"""Ends of a border's edges this part of the sagitta apart, or nearer, are one point."""


def fill_borders(entity: Entity, frame: Frame) -> list[Points]:
    """Return the borders of an area, each (n, 3) points, mm.

    Raises
    ------
    BrokenError
        If a corner or a count is missing.
    """
    if entity.kind == "HATCH":
        return _hatch(entity, frame)
    first, second, third = (entity.point(code, what="corner") for code in (10, 11, 12))
    fourth = entity.points(13)[:1]
    if entity.kind == "3DFACE":
        return [frame.points(np.array([first, second, third, *fourth]))]
    # A solid's corners are written in two rows, not round it.
    return [frame.of_plane(entity).points(np.array([first, second, *fourth, third]))]


def _hatch(entity: Entity, frame: Frame) -> list[Points]:
    heights = entity.points(10)
    if not heights:
        raise BrokenError("has no height (group 10)")
    plane = frame.of_plane(entity, heights[0][2])
    found = [plane.points(path) for path in _Paths(entity, plane.sagitta).all()]
    if not found:
        raise BrokenError("has no border")
    return found


class _Paths:
    """Reads the borders of a hatch, tag by tag: their groups mean what their place says."""

    def __init__(self, entity: Entity, sagitta: float) -> None:
        start = next((i for i, tag in enumerate(entity.tags) if tag.code == 91), None)
        if start is None:
            raise BrokenError("has no border (group 91)")
        self._tags = entity.tags
        self._at = start
        self._sagitta = sagitta

    def all(self) -> Iterator[Points]:
        """Yield each border, (n, 2)."""
        for _ in range(self._count(91)):
            is_polyline = self._count(92) & _POLYLINE_PATH
            yield self._polyline() if is_polyline else self._edges()
            for _ in range(self._count(97, default=0)):
                self._next(330)

    def _next(self, code: int) -> Tag:
        if self._at >= len(self._tags) or self._tags[self._at].code != code:
            raise BrokenError(f"has a border without its group {code}")
        self._at += 1
        return self._tags[self._at - 1]

    def _number(self, code: int, default: float | None = None) -> float:
        is_there = self._at < len(self._tags) and self._tags[self._at].code == code
        if not is_there and default is not None:
            return default
        number = number_of(self._next(code))
        assert number is not None
        return number

    def _count(self, code: int, default: int | None = None) -> int:
        return int(self._number(code, default))

    def _point(self, code: int = 10) -> tuple[float, float]:
        return self._number(code), self._number(code + 10)

    def _polyline(self) -> Points:
        has_bulges, _ = self._count(72), self._count(73, default=1)
        corners = []
        for _ in range(self._count(93)):
            x, y = self._point()
            corners.append((x, y, self._number(42, default=0.0) if has_bulges else 0.0))
        return bulged(corners, is_closed=True, sagitta=self._sagitta)

    def _edges(self) -> Points:
        edges = [self._edge(self._count(72)) for _ in range(self._count(93))]
        if not edges:
            raise BrokenError("has a border without edges")
        return _ring_of(_end_to_end(edges), MEETING * self._sagitta)

    def _edge(self, kind: int) -> Points:
        if kind == 1:
            return np.array([self._point(), self._point(11)])
        if kind == 2:
            centre, radius = np.array(self._point()), self._number(40)
            start, sweep = self._span()
            return arc(centre, radius, start, sweep, self._sagitta)
        if kind == 3:
            centre, major = np.array(self._point()), np.array(self._point(11))
            ratio = self._number(40)
            axes = np.array([major, ratio * np.array([-major[1], major[0]])])
            return ellipse(centre, axes, self._span(ratio), self._sagitta)
        if kind == 4:
            return self._spline()
        raise BrokenError(f"has a border with an edge of kind {kind}")

    def _span(self, ratio: float = 1.0) -> tuple[float, float]:
        """Return start and sweep as parameters, radians; clockwise ones are written from below."""
        start, end = (_parameter(math.radians(self._number(code)), ratio) for code in (50, 51))
        if self._count(73, default=1):
            return start, sweep_of(start, end)
        return -start, -sweep_of(start, end)

    def _spline(self) -> Points:
        degree, _, _ = self._count(94), self._count(73, default=0), self._count(74, default=0)
        knots_count, points_count = self._count(95), self._count(96)
        knots = [self._number(40) for _ in range(knots_count)]
        control, weights = [], []
        for _ in range(points_count):
            control.append((*self._point(), 0.0))
            weights.append(self._number(42, default=1.0))
        for _ in range(self._count(97, default=0)):
            self._point(11)
        for code in (12, 13):
            if self._at < len(self._tags) and self._tags[self._at].code == code:
                self._point(code)
        data = SplineData(degree, knots, np.array(control).reshape(-1, 3), weights)
        return spline(data, self._sagitta)[:, :2]


def _ring_of(edges: list[Points], meeting: float) -> Points:
    """Return edges as one ring, in which ends that meet are one point.

    Left as two, a rounding apart, they may make the ring cross itself.
    """
    points = [edges[0]]
    for edge in edges[1:]:
        is_met = np.hypot(*(edge[0] - points[-1][-1])) <= meeting
        points.append(edge[1:] if is_met else edge)
    ring = np.vstack(points)
    return ring[:-1] if np.hypot(*(ring[-1] - ring[0])) <= meeting else ring


def _parameter(angle: float, ratio: float) -> float:
    """Return the parameter of an ellipse's point that is seen at an angle."""
    if not ratio > 0:
        raise BrokenError("has a border of an ellipse without a width")
    return math.atan2(math.sin(angle) / ratio, math.cos(angle))


def _end_to_end(edges: list[Points]) -> list[Points]:
    """Return edges each turned so that it goes on where the one before ends."""
    if len(edges) < 2:
        return edges
    ends = [np.hypot(*(edges[0][-1] - end)) for end in (edges[1][0], edges[1][-1])]
    starts = [np.hypot(*(edges[0][0] - end)) for end in (edges[1][0], edges[1][-1])]
    turned = [edges[0][::-1] if min(starts) < min(ends) else edges[0]]
    for edge in edges[1:]:
        last = turned[-1][-1]
        is_forward = np.hypot(*(edge[0] - last)) <= np.hypot(*(edge[-1] - last))
        turned.append(edge if is_forward else edge[::-1])
    return turned
