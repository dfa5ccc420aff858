"""Corners and ends of a rough board that look like the ground: where end and side meet, and the
ways to there from what was found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.photo.band import STEP_MM
from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import meeting
from nesting.photo.fair_course import (
    FARTHEST_MM,
    LIP_MM,
    SIGNS,
    Course,
    Line,
    end_between,
    end_line,
    end_zone,
    line_through,
    turned_about,
)
from nesting.photo.line_followed import TOLD_NATS
from nesting.photo.plan_view import Array

CORNER_MM = 3.5
"""A corner that lies so much farther from where end and side meet than rough rings round it was
taken off."""

ROUND_MM = 21.0
"""Radius of a rough ring's corners: ``find_board`` leaves out spurs narrower than twice that."""

LINE_SHARE = 0.5
"""Part of a bridge over which a line must be seen, where it may be no bridge: corners are sawn off
too, and boards have steps."""

SQUARE_SINE = 0.4
"""Sine of the least angle at which an end meets a side."""

Follow = Callable[[Array, float], tuple[Array, Array]]
"""Gives the (n, 2) line in a picture so near a path, and what it tells at each place."""

Found = tuple[list[Array], Array, bool]
"""Legs of a bridge, the patch it adds, and whether it counts only where a line is seen."""


def lost_corners(sides: Course, follow: Follow) -> Iterator[Found]:
    """Return corners that lie well inside where end and side meet."""
    shape = Polygon(sides.ring).buffer(0)
    for ahead in SIGNS:
        end = _likeliest_end(sides, ahead, follow)
        if end is None:
            continue
        corners = list[_Corner]()
        for sign, fair in zip(SIGNS, sides.fair, strict=True):
            side = _tangent(sides, fair, sign, ahead)
            tip = meeting(end, side, SQUARE_SINE)
            if tip is not None:
                off = shape.distance(shapely.Point(tip)) - _rounded(end, side)
                legs = _leg(shape, tip, side), _leg(shape, tip, end)
                corners.append(_Corner(tip, *legs, off, ahead * sign < 0))
        yield from _legs_to(corners)


@dataclass(frozen=True)
class _Corner:
    """Where an end meets a side; the ways there from where the ring leaves either, if it does."""

    tip: Array
    side: Array | None
    end: Array | None
    off_mm: float
    """How much farther off the ring passes the tip than rough rings do."""
    side_first: bool
    """Whether an anticlockwise ring comes along the side."""


def _legs_to(corners: list[_Corner]) -> Iterator[Found]:
    """Return the legs to the corners of one end that are lost."""
    for one in corners:
        if one.off_mm >= CORNER_MM and one.side is not None and one.end is not None:
            yield _ordered(one.side, one.end, one.side_first)
    is_far = any(one.off_mm >= ROUND_MM and one.side is not None for one in corners)
    if is_far and len(corners) == 2 and all(one.end is None for one in corners):
        yield _whole_end(*sorted(corners, key=lambda one: not one.side_first))


def _whole_end(before: _Corner, after: _Corner) -> Found:
    """Return the legs to both corners of an end that the ring lies on nowhere, and along it."""
    far = float(np.linalg.norm(after.tip - before.tip))
    share = np.linspace(0.0, 1.0, max(2, round(far / STEP_MM)))[:, None]
    legs = [before.tip + share * (after.tip - before.tip)]
    if before.side is not None:
        legs.insert(0, before.side)
    if after.side is not None:
        legs.append(after.side[::-1])
    around = np.concatenate(legs)
    # Well inside the board, so that no gap is left between the patch and the ring.
    inward = np.array([[0.0, -1.0], [1.0, 0.0]]) @ (after.tip - before.tip) / far
    deep = float(((around - before.tip) @ inward).max())
    inner = (before.tip + after.tip) / 2 + (deep + 0.5 * far) * inward
    return legs, np.concatenate([around, inner[None]]), True


