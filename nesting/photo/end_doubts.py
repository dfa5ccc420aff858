"""A board's ends in a photograph: whether each is one, and how clearly it is seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.errors import PhotographError
from nesting.photo.band import STEP_MM
from nesting.photo.board_face import Frame
from nesting.photo.board_sides import share_alike
from nesting.photo.board_strip import Strip
from nesting.photo.fair_course import CORNER_OFF_MM
from nesting.photo.line_followed import line_share
from nesting.photo.plan_view import Array, Mask, PlanView
from nesting.photo.rough_plan import Rough

BEYOND_MM, GOES_ON, GOES_ON_BY_LINE, GOES_ON_BESIDE = 40.0, 0.6, 0.85, 0.3
"""How far past an end is looked; what part of that must look like the board for the end not to be
taken for one: more where a sharp line is seen over most of it, less where both sides go on."""

END_LINE = 0.8
"""Over less of an end than this a sharp line is seen: it is not sure."""

SIDE_MM, SIDE_LINE = (40.0, 200.0), 0.75
"""How much of a side before an end tells its way past it, and over what part of that a sharp line
must be seen for the side to go on."""


FEW = 3
"""Places of a line: of no more nothing is seen."""


@dataclass(frozen=True)
class End:
    """One end: its name, where it is along the board, and which way is out."""

    name: str
    x: float
    out: float
    outline: Polygon

    @property
    def near(self) -> BaseGeometry:
        """The last of the board before it."""
        return self._before(0.0, 60.0)

    def _before(self, low: float, high: float) -> BaseGeometry:
        first, last = sorted((self.x - self.out * low, self.x - self.out * high))
        return self.outline.intersection(box(first, -1e4, last, 1e4))

    def line(self) -> Array:
        """Return the places (n, 2) of the end itself, without its corners, upward."""
        near = self.near
        low, high = near.bounds[1] + CORNER_OFF_MM, near.bounds[3] - CORNER_OFF_MM
        ring = shapely.get_coordinates(near.segmentize(STEP_MM))
        use = (ring[:, 1] > low) & (ring[:, 1] < high) & (np.abs(ring[:, 0] - self.x) < 55.0)
        at = ring[use][np.argsort(ring[use][:, 1])]
        steps = np.diff(at[:, 1], prepend=-np.inf)
        once: Array = at[steps > STEP_MM / 10]
        return once

    def sides_on(self) -> Iterator[Array]:
        """Yield the ways (n, 2) that its sides would go on past it."""
        before = self._before(*SIDE_MM)
        ring = shapely.get_coordinates(before.segmentize(STEP_MM))
        low, _, high, _ = before.bounds
        ring = ring[(ring[:, 0] > low + 1.0) & (ring[:, 0] < high - 1.0)]
        middle = before.centroid.y
        rim = shapely.get_coordinates(self.near.segmentize(STEP_MM))
        for side in (ring[ring[:, 1] < middle], ring[ring[:, 1] >= middle]):
            if len(side) < 8:
                continue
            slope, at = np.polyfit(side[:, 0], side[:, 1], 1)
            by = rim[np.abs(rim[:, 1] - at - slope * rim[:, 0]) < CORNER_OFF_MM]
            begin = self.out * float((self.out * by[:, 0]).max()) if len(by) else self.x
            x = begin + self.out * np.arange(8.0, BEYOND_MM + 6.0, STEP_MM)
            yield np.column_stack([x, at + slope * x])


def ends_of(outline: Polygon) -> tuple[End, End]:
    """Return both ends of a board that lies along x from 0."""
    return End("left", 0.0, -1.0, outline), End("right", outline.bounds[2], 1.0, outline)


LEAST_OF_STRIP = 0.75
"""The cells of a board reach along so much of the strip that it was found as, or a part of it was
lost: of 65 boards rendered 62 reached all along it, two along 0.87, one that was halved 0.52."""


def require_whole_strip(rough: Rough, strip: Strip, cells: Mask) -> None:
    """Refuse a board of which a good part was lost from the strip that it was found as."""
    rows, columns = np.nonzero(cells)
    places = rough.to_mm(np.column_stack([columns, rows]).astype(np.float64))
    reach = float(np.ptp(places @ (np.cos(strip.angle), np.sin(strip.angle))))
    if reach < LEAST_OF_STRIP * strip.length:
        raise PhotographError(
            f"{reach:.0f} mm of a board about {strip.length:.0f} mm long can be told from the "
            "ground: keep shadows off, or lay it on ground of another colour"
        )


def require_true_ends(plan: PlanView, frame: Frame, outline: Polygon) -> None:
    """Refuse a board past whose end it looks more like the board than like the ground."""
    for end in ends_of(outline):
        alike = _alike_beyond(plan, frame, end)
        if (
            alike > GOES_ON_BY_LINE
            or (alike > GOES_ON and _seen_along(plan, frame, end.line()) < END_LINE)
            or (alike > GOES_ON_BESIDE and _sides_go_on(plan, frame, end))
        ):
            raise PhotographError(
                f"the board's {end.name} end cannot be told from the ground, wood may go on past "
                "it: keep shadows off, or lay it on ground of another colour"
            )


def faint_ends(plan: PlanView, frame: Frame, outline: Polygon) -> Iterator[Array]:
    """Yield the places (n, 2) of an end along which too little of a sharp line is seen."""
    for end in ends_of(outline):
        line = end.line()
        if len(line) > FEW and _seen_along(plan, frame, line) < END_LINE:
            yield line


def _alike_beyond(plan: PlanView, frame: Frame, end: End) -> float:
    """Return what part of what lies past an end looks like the board."""
    _, low, _, high = end.near.bounds
    x = end.x + end.out * np.linspace(8, BEYOND_MM, 9)
    y = np.linspace(low + 0.2 * (high - low), high - 0.2 * (high - low), 9)
    aside = np.concatenate(
        [np.linspace(low - 70, low - 25, 7), np.linspace(high + 25, high + 70, 7)]
    )
    inner = end.x - end.out * np.linspace(8, 90, 9)
    sets = [
        frame.back(np.stack(np.meshgrid(*axes), -1).reshape(-1, 2))
        for axes in ((x, y), (inner, y), (x, aside))
    ]
    return share_alike(plan, *sets)


def _sides_go_on(plan: PlanView, frame: Frame, end: End) -> bool:
    """Return whether sharp lines go on past an end where its sides would."""
    ways = list(end.sides_on())
    return len(ways) == 2 and all(_seen_along(plan, frame, way) >= SIDE_LINE for way in ways)


def _seen_along(plan: PlanView, frame: Frame, line: Array) -> float:
    """Return over what part of a line on the board, or past it, a sharp line is seen."""
    return line_share(plan, frame.back(line)) if len(line) > FEW else 0.0
