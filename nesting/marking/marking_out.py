"""Marking out with a tape: for each part on a board the points that shape it, from a base line.

The points go round a part in order: letters at its ends and corners, numbers between them along
curves, so many that a batten through them lies true to the cut line. An arc that a compass strikes
has a letter at each end and its centre between them. Bolts, bored cut-outs,
scribed lines and bungs are told from the same base line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from string import ascii_uppercase

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon

from nesting.flat_geometry.true_arcs import Arc
from nesting.marking.base_line import BaseLine, Point, Points, base_line
from nesting.marking.batten_points import batten_points, printed_point
from nesting.marking.compass import COMPASS_MM, printed_arc, struck
from nesting.marking.ring_corners import circle_of, from_lower_left, inward_deg, plain_ring, runs_of
from nesting.marking.tape import Tape
from nesting.nest import Nest, Placement
from nesting.outline import Mark, MarkKind, Outline

SCRIBED = (MarkKind.CENTRELINE, MarkKind.FRAME, MarkKind.BOLT)
"""Marks that are always told; faces and bevels are not set off with a tape."""

ON_EDGE_MM = 0.5
"""A line ends on a part's edge if it comes so near."""

ACROSS_MM = 8.0
"""The middle of a line that crosses a part, where a joint lies, is so far from its edges at least;
nearer it is the edge of a bevelled part's marked face, or the place of a bevel."""


@dataclass(frozen=True)
class MarkedPoint:
    """One point as it is printed, along and across from the base line, mm.

    Attributes
    ----------
    at
        Where it lies on the board so printed.
    inward_deg
        The way from it into the wood, on the board.
    clear_mm
        How far that way the wood begins.
    radius_mm
        That of the arc about it, as it is printed; None if it is no centre.
    """

    name: str
    along_mm: float
    across_mm: float
    at: Point
    is_corner: bool
    inward_deg: float
    clear_mm: float = 0.0
    radius_mm: float | None = None


@dataclass(frozen=True)
class MarkedRing:
    """The points round one ring of a part, or the middle of a round one with its diameter."""

    points: tuple[MarkedPoint, ...]
    is_inner: bool = False
    diameter_mm: float | None = None


@dataclass(frozen=True)
class MarkedLine:
    """A bolt's place, or both ends of a scribed line, with what it is called."""

    name: str
    kind: MarkKind
    ends: tuple[Point, ...]
    diameter_mm: float | None = None


@dataclass(frozen=True)
class MarkedPart:
    """All that is marked out of one part; ``number`` is that of the parts list."""

    number: int
    rings: tuple[MarkedRing, ...]
    lines: tuple[MarkedLine, ...]


@dataclass(frozen=True)
class MarkingOut:
    """The base line of a board, and every part marked out from it."""

    base: BaseLine
    tape: Tape
    parts: tuple[MarkedPart, ...]

    def told(self, x_mm: float, y_mm: float) -> Point:
        """Return a place on the board along and across, as it is printed, mm."""
        return printed_point(self.base.measured(np.array([[x_mm, y_mm]]))[0], self.tape)


def base_of(nest: Nest, tape: Tape) -> BaseLine:
    """Return the line on a board that its sheet and its lists count from."""
    polygons = [placement.polygon for placement in nest.placements]
    low, _, high, _ = shapely.total_bounds(polygons or [nest.board.shape])
    return base_line(nest.board.shape, (float(low), float(high)), tape)


def marking_out(nest: Nest, tape: Tape) -> MarkingOut:
    """Return how the parts of a nest are marked out with a tape."""
    polygons = [placement.polygon for placement in nest.placements]
    base = base_of(nest, tape)
    pairs = enumerate(zip(nest.placements, polygons, strict=True), start=1)
    on = _Board(nest.board.shape, base, tape)
    parts = tuple(_part(number, placed, polygon, on) for number, (placed, polygon) in pairs)
    return MarkingOut(base, tape, parts)


@dataclass(frozen=True)
class _Board:
    """What a part is marked out on: the wood, the base line, and how lengths are read."""

    shape: Polygon
    base: BaseLine
    tape: Tape

    def holds(self, point: Point) -> bool:
        """Return whether there is wood at a point along and across, for a compass to stand on."""
        (at,) = self.base.placed(np.array([point]))
        return bool(self.shape.covers(shapely.Point(at)))


def _part(number: int, placement: Placement, polygon: Polygon, on: _Board) -> MarkedPart:
    namer = _Namer()
    rings = [_ring(polygon.exterior, on, namer)]
    inner = sorted(polygon.interiors, key=lambda ring: ring.bounds[:2])
    rings += [_ring(ring, on, namer, is_inner=True) for ring in inner]
    outline = placement.need.outline
    marks = [mark for mark in outline.marks if _is_told(mark, outline)]
    lines = tuple(line for mark in marks for line in _lines(mark, placement, on.base, on.tape))
    return MarkedPart(number, tuple(rings), lines)


