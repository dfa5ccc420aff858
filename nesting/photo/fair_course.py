"""The course of a rough board: two fair sides, and ends that are straight where they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nesting.photo.band import STEP_MM
from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import fitted_line
from nesting.photo.plan_view import Array, Mask
from nesting.photo.rings import resampled, runs_of

BAY_MM, LIP_MM = 8.0, 4.0
"""A bay is so deep at least, and begins where the edge lies so far inside the side's line: rough
edges are known to a cell."""

FARTHEST_MM = 170.0
"""So far along a board what belongs to an end is looked for, and where it meets a side."""

FAIR_MM = 330.0
"""Half the length of side by which its course is told where a bay is left out."""

PLAIN_MM = 10.0
"""How far a fair side may lie off one plain curve along all of it: of 240 rendered sides, rough
ones included, the sound ones lay off by 6.6 mm at the most."""

END_OFF_MM, END_PAST_MM, LEAST_END = 2.5, 5.0, 0.25
"""How far places of an end lie off its line; past it lies none; and what part of the width must
lie on it."""


@dataclass(frozen=True)
class Course:
    """A board along u: how far it reaches up and down at each, and the fair curve of either."""

    u: Array
    reach: tuple[Array, Array]
    """Lower side (turned over, so that outward counts up) and upper side."""
    fair: tuple[Array, Array]
    ring: Array

    @property
    def width(self) -> float:
        """Return the usual width."""
        return float(np.median(self.fair[0] + self.fair[1]))


SIGNS = (-1.0, 1.0)


def end_zone(width: float) -> float:
    """Return how much of a side at either end may belong to an end that is askew, mm."""
    return 30.0 + 0.25 * width


def course_of(ring: Array, fair_mm: float = FAIR_MM) -> Course | None:
    """Return the sides of a ring that lies along u."""
    fine = resampled(ring, 1.0)
    low = float(fine[:, 0].min())
    column = ((fine[:, 0] - low) / STEP_MM).astype(int)
    u = low + STEP_MM * (np.arange(column.max() + 1) + 0.5)
    reach = [np.full(len(u), -np.inf) for _ in SIGNS]
    for sign, row in zip(SIGNS, reach, strict=True):
        np.maximum.at(row, column, sign * fine[:, 1])
    wide = float(np.median(reach[0] + reach[1]))
    skip = round(end_zone(wide) / STEP_MM)
    free = np.zeros(len(u), bool)
    free[skip:-skip] = True
    if np.count_nonzero(free) * STEP_MM < 2 * skip * STEP_MM or wide <= 0:
        return None
    fair = [_fair(u, row, free, fair_mm) for row in reach]
    return Course(u, (reach[0], reach[1]), (fair[0], fair[1]), ring)


def _fair(u: Array, reach: Array, free: Mask, fair_mm: float) -> Array:
    """Return a side's fair curve: fitted again without what lies well inside it."""
    fair = fitted_line(u, reach, free, STEP_MM, fair_mm, PLAIN_MM)
    for _ in range(2):
        inside = np.convolve(fair - reach > BAY_MM, np.ones(9), "same") > 0
        kept = free & ~inside
        if np.count_nonzero(kept) < 0.4 * np.count_nonzero(free):
            break
        fair = fitted_line(u, reach, kept, STEP_MM, fair_mm, PLAIN_MM)
    return fair


Line = tuple[Array, Array]


def end_between(sides: Course, ahead: float) -> tuple[float, float]:
    """Return from where to where one end reaches across."""
    skip = round(end_zone(sides.width) / STEP_MM)
    at = skip if ahead < 0 else -1 - skip
    return -float(sides.fair[0][at]), float(sides.fair[1][at])


def end_line(sides: Course, ahead: float, least: float = LEAST_END) -> Line | None:
    """Return the line of one end: what so much of the width lies on, and nothing past."""
    fine = resampled(sides.ring, 1.0)
    edge = float((ahead * sides.u).max())
    low, high = end_between(sides, ahead)
    near = fine[(ahead * fine[:, 0] > edge - FARTHEST_MM)]
    row = ((near[:, 1] - low) / STEP_MM).astype(int)
    count = max(1, int((high - low) / STEP_MM))
    use = (row >= 0) & (row < count)
    out = np.full(count, -np.inf)
    np.maximum.at(out, row[use], ahead * near[use, 0])
    v = low + STEP_MM * (np.arange(count) + 0.5)
    v, out = v[np.isfinite(out)], out[np.isfinite(out)]
    return turned_about(line_through(v, out, high - low, least), ahead)


