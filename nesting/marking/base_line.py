"""The straight line on a board from which its parts are marked out.

The board's own lower edge where that is straight along the parts; the string that a curved board
was taped from; else a string over the wood. A string's ends are told by measures along the board's
edges from its corners.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.marking.tape import Tape

Points = NDArray[np.float64]
Point = tuple[float, float]

STRAIGHT_MM = 0.25
"""An edge that leaves a straight line by no more is straight: half of what a tape shows."""

CORNER_DEG = 30.0
"""A board's outline turns by more at a corner that a hand finds."""

LEVEL_DEG = 20.0
"""An edge that lies flatter than this may be a lower edge."""

COVERED = 0.6
"""An edge along so much of the parts may be carried on with a straightedge."""

MARGIN_MM = 5.0
"""A string over the wood keeps so far inside its edges."""

END_MM = 10.0
"""A board taped from a string is sawn off square at both ends, and no narrower there."""

MOST_TRIED = 80
"""Heights at which a string across a board is tried."""

LEVELS = 4
"""Heights tried lie on this of a tape's round steps: 10 mm, or 1/2 in."""

REACH_MM = 1e-6
"""Rounding."""


class BaseKind(StrEnum):
    """What a base line is."""

    EDGE = "lower edge"
    STRING = "string"


@dataclass(frozen=True)
class StringEnd:
    """Where an end of a string is: so far along the edge from a corner of the board."""

    at: Point
    from_corner: Point
    measure_mm: float
    """Along the edge, 0 at the corner itself."""


@dataclass(frozen=True)
class BaseLine:
    """A frame to measure in: along the line from its left end, across up from it.

    ``reaches_mm`` is how far along the edge itself goes; parts may lie beyond it. ``ends`` are
    those of a string.
    """

    kind: BaseKind
    origin: Point
    angle_deg: float
    reaches_mm: float
    ends: tuple[StringEnd, ...] = ()

    @cached_property
    def _axes(self) -> Points:
        turn = math.radians(self.angle_deg)
        return np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])

    def measured(self, points: Points) -> Points:
        """Return (n, 2) points of the board's frame as along and across."""
        return np.asarray((points - np.asarray(self.origin)) @ self._axes)

    def reach_of(self, shape: Polygon) -> tuple[float, float, float, float]:
        """Return from where to where a shape on the board reaches: along, across, along, across."""
        low_x, low_y, high_x, high_y = shapely.transform(shape, self.measured).bounds
        return low_x, low_y, high_x, high_y

    def placed(self, points: Points) -> Points:
        """Return (n, 2) points along and across in the board's frame."""
        return np.asarray(points @ self._axes.T + np.asarray(self.origin))


def base_line(shape: Polygon, reach_mm: tuple[float, float], tape: Tape) -> BaseLine:
    """Return the base line of a board for parts that lie from one place along it to another."""
    ring = _ring(shape)
    corners = _corners(ring)
    own = _own_edge(ring, corners, reach_mm)
    taped = None if own and _is_level(own) else _taped_string(shape, ring, corners, tape)
    return taped or own or _string(shape, ring, corners, reach_mm, tape)


def _ring(shape: Polygon) -> Points:
    """Return a board's corners (n, 2) anticlockwise, those on a straight edge left out."""
    outer = shapely.simplify(shape.exterior, STRAIGHT_MM)
    points = shapely.get_coordinates(outer if len(outer.coords) > 3 else shape.exterior)[:-1]
    return points if shape.exterior.is_ccw else points[::-1]


def _corners(ring: Points) -> NDArray[np.intp]:
    """Return which points of a ring are corners that a hand finds; never none."""
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))
    found = np.flatnonzero(np.abs(turns) > CORNER_DEG)
    if len(found) >= 2:
        return found
    return np.unique([int(ring[:, 0].argmin()), int(ring[:, 0].argmax())])


def _own_edge(
    ring: Points, corners: NDArray[np.intp], reach_mm: tuple[float, float]
) -> BaseLine | None:
    """Return the lower edge that lies along most of the parts, if one begins at a corner."""
    low, high = reach_mm
    best, found = COVERED, None
    for start, end, number in zip(ring, np.roll(ring, -1, axis=0), range(len(ring)), strict=True):
        run = end - start
        angle = math.degrees(math.atan2(run[1], run[0]))
        if abs(angle) > LEVEL_DEG or number not in corners:
            continue
        covered = (min(high, end[0]) - max(low, start[0])) / max(high - low, REACH_MM)
        if covered > best:
            best = covered
            origin = float(start[0]), float(start[1])
            found = BaseLine(BaseKind.EDGE, origin, angle, math.hypot(*run))
    return found


