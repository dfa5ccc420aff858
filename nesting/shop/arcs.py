"""Rings of chords as lines and true arcs: where corners lie on a circle, the arc through them.

Outlines are made of chords whose ends lie on the true curve; an arc through those ends is nearer
to what was meant than the chords are.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing

from nesting.sheets.drawing import Polyline, Role

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


def arced(ring: LinearRing, role: Role) -> Polyline:
    """Return a ring as a closed line with arcs where its corners lie on circles."""
    points = _from_a_corner(shapely.get_coordinates(ring)[:-1])
    closed = np.vstack([points, points[:1]])
    stretches = _whole_circle(closed) or _greedy(closed)
    held = tuple((float(x), float(y)) for x, y in points[[at for at, _ in stretches]])
    bulges = tuple(bulge for _, bulge in stretches)
    return Polyline(held, role, is_closed=True, bulges=bulges if any(bulges) else ())


def _greedy(closed: Points) -> list[tuple[int, float]]:
    """Return where each stretch of a ring begins, and its bulge, each as long as it can be."""
    found, at = list[tuple[int, float]](), 0
    while at < len(closed) - 1:
        end, bulge = _longest_arc(closed, at)
        found.append((at, bulge))
        at = end
    return found


def _whole_circle(closed: Points) -> list[tuple[int, float]]:
    """Return the three arcs of a ring that is one circle; nothing of any other."""
    count = len(closed) - 1
    if count < 3 * (LEAST_CORNERS - 1):
        return []
    begins = [0, count // 3, 2 * count // 3]
    ends = [*begins[1:], count]
    arcs = [_bulge(closed[a : b + 1]) for a, b in zip(begins, ends, strict=True)]
    circles = [_circle(*closed[[a, (a + b) // 2, b]]) for a, b in zip(begins, ends, strict=True)]
    if None in arcs or None in circles:
        return []
    centres = np.array([circle[0] for circle in circles if circle])
    if np.ptp(centres, axis=0).max() > ON_ARC_MM:
        return []
    return [(at, bulge) for at, bulge in zip(begins, arcs, strict=True) if bulge is not None]


def _from_a_corner(points: Points) -> Points:
    """Return a ring's corners from the one where it turns most, so that no arc is begun within."""
    ahead = np.roll(points, -1, axis=0) - points
    behind = points - np.roll(points, 1, axis=0)
    turns = np.abs(_turn(behind, ahead))
    return np.roll(points, -int(np.argmax(turns)), axis=0)


def _turn(before: Points, after: Points) -> Points:
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.arctan2(cross, (before * after).sum(axis=1)))


def _longest_arc(closed: Points, at: int) -> tuple[int, float]:
    """Return where the longest arc from a corner ends, and its bulge; else the next corner and 0.

    Lengths are doubled until one is none, then halved in on.
    """
    step = LEAST_CORNERS - 1
    found = None
    while at + step < len(closed) and (bulge := _bulge(closed[at : at + step + 1])) is not None:
        found, step = (at + step, bulge), 2 * step
    if found is None:
        return at + 1, 0.0
    low, high = found[0], min(at + step, len(closed))
    while high - low > 1:
        middle = (low + high) // 2
        bulge = _bulge(closed[at : middle + 1])
        if bulge is None:
            high = middle
        else:
            low, found = middle, (middle, bulge)
    return found


def _bulge(points: Points) -> float | None:
    """Return the bulge of the arc through corners, or None if they are not on one."""
    circle = _circle(points[0], points[len(points) // 2], points[-1])
    if circle is None:
        return None
    (x, y), radius = circle
    spokes = points - (x, y)
    off = np.abs(np.hypot(*spokes.T) - radius)
    turns = _turn(spokes[:-1], spokes[1:])
    sweep = float(turns.sum())
    if off.max() > ON_ARC_MM or abs(sweep) > MOST_SWEEP + LEAST_TURN:
        return None
    if not ((turns > LEAST_TURN).all() or (turns < -LEAST_TURN).all()):
        return None
    rises = radius * (1 - np.cos(np.abs(turns) / 2))
    if rises.max() + off.max() > OFF_CHORD_MM + LEAST_TURN:
        return None
    return math.tan(sweep / 4)


def _circle(first: Points, middle: Points, last: Points) -> tuple[Points, float] | None:
    """Return centre and radius of the circle through three points, if it is bent enough."""
    a, b = middle - first, last - first
    double = 2 * (a[0] * b[1] - a[1] * b[0])
    if double == 0.0:
        return None
    aa, bb = float(a @ a), float(b @ b)
    centre = np.array([b[1] * aa - a[1] * bb, a[0] * bb - b[0] * aa]) / double
    radius = float(np.hypot(*centre))
    return (first + centre, radius) if radius <= LARGEST_RADIUS_MM else None