def turned_about(line: Line | None, ahead: float) -> Line | None:
    """Return the line of an end that was looked at with its board turned about."""
    if line is None:
        return None
    return line[0] * (ahead, 1.0), line[1] * (ahead, 1.0)


def line_through(v: Array, out: Array, wide: float, least: float) -> Line | None:
    """Return the line that most places (v, out) lie on, as (out, v), and none past."""
    i, k = np.triu_indices(len(v), max(3, round(20.0 / STEP_MM)))
    if not len(i):
        return None
    slope = (out[k] - out[i]) / (v[k] - v[i])
    i, k, slope = i[np.abs(slope) < 0.7], k[np.abs(slope) < 0.7], slope[np.abs(slope) < 0.7]
    if not len(i):
        return None
    off = out[None] - (out[i][:, None] + slope[:, None] * (v[None] - v[i][:, None]))
    on = np.abs(off) < END_OFF_MM
    worth = on.sum(axis=1) - 2.0 * (off > END_PAST_MM).sum(axis=1) - 0.1 * len(v) * np.abs(slope)
    best = int(np.argmax(worth))
    if on[best].sum() * STEP_MM < max(24.0, least * wide):
        return None
    b, a = np.polyfit(v[on[best]], out[on[best]], 1)
    middle = float(v[on[best]].mean())
    return np.array([a + b * middle, middle]), np.array([b, 1.0]) / np.hypot(b, 1)


LEAVES_MM, FINE_FAIR_MM = 3.5, 200.0
"""How far a found edge may lie off its fair course and not be told, and half the length of side
that tells that course."""


def departures(ring: Array) -> Iterator[Array]:
    """Return stretches (n, 2) in which a board's found edge leaves the course of its neighbours.

    ``ring``: of a board that lies along x.
    """
    middle = ring.mean(axis=0)
    sides = course_of(ring - middle, FINE_FAIR_MM)
    if sides is None:
        return
    ends = {ahead: end_line(sides, ahead) for ahead in SIGNS}
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        off = np.abs(fair - reach) > LEAVES_MM
        for ahead, end in ends.items():
            off &= _before(sides, reach * sign, ahead, end)
        for run in runs_in_line(off):
            yield np.column_stack([sides.u[run], sign * reach[run]]) + middle
    for ahead, end in ends.items():
        for line in _off_end(sides, ahead, end):
            yield line + middle


def _before(sides: Course, v: Array, ahead: float, end: Line | None) -> Mask:
    """Return which places (u, v) of a side lie before its end."""
    line: Array = np.full(len(v), ahead * float((ahead * sides.u).max()))
    clear = end_zone(sides.width)
    if end is not None:
        (u0, v0), way = end
        line, clear = u0 + (v - v0) * way[0] / way[1], CORNER_OFF_MM
    before: Mask = ahead * (sides.u - line) < -clear
    return before


ASKEW = 0.25
"""Sine of the angle by which an end may be out of square and not be told."""

CORNER_OFF_MM = 9.0
"""So near a corner an edge may lie off its course: corners are known to some millimetres."""


def _off_end(sides: Course, ahead: float, end: Line | None) -> Iterator[Array]:
    """Return stretches of an end that lie off its line; all of it if it has none."""
    ring = resampled(sides.ring, STEP_MM)
    column = np.clip(((ring[:, 0] - sides.u[0]) / STEP_MM).astype(int), 0, len(sides.u) - 1)
    low, high = -sides.fair[0][column], sides.fair[1][column]
    edge = float((ahead * sides.u).max())
    off = (ring[:, 1] > low + CORNER_OFF_MM) & (ring[:, 1] < high - CORNER_OFF_MM)
    off &= ahead * ring[:, 0] > edge - FARTHEST_MM
    if end is not None and abs(end[1][0]) < ASKEW:
        point, way = end
        off &= np.abs((ring - point) @ (-way[1], way[0])) > LEAVES_MM
    for run in runs_of(off):
        yield ring[run]