def _is_level(base: BaseLine) -> bool:
    """Return whether a lower edge is the x axis itself."""
    end = math.radians(base.angle_deg) * base.reaches_mm + base.origin[1]
    return max(abs(base.origin[1]), abs(end)) <= STRAIGHT_MM


def _taped_string(
    shape: Polygon, ring: Points, corners: NDArray[np.intp], tape: Tape
) -> BaseLine | None:
    """Return the x axis where it ends on both ends of a board: the string it was taped from.

    It may leave the wood on the way: a hand stretches it again from end to end.
    """
    ends = np.array([(x, 0.0) for x in (shape.bounds[0], shape.bounds[2])])
    if not all(_is_square_end(ring, float(x)) for x, _ in ends):
        return None
    edge = LineString(np.vstack([ring, ring[:1]]))
    lengths = np.asarray(shapely.line_locate_point(edge, shapely.points(ring[corners])))
    return _between(*(_told(edge, lengths, end, tape) for end in ends))


def _is_square_end(ring: Points, x: float) -> bool:
    """Return whether a board ends at a place in x along an edge square to x that the axis meets."""
    y = ring[np.abs(ring[:, 0] - x) <= STRAIGHT_MM, 1]
    low, high = float(y.min()), float(y.max())
    return high - low >= END_MM and low - STRAIGHT_MM <= 0.0 <= high + STRAIGHT_MM


def _string(
    shape: Polygon,
    ring: Points,
    corners: NDArray[np.intp],
    reach_mm: tuple[float, float],
    tape: Tape,
) -> BaseLine:
    """Return a string over the wood, low and level, or else from corner to corner."""
    edge = LineString(np.vstack([ring, ring[:1]]))
    lengths = np.asarray(shapely.line_locate_point(edge, shapely.points(ring[corners])))
    for ends in _levels(shape, ring[corners], reach_mm, tape.round_mm[LEVELS]):
        told = [_told(edge, lengths, end, tape) for end in ends]
        if told[0].at[0] < told[1].at[0]:
            return _between(*told)
    placed = ring[corners]
    left = placed[int(np.argmin(placed[:, 0] + placed[:, 1] / 2))]
    right = placed[int(np.argmax(placed[:, 0] - placed[:, 1] / 2))]
    return _between(*(_told(edge, lengths, end, tape) for end in (left, right)))


def _between(left: StringEnd, right: StringEnd) -> BaseLine:
    run = np.subtract(right.at, left.at)
    angle = math.degrees(math.atan2(run[1], run[0]))
    return BaseLine(BaseKind.STRING, left.at, angle, math.hypot(*run), (left, right))


def _levels(
    shape: Polygon, corners: Points, reach_mm: tuple[float, float], step_mm: float
) -> Iterator[tuple[Points, Points]]:
    """Yield the ends of level lines that stay on the wood along all parts, the lowest first."""
    low_x, low_y, high_x, high_y = shape.bounds
    lowest = corners[np.argmin(corners[:, 0] + corners[:, 1])]
    step = step_mm * math.ceil((high_y - low_y) / MOST_TRIED / step_mm)
    # A round measure from the lower left corner, where the end there is plumb.
    first = lowest[1] + step * math.ceil((low_y - lowest[1]) / step)
    heights = np.arange(first, high_y, step)
    bands = [shapely.box(reach_mm[0], y - MARGIN_MM, reach_mm[1], y + MARGIN_MM) for y in heights]
    for height in heights[shapely.contains(shape, bands)]:
        line = LineString([(low_x - 1.0, height), (high_x + 1.0, height)])
        for piece in shapely.get_parts(line.intersection(shape)):
            start, _, end, _ = piece.bounds
            if start <= reach_mm[0] and end >= reach_mm[1]:
                along = shapely.get_coordinates(piece)
                yield along[0], along[-1]


def _told(edge: LineString, corners_mm: Points, end: Points, tape: Tape) -> StringEnd:
    """Return where an end is, as it is told: from the nearest corner, to what a tape shows."""
    length = edge.length
    at = float(shapely.line_locate_point(edge, shapely.Point(end)))
    ways = (at - corners_mm + length / 2) % length - length / 2
    nearest = int(np.argmin(np.abs(ways)))
    way = math.copysign(tape.read(abs(float(ways[nearest]))), ways[nearest])
    place = edge.interpolate((float(corners_mm[nearest]) + way) % length)
    corner = edge.interpolate(float(corners_mm[nearest]))
    return StringEnd((place.x, place.y), (corner.x, corner.y), abs(way))
