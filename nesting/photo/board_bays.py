"""Bays and corners of a rough board that look like the ground, bridged; bulges cut off.

Paint of the ground's own colour takes a piece out of what looks like wood. A side is one fair curve
though, on both sides of such a bay, and end and side meet at a corner; and the edge goes on there
as a line, however faint, which is looked for in a band about the bridge. What lies between is told
as doubtful. A shadow that looks like wood adds a piece, and the side's line is seen within it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.photo.band import STEP_MM
from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import is_face
from nesting.photo.fair_course import BAY_MM, LIP_MM, SIGNS, Course, course_of
from nesting.photo.line_followed import followed, line_share
from nesting.photo.lost_corners import LINE_SHARE, ROUND_MM, Found, lost_corners
from nesting.photo.plan_view import Array, PlanView
from nesting.photo.rings import lengthwise, resampled

NEXT_MM = 36.0
"""Bays nearer to each other than this are one."""

SURE_SHARE = 0.9
"""Where a line is seen over so much of a bridge the edge is sure: of ten such bridges of rendered
boards all lay within 2.1 mm, with a line over .71 one was 29 mm off. The bay is doubtful still."""

LONGEST_SHARE, DEEPEST_SHARE = 0.45, 0.75
"""A bay longer than this share of its side, or deeper than that of the width, is a step."""

NO_LINE_MM = 300.0
"""A bay no longer than this is bridged, a bulge cut off, though no line is seen."""


@dataclass(frozen=True)
class Bridge:
    """A stretch of edge carried on: (n, 2) places of it; mm.

    ``seen`` is the part of it over which a line is seen, ``why`` what is doubtful there; that is
    not told where nothing is.
    """

    line: Array
    seen: float
    why: str = "looks like the ground, carried on"
    is_told: bool = True


@dataclass(frozen=True)
class Bridged:
    """A rough ring with its bays bridged, the bridges, and the bays between; mm."""

    ring: Array
    bridges: tuple[Bridge, ...] = ()
    bays: tuple[Array, ...] = ()


def bridged(plan: PlanView, ring: Array) -> Bridged:
    """Return a closed anticlockwise ring, evenly stepped, with its bays bridged, and without
    bulges within which the line of its side is seen.
    """
    middle, turn = lengthwise(ring)
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
        is_line = seen >= LINE_SHARE and seen >= line_share(plan, rim) + CLEARER_SHARE
        if not (is_line or bulge.is_short):
            continue
        bridges.append(Bridge(course, seen, bulge.why))
        shape = shape.difference(Polygon(bulge.patch @ turn + middle).buffer(0))
    for legs, patch, may_be_none in (*_bays(sides), *lost_corners(sides, follow)):
        lines = [leg @ turn + middle for leg in legs]
        seen = min(line_share(plan, line) for line in lines)
        if may_be_none and (seen < LINE_SHARE or _is_wood(plan, shape, lines)):
            continue
        bridges += [Bridge(line, seen, is_told=seen < SURE_SHARE) for line in lines]
        shape = shape.union(Polygon(patch @ turn + middle).buffer(0))
    return _made_one(ring, shape, bridges) if bridges else Bridged(ring)


def _made_one(ring: Array, shape: BaseGeometry, bridges: list[Bridge]) -> Bridged:
    """Return the largest part of a ring's shape with its patches, and the bays that were added."""
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
"""A long bulge is cut off where the line of its side is seen over so much more than its own rim."""

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
    out_mm: float
    is_short: bool
    """A glove, a rag or a tool is no longer, and the side's own course is met again past it."""

    @property
    def why(self) -> str:
        """Return what is doubtful about it."""
        return (
            f"stands {self.out_mm:.0f} mm out past its line and is cut off there: a shadow, a "
            "thing that lies over it, or wood"
        )


def _bulges(sides: Course) -> Iterator[_Bulge]:
    """Return where the long sides stand out past their course: a shadow, or wood indeed."""
    for sign, reach, fair in zip(SIGNS, sides.reach, sides.fair, strict=True):
        for run in _runs(reach - fair, BULGE_MM):
            if len(run) > LONGEST_SHARE * len(reach):
                continue
            course, rim = (np.column_stack([sides.u[run], sign * v[run]]) for v in (fair, reach))
            beyond = np.column_stack([sides.u[run], sign * (reach[run] + 2 * STEP_MM)])
            patch = np.concatenate([course, beyond[::-1]])
            if sign > 0:
                course, rim = course[::-1], rim[::-1]
            is_short = len(run) * STEP_MM <= NO_LINE_MM and _met_again(reach - fair, run)
            yield _Bulge(course, rim, patch, float((reach - fair)[run].max()), is_short)


AGAIN_MM = 30.0
"""A side that lies on its course for so long has come back to it."""


def _met_again(off: Array, run: NDArray[np.intp]) -> bool:
    """Return whether a side lies on its course before a run of places, and after it."""
    count = round(AGAIN_MM / STEP_MM)
    beside = off[max(0, run[0] - count) : run[0]], off[run[-1] + 1 : run[-1] + 1 + count]
    return all(len(some) == count and bool((np.abs(some) < LIP_MM).all()) for some in beside)


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
