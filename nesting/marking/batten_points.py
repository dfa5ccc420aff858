"""Points along a curve so that a batten through them, as they are printed, lies true to it.

Measured along and across from a base line. A point lies on a round figure along, or across where
the curve is steep, and is read off to a tape's step the other way; more points are put in, and
truer figures taken, until the batten holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from nesting.flat_geometry.natural_spline import Points, bent_through
from nesting.marking.tape import Tape

SAMPLES = 10
"""Places between two points at which a batten is held against the curve."""

HOLDS = 0.97
"""A batten that lies off by less than this share of what it may, does so between samples too."""

MIDDLE = 0.14
"""A new point lies so near the middle of its stretch, as a share of it, on a round figure."""

CLOSEST_MM = 4.0
"""Nearer together than this, points are told truer and not put closer."""

MOST_ROUNDS = 16
"""Far more than any curve has taken; beyond, the curve's own corners are all told."""


DEEP = (1.0, 40.0)
"""A curve deeper than so many times what a batten may be off is halved once, twice."""


@dataclass(frozen=True)
class _Knot:
    """A point of a curve: how far along it, where, and where it is printed to be."""

    length: float
    at: tuple[float, float]
    printed: tuple[float, float]
    is_fine: bool = False


def printed_point(point: Points, tape: Tape, *, is_fine: bool = False) -> tuple[float, float]:
    """Return a point along and across as it is printed, mm."""
    along, across = (tape.read(float(figure), is_fine=is_fine) for figure in point)
    return along, across


def batten_points(run: Points, tape: Tape) -> tuple[tuple[float, float], ...]:
    """Return the printed points of a curve (n, 2), both its ends among them.

    A natural cubic spline through them stays within ``tape.within_mm`` of the curve, and the
    curve of it.
    """
    if len(run) == 2:
        # Rounding alone moves no end by more than WITHIN of it allows, both ways together.
        return printed_point(run[0], tape), printed_point(run[1], tape)
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    knots = [_at(run[i], float(lengths[i]), tape) for i in (0, -1)]
    line = LineString(run)
    for _ in range(_halvings(run, tape)):
        knots = _refined(knots, np.arange(len(knots) - 1), run, lengths, tape)
    for _ in range(MOST_ROUNDS):
        off = _off(knots, run, lengths, line)
        bad = np.flatnonzero(off > HOLDS * tape.within_mm)
        if not len(bad):
            return tuple(knot.printed for knot in knots)
        knots = _refined(knots, bad, run, lengths, tape)
    corners = zip(run, lengths, strict=True)
    return tuple(_at(point, float(s), tape, is_fine=True).printed for point, s in corners)


def _halvings(run: Points, tape: Tape) -> int:
    """Return how often a curve is halved unasked: a batten holds no stretch as deep as that."""
    chord = run[-1] - run[0]
    length = max(float(np.hypot(*chord)), CLOSEST_MM)
    off = run - run[0]
    depth = float(np.abs(off[:, 0] * chord[1] - off[:, 1] * chord[0]).max()) / length
    return int(np.searchsorted(np.array(DEEP) * tape.within_mm, depth))


def _at(point: Points, length: float, tape: Tape, *, is_fine: bool = False) -> _Knot:
    at = (float(point[0]), float(point[1]))
    return _Knot(length, at, printed_point(point, tape, is_fine=is_fine), is_fine)


def _off(knots: list[_Knot], run: Points, lengths: Points, line: LineString) -> Points:
    """Return how far batten and curve lie apart in each stretch between points, (n - 1,) mm."""
    points = np.array([knot.printed for knot in knots])
    bent = bent_through(points, SAMPLES)
    off: Points = np.asarray(shapely.distance(shapely.points(bent), line)).max(axis=1)
    batten = LineString(np.vstack([bent[0, :1], bent[:, 1:].reshape(-1, 2)]))
    beside = np.asarray(shapely.distance(shapely.points(run), batten))
    stretch = np.searchsorted([knot.length for knot in knots[1:-1]], lengths)
    np.maximum.at(off, stretch, beside)
    return off


def _refined(
    knots: list[_Knot], bad: NDArray[np.intp], run: Points, lengths: Points, tape: Tape
) -> list[_Knot]:
    """Return points with one more in each stretch that is off, or truer ones where it is short."""
    short = {i for i in bad.tolist() if knots[i + 1].length - knots[i].length < 2 * CLOSEST_MM}
    found = []
    for number, knot in enumerate(knots):
        is_fine = knot.is_fine or number in short or number - 1 in short
        found.append(_at(np.array(knot.at), knot.length, tape, is_fine=True) if is_fine else knot)
        if number in bad and number not in short:
            found.append(_between(knot, knots[number + 1], run, lengths, tape))
    return found


def _between(start: _Knot, end: _Knot, run: Points, lengths: Points, tape: Tape) -> _Knot:
    """Return a point about the middle of a stretch, on a round figure the way it runs most."""
    middle, reach = (start.length + end.length) / 2, MIDDLE * (end.length - start.length)
    within = lengths[(lengths > middle - reach) & (lengths < middle + reach)]
    places = np.concatenate([[middle - reach], within, [middle + reach]])
    points = np.column_stack([np.interp(places, lengths, run[:, axis]) for axis in (0, 1)])
    axis = int(np.argmax(np.abs(points[-1] - points[0])))
    low, high = np.sort(points[[0, -1], axis])
    station = tape.roundest(float(low), float(high))
    if station is None:
        at = np.array([np.interp(middle, lengths, run[:, k]) for k in (0, 1)])
        return _at(at, middle, tape)
    before = points[:-1, axis] - station
    first = int(np.flatnonzero(before * (points[1:, axis] - station) <= 0)[0])
    run_on = points[first + 1, axis] - points[first, axis]
    share = -before[first] / run_on if run_on else 0.0
    at = points[first] + share * (points[first + 1] - points[first])
    at[axis] = station
    length = float(places[first] + share * (places[first + 1] - places[first]))
    return _at(at, length, tape)
