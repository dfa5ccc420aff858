"""Arcs among chords: where the corners of a line lie on a circle, the arc through them.

Outlines are made of chords whose ends lie on the true curve; an arc through those ends is nearer
to what was meant than the chords are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ON_ARC_MM = 0.01
"""Corners that lie so near to a circle lie on it."""

OFF_CHORD_MM = 0.05
"""An arc leaves its chords, and so the plan's outline, by this much at most."""

LEAST_CORNERS = 4
"""So many corners make an arc: through any three there is a circle."""

LARGEST_RADIUS_MM = 100_000.0
"""A flatter arc is a straight line to any machine."""

MOST_SWEEP = math.pi
"""An arc goes half round at most: larger bulges are read wrongly by some machines (from memory)."""

LEAST_TURN = 1e-9
"""Chords that turn by less are one straight line, radians."""

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Arc:
    """An arc about a centre, mm; ``sweep`` in radians, anticlockwise over 0.

    ``begins_deg`` is the way from the centre to where it begins.
    """

    centre: tuple[float, float]
    radius: float
    begins_deg: float
    sweep: float

    @property
    def middle_deg(self) -> float:
        """The way from the centre to its middle."""
        return self.begins_deg + math.degrees(self.sweep) / 2

    @property
    def bulge(self) -> float:
        """The tangent of a quarter of its sweep, as drawings tell it."""
        return math.tan(self.sweep / 4)


def arc_through(points: Points) -> Arc | None:
    """Return the arc through corners (n, 2), or None if they are not on one."""
    circle = circle_through(points[0], points[len(points) // 2], points[-1])
    if circle is None:
        return None
    (x, y), radius = circle
    spokes = points - (x, y)
    off = np.abs(np.hypot(*spokes.T) - radius)
    turns = turn(spokes[:-1], spokes[1:])
    sweep = float(turns.sum())
    if off.max() > ON_ARC_MM or abs(sweep) > MOST_SWEEP + LEAST_TURN:
        return None
    if not ((turns > LEAST_TURN).all() or (turns < -LEAST_TURN).all()):
        return None
    rises = radius * (1 - np.cos(np.abs(turns) / 2))
    if rises.max() + off.max() > OFF_CHORD_MM + LEAST_TURN:
        return None
    begins = math.degrees(math.atan2(spokes[0, 1], spokes[0, 0]))
    return Arc((float(x), float(y)), radius, begins, sweep)


def longest_arc(line: Points, at: int) -> tuple[int, Arc] | None:
    """Return where the longest arc from a corner of a line (n, 2) ends, and the arc; None if none.

    Lengths are doubled until one is none, then halved in on.
    """
    step = LEAST_CORNERS - 1
    found = None
    while at + step < len(line) and (arc := arc_through(line[at : at + step + 1])) is not None:
        found, step = (at + step, arc), 2 * step
    if found is None:
        return None
    low, high = found[0], min(at + step, len(line))
    while high - low > 1:
        middle = (low + high) // 2
        arc = arc_through(line[at : middle + 1])
        if arc is None:
            high = middle
        else:
            low, found = middle, (middle, arc)
    return found


def circle_through(first: Points, middle: Points, last: Points) -> tuple[Points, float] | None:
    """Return centre and radius of the circle through three points, if it is bent enough."""
    a, b = middle - first, last - first
    double = 2 * (a[0] * b[1] - a[1] * b[0])
    if double == 0.0:
        return None
    aa, bb = float(a @ a), float(b @ b)
    centre = np.array([b[1] * aa - a[1] * bb, a[0] * bb - b[0] * aa]) / double
    radius = float(np.hypot(*centre))
    return (first + centre, radius) if radius <= LARGEST_RADIUS_MM else None


def turn(before: Points, after: Points) -> Points:
    """Return (n,) by how much each way turns into the next, radians, to the left over 0."""
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.arctan2(cross, (before * after).sum(axis=1)))
