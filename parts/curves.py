"""Curves a loft draws: arcs, crowns, hollows, a fair batten through points, and their sampling.

Curves become points that lie on the true curve, close enough together that no chord between
two of them leaves it by more than :data:`CHORD_ERROR_MM`. Points are (n, 2) float, mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from nesting.errors import PartError

Points = NDArray[np.float64]

CHORD_ERROR_MM = 0.05
"""Greatest distance between a sampled curve and the true one: a tenth of a pencil line."""


class CrownShape(StrEnum):
    """The curve a deck's crown is drawn by."""

    ARC = "arc"
    PARABOLA = "parabola"


def arc_radius(chord_mm: float, rise_mm: float) -> float:
    """Return the radius of the arc that rises so much over a chord: (c^2/4 + s^2) / 2s.

    >>> arc_radius(120, 3.75)
    481.875
    """
    return (chord_mm**2 / 4 + rise_mm**2) / (2 * rise_mm)


def arc_rise(chord_mm: float, radius_mm: float) -> float:
    """Return the rise of an arc of a radius over a chord not longer than its diameter.

    >>> round(arc_rise(96, 481.875), 4)
    2.3966
    """
    return _drop(chord_mm / 2, radius_mm)


def _drop(x_mm: float, radius_mm: float) -> float:
    # R - sqrt(R^2 - x^2) loses all its digits on a flat crown; this form keeps them.
    return x_mm**2 / (radius_mm + math.sqrt(radius_mm**2 - x_mm**2))


@dataclass(frozen=True)
class Crown:
    """A curve symmetrical about x = 0, highest there, and 0 high at the ends of its span.

    A negative rise hangs below its ends; 0 is a straight line. For an arc the rise is at
    most half the span.
    """

    span_mm: float
    rise_mm: float
    shape: CrownShape = CrownShape.ARC

    def height(self, x_mm: Points) -> Points:
        """Return the height above the line through its ends, at distances from the middle."""
        if self.rise_mm == 0:
            return np.zeros_like(x_mm)
        if self.shape is CrownShape.PARABOLA:
            return np.asarray(self.rise_mm * (1 - (2 * x_mm / self.span_mm) ** 2))
        bend = self._curvature
        drop = bend * x_mm**2 / (1 + np.sqrt(1 - (bend * x_mm) ** 2))
        return np.asarray(self.rise_mm - math.copysign(1.0, self.rise_mm) * drop)

    @property
    def _curvature(self) -> float:
        # One over the arc's radius, which is beyond all numbers for a crown next to flat.
        return 2 * abs(self.rise_mm) / (self.span_mm**2 / 4 + self.rise_mm**2)

    def points(self, low_mm: float, high_mm: float) -> Points:
        """Return the curve between two distances from the middle, along x."""
        x = np.linspace(low_mm, high_mm, 1 + self._steps(low_mm, high_mm))
        return np.column_stack([x, self.height(x)])

    def _steps(self, low_mm: float, high_mm: float) -> int:
        rise, half = abs(self.rise_mm), self.span_mm / 2
        if rise == 0:
            return 1
        if self.shape is CrownShape.PARABOLA:
            bend = 2 * rise / half**2
        else:
            furthest = min(max(abs(low_mm), abs(high_mm)), half)
            bend = self._curvature / max(1 - (self._curvature * furthest) ** 2, 1e-3) ** 1.5
        # A chord of x-length h leaves a curve of second derivative y'' by at most y'' h^2 / 8.
        return max(1, math.ceil((high_mm - low_mm) * math.sqrt(bend / (8 * CHORD_ERROR_MM))))


def arc_about(centre: Points, radius_mm: float, from_deg: float, to_deg: float) -> Points:
    """Return an arc between two directions from its centre, turning the way of the angles."""
    sweep = math.radians(to_deg - from_deg)
    step = 2 * math.acos(max(0.0, 1 - CHORD_ERROR_MM / max(radius_mm, CHORD_ERROR_MM)))
    turns = math.radians(from_deg) + np.linspace(0, sweep, 1 + max(1, math.ceil(abs(sweep) / step)))
    return np.asarray(centre + radius_mm * np.column_stack([np.cos(turns), np.sin(turns)]))


def round_topped(x_mm: float, foot_mm: float, top_mm: float, width_mm: float) -> Points:
    """Return a notch open at its foot, a half circle over upright sides; right to left.

    One lower than half its width has a flatter arch from foot to top, and no sides.
    """
    rise = min(top_mm - foot_mm, width_mm / 2)
    radius = arc_radius(width_mm, rise)
    spring = math.degrees(math.acos(min(1.0, width_mm / 2 / radius)))
    centre = np.array([x_mm, top_mm - radius])
    arch = arc_about(centre, radius, spring, 180 - spring)
    half = width_mm / 2
    return without_repeats(np.vstack([[x_mm + half, foot_mm], arch, [x_mm - half, foot_mm]]))


def largest_hollow(tip: Points, throat: Points, axis: Points) -> float:
    """Return the radius of the arc square to an axis at the throat that ends at a tip.

    Parameters
    ----------
    axis
        Unit direction from the throat towards the hollow's centre.

    Returns
    -------
    float
        mm; infinity if the tip is no further along the axis than the throat, where no
        arc can be hollow.
    """
    across = tip - throat
    along = float(across @ axis)
    return float(across @ across) / (2 * along) if along > 0 else math.inf