def _rounded(end: Line, side: Line) -> float:
    """Return how far from a corner between two lines a rough ring passes it, mm."""
    half = 0.5 * float(np.arccos(min(abs(float(end[1] @ side[1])), 0.95)))
    return float(ROUND_MM * (1 / np.sin(half) - 1))


def _tangent(sides: Course, fair: Array, sign: float, ahead: float) -> Line:
    """Return a point of a side near its end, and the direction in which it goes on there."""
    reach = round(90.0 / STEP_MM)
    skip = round(end_zone(sides.width) / STEP_MM)
    one, other = (skip + reach, skip) if ahead < 0 else (-1 - skip - reach, -1 - skip)
    a, b = (np.array([sides.u[i], sign * fair[i]]) for i in (one, other))
    return b, (b - a) / np.linalg.norm(b - a)


MET_MM = 18.0
"""A ring that lies on a line for so long has come back to it."""

END_REACH_MM = 45.0
"""How far off the outermost place the line of an end is looked for."""


def _likeliest_end(sides: Course, ahead: float, follow: Follow) -> Line | None:
    """Return the line of one end, of two ways to find it the one along which more is seen.

    That of the ring itself stands if a line is seen along most of it, unless the other is a line
    all along: in leaves there are many that are nearly one.
    """
    best: Line | None = None
    most, own = -1.0, 0.0
    for line in (end_line(sides, ahead), _end_seen(sides, ahead, follow)):
        if line is None:
            continue
        low, high = end_between(sides, ahead)
        (u, v), (along, up) = line
        ends = [(u + (at - v) * along / up, at) for at in (low, high)]
        along_it = follow(np.array(ends), FINE_END_MM)[1]
        told, share = float(along_it.mean()), float(np.mean(along_it > TOLD_NATS))
        if own >= LINE_SHARE and share < WHOLE_SHARE:
            continue
        if told > most + BETTER_NATS:
            best, most, own = line, told, share
    return best


FINE_END_MM, BETTER_NATS, WHOLE_SHARE = 3.0, 1.0, 0.9


def _end_seen(sides: Course, ahead: float, follow: Follow) -> Line | None:
    """Return the line of one end as it is seen in the picture, from side to side, if it is."""
    low, high = end_between(sides, ahead)
    edge = float((ahead * sides.u).max())
    best = np.empty((0, 2)), np.zeros(1)
    for slope in ASKEW:
        off = 0.5 * slope * (high - low)
        ways = np.array([(ahead * edge - off, low), (ahead * edge + off, high)])
        best = max(best, follow(ways, END_REACH_MM), key=lambda found: float(found[1].mean()))
    met, told = best
    use = told > TOLD_NATS
    if np.mean(use) < LINE_SHARE:
        return None
    found = line_through(met[use, 1], ahead * met[use, 0], high - low, LINE_SHARE)
    return turned_about(found, ahead)


ASKEW = (-0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3)
"""How far out of square, as a slope, an end is looked for: a path that holds its course hardly
follows a line that runs at another slope."""


def _leg(shape: Polygon, tip: Array, line: Line) -> Array | None:
    """Return the straight way from where a ring leaves a line to the tip that it goes on to."""
    point, along = line
    back = -along if (tip - point) @ along > 0 else along
    far = np.arange(0.0, FARTHEST_MM + STEP_MM, STEP_MM)
    places = tip + far[:, None] * back
    off = shapely.distance(shapely.points(places), shape.exterior)
    on = [run for run in runs_in_line(np.asarray(off < LIP_MM)) if len(run) * STEP_MM >= MET_MM]
    if not on or on[0][0] < 2:
        return None
    made: Array = places[on[0][0] :: -1]
    return made


def _ordered(side: Array, end: Array, side_first: bool) -> Found:
    """Return both legs in the ring's order, and the patch between them.

    At u's far end an anticlockwise ring comes along the lower side, and goes on along the end.
    """
    legs = [side, end[::-1]] if side_first else [end, side[::-1]]
    return legs, np.concatenate([side, end[::-1]]), True
