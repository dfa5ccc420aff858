"""A line that is straight for a run, and swept into it: a level keel, and the forefoot up from it.

A keel is a straight timber on most boats, and the stem is swept into it somewhere between two
stations. One spline through the points of both swings along the keel, by millimetres; so what is
straight is drawn straight, and what is swept into it meets it in its direction. Where it does,
between the last point of the sweep and the first of the straight, no point says: as a power of the
way that leaves the sweep as it runs there.
"""

from __future__ import annotations

import numpy as np

from parts.curves import Points
from parts.lines.plane_curve import PlaneCurve, curve_through

TIMES_TANGENT = 2.5
"""How much farther than its tangent a sweep takes to reach the line that it runs out into: as a
power 2.5 of the way, between a parabola and a cubic. On straight keels of three hulls by formulas
it was 3 to 6 mm off at most, the parabola 3 to 11, the cubic 4 to 11; a power that the bend of the
sweep's last points asks for, 15."""

FEWEST_SWEPT = 3
"""Points of a sweep by which its direction is known."""

WITHIN = 0.05, 0.95
"""Between which parts of the run up to the first straight point the sweep may end: nearer to a
point it ends there."""


def straight_through(x: Points, values: Points) -> Points:
    """Return the straight line through points by least squares, at their places, (n,)."""
    middle = x.mean()
    rise = float(((x - middle) * (values - values.mean())).sum() / ((x - middle) ** 2).sum())
    return np.asarray(values.mean() + rise * (x - middle))


def swept_into(curve: PlaneCurve) -> PlaneCurve:
    """Return a curve with the points at which it meets what is straight of it."""
    assert curve.straight is not None and curve.loose is not None
    points, corners, loose, (low, high) = curve.points, curve.corners, curve.loose, curve.straight
    along = (points[low], points[high])
    begins = [0, *corners]
    ends = [*corners, len(points) - 1]
    fore = _meets(points[max(n for n in begins if n <= low) : low], along) if low else None
    aft = _meets(points[min(n for n in ends if n >= high) : high : -1], along)
    if fore is not None:
        points, loose = np.insert(points, low, fore, axis=0), np.insert(loose, low, 0.0)
        corners = tuple(n + (n >= low) for n in corners)
        high += 1
    if aft is not None:
        points, loose = np.insert(points, high + 1, aft, axis=0), np.insert(loose, high + 1, 0.0)
        corners = tuple(n + (n > high) for n in corners)
        high += 1
    return curve_through(points, corners, (low, high), loose)


def _meets(sweep: Points, along: tuple[Points, Points]) -> Points | None:
    """Return where a sweep meets what is straight, (2,), if it does so short of its first point.

    Parameters
    ----------
    sweep
        (n, 2) points toward the straight.
    """
    if len(sweep) < FEWEST_SWEPT:
        return None
    first = min(along, key=lambda end: abs(float(end[0] - sweep[-1, 0])))
    rise = float((along[1][1] - along[0][1]) / (along[1][0] - along[0][0]))
    x, value = sweep[-1]
    above = float(value - first[1] - rise * (x - first[0]))
    rising = sweep if sweep[-1, 0] > sweep[0, 0] else sweep[::-1]
    closing = float(curve_through(rising).slope(x)) - rise
    if above * closing == 0.0:
        return None
    step = -TIMES_TANGENT * above / closing
    part = step / float(first[0] - x)
    if not WITHIN[0] < part < WITHIN[1]:
        return None
    return np.array([x + step, first[1] + rise * (x + step - first[0])])
