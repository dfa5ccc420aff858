"""A board's outline out of points as people give them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import shapely
from shapely.geometry import LineString, Point, Polygon

from nesting.errors import ShapeError
from nesting.flat_geometry.overlay import why_invalid
from nesting.given import each_of, number


def board_outline(points: Sequence[tuple[float, float]]) -> Polygon:
    """Return the outline through points, repaired where that is harmless.

    Takes the ring in either direction, closed or open, with points said twice.

    Raises
    ------
    ShapeError
        If fewer than three points remain or the outline crosses itself; says where.

    Examples
    --------
    >>> board_outline([(0, 0), (0, 90), (400, 90), (400, 0), (0, 0)]).area
    36000.0
    """
    corners = [_corner(point) for point in each_of(points, "the outline", "points (x, y)")]
    ring = [point for i, point in enumerate(corners) if i == 0 or point != corners[i - 1]]
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if len(ring) < 3:
        raise ShapeError(f"an outline needs three points or more, this one has {len(ring)}")
    if not all(math.isfinite(value) for point in ring for value in point):
        raise ShapeError("an outline's points must be numbers")
    shape = Polygon(ring)
    if not shape.is_valid:
        raise ShapeError(_crossing(ring))
    if shape.area == 0:
        raise ShapeError("the outline encloses nothing: its points lie on one line")
    turned = _counter_clockwise(ring)
    return shape if turned is ring else Polygon(turned)


def _corner(point: Any) -> tuple[float, float]:
    try:
        x, y = point
    except (TypeError, ValueError):
        raise ShapeError(f"an outline is made of points (x, y), not of {point!r:.40}") from None
    return number(x, "x of a point"), number(y, "y of a point")


def _counter_clockwise(ring: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return ring if shapely.is_ccw(shapely.LinearRing(ring)) else ring[::-1]


def _crossing(ring: list[tuple[float, float]]) -> str:
    """Return which two edges of a bad ring cross, and where."""
    edges = [LineString([a, b]) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
    for i, first in enumerate(edges):
        for j in range(i + 1, len(edges)):
            is_neighbour = j == i + 1 or (i == 0 and j == len(edges) - 1)
            meeting = first.intersection(edges[j])
            if meeting.is_empty or (is_neighbour and isinstance(meeting, Point)):
                continue
            at = meeting.representative_point()
            return (
                f"the outline crosses itself: edge {i + 1} (from {place_told(ring[i])}) meets edge "
                f"{j + 1} (from {place_told(ring[j])}) at {place_told((at.x, at.y))}; check the "
                "order of its points"
            )
    return f"the outline is not usable: {why_invalid(Polygon(ring))}"


def place_told(point: tuple[float, float]) -> str:
    """Return a place in mm as messages say it, which ``told`` puts in the reader's unit."""
    return f"({point[0]:g}, {point[1]:g}) mm"
