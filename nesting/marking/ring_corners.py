"""The corners of a ring, and its stretches from corner to corner; rings that are circles."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing

from nesting.flat_geometry.true_arcs import OFF_CHORD_MM
from nesting.marking.base_line import Point, Points

SAME_MM = 0.01
"""Corners that leave the line of their neighbours by less are none: sheets are read back to it."""

SHARP_DEG = 30.0
"""An outline turns by more at a corner whatever its edges are."""

KNUCKLE_MM = 0.25
"""An edge turning into the next would bulge by more if it were the chord of a curve: curves are
drawn to 0.05 mm, so here is a corner, or a straight edge ends."""

ROUND_MM = 0.06
"""A ring is bored round if its corners leave a circle by less: the 0.05 mm of curves."""

LEAST_ROUND = 8
"""Corners of a ring that can be taken for a circle."""


def inward_deg(points: Points) -> Points:
    """Return (n,) the way to the left of an anticlockwise ring at each of its points, degrees."""
    ahead = np.roll(points, -1, axis=0) - points
    ahead = ahead / np.maximum(np.hypot(*ahead.T), SAME_MM)[:, None]
    on = ahead + np.roll(ahead, 1, axis=0)
    on = np.where(np.hypot(*on.T)[:, None] > SAME_MM, on, ahead)
    return np.asarray(np.degrees(np.arctan2(on[:, 0], -on[:, 1])))


def circle_of(points: Points) -> tuple[Point, float] | None:
    """Return middle and diameter of a ring that is a circle; None of any other."""
    if len(points) < LEAST_ROUND:
        return None
    middle = _middle_of(points)
    reach = np.hypot(*(points - middle).T)
    chords = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
    # An octagon's corners lie on a circle too: its edges bulge by none.
    rise = chords.max() ** 2 / (8 * reach.max())
    if np.ptp(reach) > ROUND_MM or rise > OFF_CHORD_MM + ROUND_MM:
        return None
    return (float(middle[0]), float(middle[1])), 2 * float(reach.mean())


def _middle_of(points: Points) -> Points:
    """Return the middle of the circle that (n, 2) points lie on most nearly, by least squares.

    That of their box is off where no point lies opposite another: by as much as chords are deep.
    """
    low = points.min(axis=0)
    off = points - low
    rows = np.column_stack([2 * off, np.ones(len(off))])
    found = np.linalg.lstsq(rows, (off * off).sum(axis=1), rcond=None)[0]
    return np.asarray(low + found[:2])


def plain_ring(points: Points) -> Points:
    """Return the corners of a ring anticlockwise, without those on a straight line."""
    ring = LinearRing(points)
    # No corner is kept for the sake of a ring that would cross itself: by so little none is seen.
    found = shapely.get_coordinates(shapely.simplify(ring, SAME_MM, preserve_topology=False))[:-1]
    found = found if len(found) > 2 else points
    return found if ring.is_ccw else found[::-1]


def from_lower_left(points: Points) -> Points:
    """Return a ring that begins at its lower left corner."""
    corners = np.flatnonzero(_are_corners(points))
    some = corners if len(corners) else np.arange(len(points))
    span = np.maximum(np.ptp(points, axis=0), SAME_MM)
    first = some[int(np.argmin((points[some] / span).sum(axis=1)))]
    return np.roll(points, -first, axis=0)


def _are_corners(points: Points) -> NDArray[np.bool_]:
    """Return (n,) which points of a ring are corners, or ends of straight edges."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.abs(np.arctan2(cross, (before * after).sum(axis=1)))
    lengths = np.hypot(*after.T)
    longest = np.maximum(lengths, np.roll(lengths, 1))
    found: NDArray[np.bool_] = turns > math.radians(SHARP_DEG)
    return np.asarray(found | (turns * longest / 8 > KNUCKLE_MM))


def runs_of(points: Points) -> Iterator[Points]:
    """Yield a ring's stretches from corner to corner; a ring without corners in four."""
    corners = np.flatnonzero(_are_corners(points))
    if not len(corners):
        ends = [points[:, axis].argmin() for axis in (0, 1)]
        ends += [points[:, axis].argmax() for axis in (0, 1)]
        corners = np.unique([0, *ends])
    closed = np.vstack([points, points[:1]])
    for start, end in zip(corners, [*corners[1:], len(points)], strict=True):
        yield closed[start : end + 1]