def _is_told(mark: Mark, outline: Outline) -> bool:
    """Return whether a mark is set off with a tape: a bolt, a scribed line, a joint."""
    if mark.kind is not MarkKind.REFERENCE or len(mark.points) != 2:
        return mark.kind in SCRIBED
    places = np.array([*mark.points, np.mean(mark.points, axis=0)])
    off = np.asarray(shapely.distance(outline.shape.exterior, shapely.points(places)))
    return bool((off[:2] <= ON_EDGE_MM).all() and off[2] >= ACROSS_MM)


def _lines(mark: Mark, placement: Placement, base: BaseLine, tape: Tape) -> Iterator[MarkedLine]:
    """Yield a mark's point, or the ends of each straight stretch of its line."""
    name = mark.label or str(mark.kind)
    points = np.asarray(mark.points, dtype=float)
    if len(points) > 2:
        points = shapely.get_coordinates(shapely.simplify(LineString(points), tape.within_mm))
    told = [printed_point(p, tape) for p in base.measured(placement.to_board(points))]
    for ends in pairwise(told) if len(told) > 1 else [(told[0],)]:
        yield MarkedLine(name, mark.kind, ends, mark.diameter_mm)


class _Namer:
    """Gives corners letters and points between them numbers, in turn."""

    def __init__(self) -> None:
        self._corners = self._others = 0

    def name(self, *, is_corner: bool) -> str:
        """Return the next letter, or the next number."""
        if not is_corner:
            self._others += 1
            return str(self._others)
        self._corners += 1
        return letter(self._corners)


def letter(number: int) -> str:
    """Return the letter of a corner counted from 1; two of them after Z.

    >>> letter(1), letter(26), letter(27)
    ('A', 'Z', 'AA')
    """
    before, last = divmod(number - 1, len(ascii_uppercase))
    return (letter(before) if before else "") + ascii_uppercase[last]


@dataclass(frozen=True)
class _Told:
    """A point as it is printed, along and across; of a centre its radius and what is struck."""

    at: Point
    is_corner: bool
    radius_mm: float | None = None
    arc: Arc | None = None


def _ring(ring: LinearRing, on: _Board, namer: _Namer, *, is_inner: bool = False) -> MarkedRing:
    points = on.base.measured(shapely.get_coordinates(ring)[:-1])
    circle = circle_of(points)
    if circle is not None and circle[1] / 2 <= COMPASS_MM and on.holds(circle[0]):
        return _round_ring(*circle, on, namer.name(is_corner=True), is_inner=is_inner)
    told = [
        told for run in runs_of(from_lower_left(plain_ring(points))) for told in _along(run, on)
    ]
    on_line = [point for point in told if point.arc is None]
    ways = iter(inward_deg(np.array([point.at for point in on_line])))
    turned = 180.0 if is_inner else 0.0
    found = []
    for point in told:
        name, (at,) = namer.name(is_corner=point.is_corner), on.base.placed(np.array([point.at]))
        way, clear = _into_wood(point.arc, is_inner) if point.arc else (next(ways) + turned, 0.0)
        place, way = (float(at[0]), float(at[1])), float(way) + on.base.angle_deg
        found.append(
            MarkedPoint(name, *point.at, place, point.is_corner, way, clear, point.radius_mm)
        )
    return MarkedRing(tuple(found), is_inner)


def _round_ring(
    middle: Point, diameter: float, on: _Board, name: str, *, is_inner: bool
) -> MarkedRing:
    """Return a ring that is a circle."""
    told, diameter = printed_point(np.array(middle), on.tape), on.tape.bored(diameter)
    (at,) = on.base.placed(np.array([told]))
    place, clear = (float(at[0]), float(at[1])), diameter / 2 if is_inner else 0.0
    found = MarkedPoint(name, *told, place, True, 90.0, clear, diameter / 2)
    return MarkedRing((found,), is_inner, diameter)


def _along(run: Points, on: _Board) -> Iterator[_Told]:
    """Yield what is printed of a stretch from corner to corner, but for its last point."""
    for line, arc in struck(run):
        centre, radius = printed_arc(arc, on.tape) if arc else ((0.0, 0.0), 0.0)
        if arc and on.holds(centre):
            yield _Told(printed_point(line[0], on.tape), True)
            yield _Told(centre, False, radius, arc)
            continue
        for number, point in enumerate(batten_points(line, on.tape)[:-1]):
            yield _Told(point, number == 0)


def _into_wood(arc: Arc, is_inner: bool) -> tuple[float, float]:
    """Return the way from an arc's centre through its middle, degrees, and how far wood begins."""
    is_in_wood = (arc.sweep > 0) is not is_inner
    return arc.middle_deg, 0.0 if is_in_wood else arc.radius