def parallel_hollow(tip: Points, inward: Points, throat: Points, axis: Points) -> float:
    """Return the radius at which the straight part of a hollow edge runs along its arm.

    A larger hollow would leave the arm thinner than it is at its tip.

    Parameters
    ----------
    tip
        Inner corner of the arm's tip.
    inward
        Unit direction square to the arm's outer edge, into the wood.

    Returns
    -------
    float
        mm; 0 or less if the throat is no deeper than the tip, infinity if the arm is square
        to the axis.
    """
    depth, lean = float((throat - tip) @ inward), 1 - float(axis @ inward)
    return depth / lean if lean > 1e-12 else math.inf


def hollow_edge(tip: Points, throat: Points, axis: Points, radius_mm: float) -> Points:
    """Return an edge from a tip, straight, then by an arc tangent to it, to the throat.

    The arc is square to ``axis`` at the throat, on the side its centre lies; a radius of 0
    gives the straight line. ``radius_mm`` is at most :func:`largest_hollow`, where the
    straight part has no length left.
    """
    if radius_mm == 0:
        return np.vstack([tip, throat])
    centre = throat + radius_mm * axis
    out = tip - centre
    reach = math.hypot(*out)
    open_deg = math.degrees(math.acos(min(1.0, radius_mm / reach)))
    tip_deg = math.degrees(math.atan2(out[1], out[0]))
    throat_deg = math.degrees(math.atan2(-axis[1], -axis[0]))
    turn = _signed_deg(throat_deg - tip_deg)
    side = math.copysign(1.0, turn)
    arc = arc_about(centre, radius_mm, tip_deg + side * open_deg, tip_deg + turn)
    return without_repeats(np.vstack([tip, arc[:-1], throat]))


def _signed_deg(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def fair_curve(points: Points) -> Points:
    """Return the curve a thin batten takes through points, its ends left free.

    A natural cubic spline on the chord length: piecewise cubic, its bending 0 at both ends.

    References
    ----------
    de Boor 1978, A Practical Guide to Splines, ch. IV (the continuity equations, written
    here for second derivatives).
    """
    chords = np.hypot(*np.diff(points, axis=0).T)
    if len(points) == 2:
        return points.copy()
    if not (chords > 0).all():
        raise PartError("two points of a curve lie on each other: leave one out")
    bend = _bending(points, chords)
    pieces = [
        _span(points[i], points[i + 1], bend[i], bend[i + 1], chords[i]) for i in range(len(chords))
    ]
    return np.vstack([*pieces, points[-1:]])


def _bending(points: Points, chords: Points) -> Points:
    """Return the spline's (n, 2) second derivatives at its points."""
    n = len(points)
    slopes = np.diff(points, axis=0) / chords[:, None]
    system = np.eye(n)
    right = np.zeros((n, 2))
    for i in range(1, n - 1):
        system[i, i - 1 : i + 2] = chords[i - 1], 2 * (chords[i - 1] + chords[i]), chords[i]
        right[i] = 6 * (slopes[i] - slopes[i - 1])
    return np.asarray(np.linalg.solve(system, right), dtype=float)


def _span(start: Points, end: Points, m0: Points, m1: Points, chord: float) -> Points:
    """Return the points of one span of a spline, without its last."""
    bend = max(math.hypot(*m0), math.hypot(*m1))
    steps = max(1, math.ceil(chord * math.sqrt(bend / (8 * CHORD_ERROR_MM))))
    b = np.arange(steps)[:, None] / steps
    a = 1 - b
    curve = (a**3 - a) * m0 + (b**3 - b) * m1
    return np.asarray(a * start + b * end + curve * chord**2 / 6)


def without_repeats(points: Points) -> Points:
    """Return the points without those that lie on the one before."""
    apart = np.hypot(*np.diff(points, axis=0).T)
    return np.asarray(points[np.concatenate([[True], apart > 1e-9])])


def offset_left(points: Points, distance_mm: float) -> Points:
    """Return a polyline moved to its left, every segment parallel to what it was.

    Raises
    ------
    PartError
        If a segment would vanish: the curve is rounder than the distance.
    """
    if distance_mm == 0:
        return points.copy()
    spans = np.diff(points, axis=0)
    units = spans / np.hypot(*spans.T)[:, None]
    normals = np.column_stack([-units[:, 1], units[:, 0]])
    before, after = np.vstack([normals[:1], normals]), np.vstack([normals, normals[-1:]])
    # The mitre of two unit normals: their sum, over 1 + cosine of the turn between them.
    mitre = (before + after) / (1 + (before * after).sum(axis=1))[:, None]
    moved: Points = points + distance_mm * mitre
    if ((np.diff(moved, axis=0) * spans).sum(axis=1) <= 0).any():
        raise PartError(
            f"an edge bends too sharply to be moved by {abs(distance_mm):.1f} mm, as its bevel or "
            "the bolts along it need: ease its curve, or lessen bevel, siding or tip moulding"
        )
    return moved


def distances_along(points: Points) -> Points:
    """Return how far along a polyline each of its (n, 2) points lies from the first, (n,)."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def at_distances(points: Points, distances_mm: Points) -> Points:
    """Return the (k, 2) points at distances along a polyline from its first point."""
    lengths = distances_along(points)
    return np.column_stack([np.interp(distances_mm, lengths, points[:, i]) for i in (0, 1)])


def length_of(points: Points) -> float:
    """Return the length of a polyline."""
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def as_pairs(points: Points) -> tuple[tuple[float, float], ...]:
    """Return points as plain pairs, as marks and grain paths hold them."""
    return tuple((float(x), float(y)) for x, y in points)
