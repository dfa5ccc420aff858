"""Drawing a floor timber: from its arm's lower edge to a closed shape at any depth of bevel.

Only geometry: the arm may come from an angle, from section points, or from a hull's lines.
x athwartships from the centreline, y up from the seat on the keel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.errors import PartError
from parts.curves import (
    CHORD_ERROR_MM,
    Points,
    at_distances,
    fair_curve,
    hollow_edge,
    largest_hollow,
    length_of,
    offset_left,
    parallel_hollow,
    round_topped,
    without_repeats,
)

UP = np.array([0.0, 1.0])
MIRROR = np.array([-1.0, 1.0])
LEVEL_MM = 1e-9
"""Heights nearer than this are the same: rounding."""
REPEAT_MM = 1e-6
"""Corners nearer than this are one: far below any saw, and solids choke on edges as short."""
LEAST_LIMBER_COVER = 0.5
"""A limber hole leaves at least this part of the depth above it (common practice, no source)."""


@dataclass(frozen=True)
class Limber:
    """A limber hole, one each side of the keel: a round-topped notch in the lower edge."""

    offset_mm: float
    width_mm: float
    height_mm: float


def deadrise_arm(seat_mm: float, deadrise_deg: float, half_span_mm: float) -> Points:
    """Return an arm's lower edge, (2, 2): straight at the deadrise from the seat's edge."""
    if not seat_mm < half_span_mm:
        raise PartError(
            f"the seat's half width of {seat_mm:g} mm reaches the arm's tip at "
            f"{half_span_mm:g} mm: give a longer half span or a narrower seat"
        )
    rise = (half_span_mm - seat_mm) * math.tan(math.radians(deadrise_deg))
    return np.array([[seat_mm, 0.0], [half_span_mm, rise]])


def section_arm(section: Points, half_span_mm: float) -> Points:
    """Return an arm's lower edge, (n, 2): fair through section points, to the half span.

    Parameters
    ----------
    section
        (n, 2) half-breadth and height, the first at the edge of the seat; any base line.
    """
    first, last = float(section[0, 0]), float(section[-1, 0])
    if not 0 < first < half_span_mm:
        raise PartError(
            f"the first section point, the edge of the seat, has a half-breadth of {first:g} mm; "
            f"it must be over 0 and under the half span of {half_span_mm:g} mm"
        )
    if last < half_span_mm - LEVEL_MM:
        raise PartError(
            f"the section ends at a half-breadth of {last:g} mm, short of the half span of "
            f"{half_span_mm:g} mm: give points further out or a shorter half span"
        )
    curve = fair_curve(section - [0.0, section[0, 1]])
    steps = np.diff(curve, axis=0)
    if (steps[:, 0] <= 0).any() or (steps[:, 1] < -LEVEL_MM).any():
        raise PartError(
            "the section does not run fair outward and upward from the seat: put its points in "
            "order, from the keel out, and take out the one that makes the batten turn back"
        )
    tip = [half_span_mm, float(np.interp(half_span_mm, *curve.T))]
    return without_repeats(np.vstack([curve[curve[:, 0] < half_span_mm - 1e-6], tip]))


@dataclass(frozen=True)
class FloorDrawing:
    """What the loft draws of a floor timber on its marked face.

    ``arm`` is the lower edge of the arm at x > 0, from the edge of the seat to the tip,
    (n, 2) mm; the other arm is its mirror. ``under_mm`` is how far within it the far face's lies at
    most, where the frame laps: so much of the tip an under bevel takes there.
    """

    arm: Points
    moulding_mm: float
    tip_moulding_mm: float
    landing_mm: float
    hollow_radius_mm: float | None
    limber: Limber | None
    under_mm: float = 0.0

    @property
    def tip_top(self) -> Points:
        """The upper corner of the tip, square to the end of the lower edge."""
        run = self.arm[-1] - self.arm[-2]
        inward = np.array([-run[1], run[0]]) / math.hypot(*run)
        return np.asarray(self.arm[-1] + self.tip_moulding_mm * inward)

    def upper_edge(self) -> Points:
        """Return the upper edge at x >= 0, from the tip to the edge of the landing."""
        root = np.array([self.landing_mm, self.moulding_mm])
        if self.tip_top[0] <= root[0]:
            raise PartError(
                f"the landing reaches {self.landing_mm:g} mm from the centreline, past the tip's "
                f"upper corner at {self.tip_top[0]:.1f} mm: narrow it or lengthen the arms"
            )
        edge = hollow_edge(self.tip_top, root, UP, self._radius(root))
        self._check_depth(edge)
        return edge

    def _radius(self, root: Points) -> float:
        largest = largest_hollow(self.tip_top, root, UP)
        if self.hollow_radius_mm is None:
            inward = (self.tip_top - self.arm[-1]) / self.tip_moulding_mm
            slim = parallel_hollow(self.tip_top, inward, root, UP)
            return (
                0.0 if math.isinf(largest) else max(0.0, min(2 * self.moulding_mm, largest, slim))
            )
        if self.hollow_radius_mm > 0 and math.isinf(largest):
            raise PartError(
                f"the tips stand at {self.tip_top[1]:.1f} mm, not above the moulding of "
                f"{self.moulding_mm:g} mm, so the upper edge cannot be hollow: "
                "give a hollow radius of 0"
            )
        if self.hollow_radius_mm > largest:
            raise PartError(
                f"a hollow radius of {self.hollow_radius_mm:g} mm runs past the tips; the "
                f"largest here is {largest:.1f} mm"
            )
        return self.hollow_radius_mm

    def _check_depth(self, edge: Points) -> None:
        lower = LineString(np.vstack([[0.0, 0.0], self.arm]))
        least = float(lower.distance(LineString(edge)))
        if least < self.tip_moulding_mm - CHORD_ERROR_MM:
            raise PartError(
                f"the arms are {least:.1f} mm deep at their thinnest, less than at the tips, "
                f"{self.tip_moulding_mm:g} mm: give a deeper moulding, a smaller hollow radius "
                "or a slimmer tip"
            )

    def extended_arm(self, out_mm: float) -> Points:
        """Return the arm's lower edge moved outward and run on inward to x = 0, (n + 1, 2)."""
        moved = offset_left(self.arm, -out_mm)
        run = moved[1] - moved[0]
        if moved[0, 0] <= 0 or run[0] <= 0:
            raise PartError(
                f"the under bevel takes {-out_mm:.1f} mm off the arms and leaves no seat on the "
                "far face: lessen it, or give a wider seat"
            )
        foot = [0.0, moved[0, 1] - moved[0, 0] * run[1] / run[0]]
        return np.vstack([foot, moved])

    def lower_edge(self, arm_out_mm: float, seat_out_mm: float) -> Points:
        """Return the lower edge at x >= 0 with its parts moved outward: seat, then arm."""
        arm, seat = self.extended_arm(arm_out_mm), -seat_out_mm
        if arm[0, 1] > seat + LEVEL_MM:
            raise PartError(
                "the bevels leave no seat on the far face: lessen the arms' or give the seat "
                "its own, of the same sense"
            )
        above = np.flatnonzero(arm[:, 1] >= seat - LEVEL_MM)
        if not len(above):
            raise PartError(
                "the bevels sink the arms below the seat on the far face: give the seat a "
                "bevel too, or lessen the arms'"
            )
        first = int(above[0])
        if first == 0:
            return arm
        start, end = arm[first - 1], arm[first]
        share = (seat - start[1]) / (end[1] - start[1])
        join = start + share * (end - start)
        return without_repeats(np.vstack([[0.0, seat], join, arm[first:]]))

    def shape(self, arm_out_mm: float = 0.0, seat_out_mm: float = 0.0) -> Polygon:
        """Return the closed shape with the lower edges moved outward by what is given."""
        half = np.vstack([self.lower_edge(arm_out_mm, seat_out_mm), self.upper_edge()])
        other = half[::-1] * MIRROR
        ring = without_repeats(np.vstack([half, other[other[:, 0] < 0]]))
        whole = Polygon(ring)
        if not whole.is_valid:
            raise PartError(
                "the edges of this floor timber cross: give a deeper moulding or a longer arm"
            )
        notched = whole.difference(shapely.union_all(self.limbers()))
        # A limber's wall through the corner of the seat can leave that corner twice.
        notched = shapely.remove_repeated_points(notched, REPEAT_MM)
        if not isinstance(notched, Polygon) or notched.interiors:
            raise PartError("the limber holes cut the timber through: make them smaller")
        return notched

    def limbers(self) -> list[Polygon]:
        """Return the limber holes, run on below the wood, one each side."""
        if self.limber is None:
            return []
        half, at = self.limber.width_mm / 2, self.limber.offset_mm
        foot = float(np.interp(at, *np.vstack([[0.0, 0.0], self.arm]).T))
        self._check_limber(foot)
        top = foot + self.limber.height_mm
        arch = round_topped(at, max(foot, top - half), top, self.limber.width_mm)
        deep = -self.moulding_mm - self.half_span
        ring = np.vstack([[at + half, deep], arch, [at - half, deep]])
        return [Polygon(ring), Polygon(ring * MIRROR)]

    @property
    def half_span(self) -> float:
        """Centreline to the tip of the lower edge."""
        return float(self.arm[-1, 0])

    def _check_limber(self, foot: float) -> None:
        assert self.limber is not None
        half, at = self.limber.width_mm / 2, self.limber.offset_mm
        if at - half <= 0 or at + half >= self.tip_top[0]:
            raise PartError(
                f"a limber hole {2 * half:g} mm wide at {at:g} mm from the centreline crosses "
                f"it or runs out of the arm: its middle must lie between {half:g} mm and "
                f"{self.tip_top[0] - half:.1f} mm"
            )
        upper = np.vstack([self.upper_edge(), [0.0, self.moulding_mm]])[::-1]
        depth = float(np.interp(at, *upper.T)) - foot
        if self.limber.height_mm > depth * (1 - LEAST_LIMBER_COVER):
            raise PartError(
                f"a limber hole {self.limber.height_mm:g} mm high takes more than half of the "
                f"{depth:.1f} mm of wood there: lower it to {depth / 2:.0f} mm or less"
            )

    def keep_limbers_clear(self, zones: Sequence[Polygon]) -> None:
        """Raise a PartError if a limber hole enters the whole wood around a bolt or lap."""
        if any(hole.intersects(zone) for hole in self.limbers() for zone in zones):
            assert self.limber is not None
            raise PartError(
                f"the limber holes, {self.limber.offset_mm:g} mm from the centreline, run into the "
                "bearing wood of a bolt or of the frame lap: move them or make them smaller"
            )

    def bolt_line(self) -> Points:
        """Return the middle of the frame's lap: of what both faces have of the tip."""
        return offset_left(self.arm, (self.tip_moulding_mm + self.under_mm) / 2)[::-1]

    def middle_line(self) -> Points:
        """Return three points along the middle of the wood: centreline, mid arm, tip."""
        middle = at_distances(self.arm, np.array([length_of(self.arm) / 2]))[0]
        # The tip of a short, deep, steep arm leans in past the middle of its lower edge.
        x = min(float(middle[0]), float(self.tip_top[0]))
        below = np.interp(x, *np.vstack([[0.0, 0.0], self.arm]).T)
        above = np.interp(x, *self.upper_edge()[::-1].T)
        return np.array(
            [
                [0.0, self.moulding_mm / 2],
                [x, float(below + above) / 2],
                (self.arm[-1] + self.tip_top) / 2,
            ]
        )

    def waste(self, arm_out_mm: float, depth_mm: float) -> Points:
        """Return the section of the waste below one arm, from x = 0 to well past its tip.

        Parameters
        ----------
        depth_mm
            How far below the seat it reaches.
        """
        edge = self.extended_arm(arm_out_mm)
        run = edge[-1] - edge[-2]
        past = edge[-1] + run * (self.tip_moulding_mm + depth_mm) / math.hypot(*run)
        return np.vstack([edge[:-1], past, [past[0], -depth_mm], [0.0, -depth_mm]])
