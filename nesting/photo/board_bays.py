"""Bays and corners of a rough board that look like the ground, bridged.

Paint of the ground's own colour takes a piece out of what looks like wood. A side is one fair curve
though, on both sides of such a bay, and end and side meet at a corner; and the edge goes on there
as a line, however faint, which is looked for in a band about the bridge. What lies between is told
as doubtful.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.photo.band import STEP_MM
from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import is_face, meeting
from nesting.photo.fair_course import (
    BAY_MM,
    FARTHEST_MM,
    LIP_MM,
    SIGNS,
    Course,
    Line,
    course_of,
    end_between,
    end_line,
    end_zone,
    line_through,
    turned_about,
)
from nesting.photo.line_followed import TOLD_NATS, followed, line_share
from nesting.photo.plan_view import Array, PlanView
from nesting.photo.rings import resampled

NEXT_MM = 36.0
"""Bays nearer to each other than this are one."""

LONGEST_SHARE, DEEPEST_SHARE = 0.45, 0.75
"""A bay longer than this share of its side, or deeper than that of the width, is a step."""

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

NO_LINE_MM = 300.0
"""A bay no longer than this is bridged though no line is seen."""


@dataclass(frozen=True)
class Bridge:
    """A stretch of edge carried on: (n, 2) places of it; mm.

    ``seen`` is the part of it over which a line is seen.
    """

    line: Array
    seen: float


@dataclass(frozen=True)
class Bridged:
    """A rough ring with its bays bridged, the bridges, and the bays between; mm."""

    ring: Array
    bridges: tuple[Bridge, ...] = ()
    bays: tuple[Array, ...] = ()


def bridged(plan: PlanView, ring: Array) -> Bridged:
    """Return a closed anticlockwise ring, evenly stepped, with its bays bridged."""
    middle = ring.mean(axis=0)
    ahead = np.linalg.svd(ring - middle, full_matrices=False)[2][0]
    turn = np.array([ahead, (-ahead[1], ahead[0])])
    sides = course_of((ring - middle) @ turn.T)
    if sides is None:
        return Bridged(ring)
    shape: BaseGeometry = Polygon(ring).buffer(0)
    bridges: list[Bridge] = []

    def follow(line: Array, reach_mm: float) -> tuple[Array, Array]:
        _, met, told = followed(plan, LineString(line @ turn + middle), reach_mm)
        return (met - middle) @ turn.T, told

    for bulge in _bulges(sides):
        course, rim = (line @ turn + middle for line in (bulge.course, bulge.rim))
        seen = line_share(plan, course)
        if seen < LINE_SHARE or seen < line_share(plan, rim) + CLEARER_SHARE:
            continue
        bridges.append(Bridge(course, seen))
        shape = shape.difference(Polygon(bulge.patch @ turn + middle).buffer(0))
    for legs, patch, may_be_none in (*_bays(sides), *_corners(sides, follow)):
        lines = [leg @ turn + middle for leg in legs]
        seen = min(line_share(plan, line) for line in lines)
        if may_be_none and (seen < LINE_SHARE or _is_wood(plan, shape, lines)):
            continue
        bridges += [Bridge(line, seen) for line in lines]
        shape = shape.union(Polygon(patch @ turn + middle).buffer(0))
    if not bridges:
        return Bridged(ring)
    # A patch may lie off the ring by as much as it was met by.
    shape = shape.buffer(LIP_MM, join_style="mitre").buffer(-LIP_MM, join_style="mitre")
    whole = max(shapely.get_parts(shape), key=lambda part: part.area)
    filled = Polygon(whole.exterior)
    made = resampled(np.asarray(filled.exterior.coords)[:-1], STEP_MM)
    near = shapely.union_all([LineString(bridge.line).buffer(STEP_MM) for bridge in bridges])
    bays = shapely.get_parts(filled.difference(Polygon(ring).buffer(0)))
    rings = tuple(
        np.asarray(bay.exterior.coords)[:-1]
        for bay in bays
        if bay.area > LEAST_MM2 and bay.intersects(near)
    )
    return Bridged(made if filled.exterior.is_ccw else made[::-1], tuple(bridges), rings)


def _is_wood(plan: PlanView, shape: BaseGeometry, legs: list[Array]) -> bool:
    """Return whether two legs make a small corner that looks like wood: sides are drawn out to
    such corners later.
    """
    if len(legs) != 2:
        return False
    tip = legs[0][-1]
    near = shapely.get_coordinates(shapely.shortest_line(shape, shapely.Point(tip)))[0]
    return float(np.linalg.norm(tip - near)) < ROUND_MM and is_face(plan, near, tip)


LEAST_MM2 = 60.0

Follow = Callable[[Array, float], tuple[Array, Array]]
"""Gives the (n, 2) line in a picture so near a path, and what it tells at each place."""

Found = tuple[list[Array], Array, bool]
"""Legs of a bridge, the patch it adds, and whether it counts only where a line is seen."""


def _bays(sides: Course) -> Iterator[Found]:
    """Return bays of the long sides."""
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        for run in _runs(fair - reach, BAY_MM):
            if run[0] < 3 or run[-1] > len(reach) - 4:
                continue
            deep = float((fair - reach)[run].max())
            if len(run) > LONGEST_SHARE * len(reach) or deep > DEEPEST_SHARE * sides.width:
                continue
            line = np.column_stack([sides.u[run], sign * fair[run]])
            below = np.column_stack([sides.u[run], sign * (reach[run] - 2 * STEP_MM)])
            is_long = len(run) * STEP_MM > NO_LINE_MM
            yield [line if sign < 0 else line[::-1]], np.concatenate([line, below[::-1]]), is_long


CLEARER_SHARE = 0.2
"""A bulge is cut off where the line of its side is seen over so much more than its own rim."""

BULGE_MM = 11.0
"""Rough sound edges stand out past their course by 6.6 mm at the most (of 240 rendered sides)."""


@dataclass(frozen=True)
class _Bulge:
    """Where a side stands out past its fair course: (n, 2) the course, in the ring's order, the rim
    that was found, and the ring of what lies between; in the frame of a board along u.
    """

    course: Array
    rim: Array
    patch: Array


def _bulges(sides: Course) -> Iterator[_Bulge]:
    """Return where the long sides stand out past their course: a shadow, or wood indeed."""
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        for run in _runs(reach - fair, BULGE_MM):
            if len(run) > LONGEST_SHARE * len(reach):
                continue
            course, rim = (np.column_stack([sides.u[run], sign * v[run]]) for v in (fair, reach))
            beyond = np.column_stack([sides.u[run], sign * (reach[run] + 2 * STEP_MM)])
            patch = np.concatenate([course, beyond[::-1]])
            yield _Bulge(*(line if sign < 0 else line[::-1] for line in (course, rim)), patch)


def _runs(deep: Array, least: float) -> list[NDArray[np.intp]]:
    """Return runs of places that lie so deep inside at least, or outside, from lip to lip, those
    near each other as one.
    """
    flags = deep > LIP_MM
    gap = round(NEXT_MM / STEP_MM)
    for rest in runs_in_line(~flags):
        if len(rest) < gap and rest[0] > 0 and rest[-1] < len(flags) - 1:
            flags[rest] = True
    return [run for run in runs_in_line(flags) if deep[run].max() > least]


def _corners(sides: Course, follow: Follow) -> Iterator[Found]:
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
    """Return the line of one end, of two ways to find it the one along which more is seen."""
    best: Line | None = None
    most = -1.0
    for line in (end_line(sides, ahead), _end_seen(sides, ahead, follow)):
        if line is None:
            continue
        low, high = end_between(sides, ahead)
        (u, v), (along, up) = line
        ends = [(u + (at - v) * along / up, at) for at in (low, high)]
        told = float(follow(np.array(ends), FINE_END_MM)[1].mean())
        if told > most + BETTER_NATS:
            best, most = line, told
    return best


FINE_END_MM, BETTER_NATS = 3.0, 1.0


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
