"""Knees: hanging, lodging and quarter knees, all drawn alike.

Frame of the outline: the heel, where the two outer (faying) edges meet, is the origin, and the
diagonal from heel to throat runs up y. So x runs across the throat, the way of the grain. The
beam's arm (the transom's, for a quarter knee) lies to the left, the side's to the right; the
hand ``mirrored`` exchanges them.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator
from shapely.geometry import LineString, Polygon, box

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Size, SlopeOfGrain
from nesting.grain import GrainPath, straight_grain
from nesting.outline import BearingZone, Bevel, Mark, MarkKind, Outline
from nesting.sources import BOLT_SOURCE, NO_SOURCE
from parts.both_faces import both_faces
from parts.curves import (
    Points,
    as_pairs,
    hollow_edge,
    largest_hollow,
    parallel_hollow,
    without_repeats,
)
from parts.marks import (
    LOADED_END_DIAMETERS,
    bolt_zone,
    check_edge_bolt,
    edge_bolt,
    edge_bolt_mark,
    in_a_row,
    scribed,
    zone_along,
)
from parts.part import Family
from parts.run_out import run_out
from parts.solids import bevelled, prism

if TYPE_CHECKING:
    import cadquery as cq

UP = np.array([0.0, 1.0])

SHARPEST_DEG, BLUNTEST_DEG = 40.0, 150.0
"""How little and how far the arms of a knee open (common practice, no source)."""

ROOT_DIAMETERS = 2.0
"""Innermost bolt of an arm beyond the foot of the throat, so that bolts of both arms clear
one another (common practice, no source)."""

USUAL_HOLLOW = 0.6
"""Radius of a hollow not given, of the largest there is: the arms then taper to their tips
(common practice, no source)."""

GROWN_BEND = 0.7
"""Where grain rounds the bend of a crook, of the way from heel to throat: the heel is got out
of the swell outside the bend. Of the places tried this one kept the edges nearest the grain."""

THROAT_ZONE = 0.5
"""The throat's whole wood reaches half a throat to each side of the diagonal (common practice, no
source)."""


class KneeKind(StrEnum):
    """Where a knee stands."""

    HANGING = "hanging"
    LODGING = "lodging"
    QUARTER = "quarter"


class Knee(Family):
    """A knee between a beam and the side, or between transom and side.

    A hanging knee stands upright below a beam, a lodging knee lies level beside one, a quarter
    knee lies in the corner of transom and sheer. All have two arms that meet at the heel at the
    angle of the corner, tips square to their outer edges, and between them a hollow: a circular
    arc, square to the diagonal at the throat, running tangent into a straight taper to each tip.
    Without a radius the arc has six tenths of the largest that both arms can take.

    Grain of a sawn knee runs square across the diagonal, from arm to arm: a knee fails by
    splitting at the throat from the hollow to the heel, and there the wood is pulled along x.
    This is also the direction that leaves both arms alike out of the grain, so that the worse
    one is as good as it can be; for equal arms it is the line from tip to tip. Even so a right
    angled knee has 1 in 1 in its arms, which is why knees are cut from grown crooks wherever
    there are any: with ``grain: grown`` the grain follows the middle of the arms round the bend.
    """

    family: ClassVar[str] = "knee"
    goes_with: ClassVar[GoesWith] = {"bolt_mm": ("bolts", (0,))}

    kind: KneeKind = Field(description="hanging, lodging or quarter")
    siding_mm: Size = Field(description="thickness across the face that is sawn", le=600)
    beam_arm_mm: Size = Field(
        description="heel to tip along the beam, or along the transom of a quarter knee", le=4000
    )
    side_arm_mm: Size = Field(description="heel to tip along the side", le=4000)
    angle_deg: float = Field(
        90.0, description="angle between the arms", ge=SHARPEST_DEG, le=BLUNTEST_DEG
    )
    throat_mm: Size = Field(description="heel to hollow, along the diagonal", le=1500)
    tip_moulding_mm: Size = Field(
        description="depth of each arm at its tip, square to its outer edge", le=600
    )
    hollow_radius_mm: Size | None = Field(
        None,
        description=f"radius of the hollow; by default 0.6 of the largest there is ({NO_SOURCE})",
        le=20000,
    )
    bolts: int = Field(2, description=f"bolts in each arm ({BOLT_SOURCE})", ge=0, le=12)
    bolt_mm: Size = Field(12.0, description=f"diameter of the bolts ({BOLT_SOURCE})", le=50)
    bevel_deg: float = Field(
        0.0,
        description="bevel of the side arm's outer edge from square; positive is standing, the "
        "far face larger than the marked one",
        ge=-45,
        le=45,
    )
    hand: Literal["as drawn", "mirrored"] = Field(
        "as drawn", description="mirrored for the other side of the boat"
    )
    grain: Literal["straight", "grown"] = Field(
        "straight", description="straight across the throat, or round the bend of a grown crook"
    )
    slope_of_grain: SlopeOfGrain = 12.0
    heel_cut_mm: Distance = Field(
        0.0, description="taken off the heel, square to the diagonal, to let water past", le=500
    )

    @model_validator(mode="after")
    def _can_be_made(self) -> Self:
        self._throat_fits()
        if self.bolts:
            check_edge_bolt(self.bolt_mm, self.siding_mm, "knee bolt")
        self.outline()
        return self

    def _throat_fits(self) -> None:
        half = math.radians(self.angle_deg / 2)
        least = self.tip_moulding_mm / math.sin(half)
        tips = [self.inner_tip(side) for side in (-1, 1)]
        most = min(float(tip[1]) for tip in tips)
        if most <= least or tips[0][0] >= 0 or tips[1][0] <= 0:
            raise PartError(
                f"arms of {self.beam_arm_mm:g} mm and {self.side_arm_mm:g} mm are too short for a "
                f"tip moulding of {self.tip_moulding_mm:g} mm: lengthen the shorter or slim the tip"
            )
        if not least < self.throat_mm < most:
            raise PartError(
                f"the throat is {self.throat_mm:g} mm; with this angle, these arms and tips it "
                f"must be over {least:.1f} mm, where the arms have no taper, and under "
                f"{most:.1f} mm, where there is no hollow"
            )
        heel = self.throat_mm * min(0.25, math.cos(half) ** 2)
        if self.heel_cut_mm > heel:
            raise PartError(
                f"{self.heel_cut_mm:g} mm off the heel leaves too little of it for the throat and "
                f"the bolts: take off {heel:.1f} mm at most"
            )

    @property
    def _beam_side(self) -> int:
        """On which side of y the beam's arm lies: -1 left, 1 right."""
        return -1 if self.hand == "as drawn" else 1

    def along(self, side: int) -> Points:
        """Return the unit direction from the heel of the arm on a side: -1 left, 1 right."""
        half = math.radians(self.angle_deg / 2)
        return np.array([side * math.sin(half), math.cos(half)])

    def inward(self, side: int) -> Points:
        """Return the unit direction square to an arm, from its outer edge into the wood."""
        half = math.radians(self.angle_deg / 2)
        return np.array([-side * math.cos(half), math.sin(half)])

    def arm_mm(self, side: int) -> float:
        """Return the length of the arm on a side, heel to tip."""
        return self.beam_arm_mm if side == self._beam_side else self.side_arm_mm

    def inner_tip(self, side: int) -> Points:
        """Return the inner corner of an arm's tip."""
        across = self.tip_moulding_mm * self.inward(side)
        return np.asarray(self.arm_mm(side) * self.along(side) + across)

    def inner_edges(self) -> tuple[Points, ...]:
        """Return the inner edge of the left and of the right arm, from tip to throat."""
        tips = {side: self.inner_tip(side) for side in (-1, 1)}
        throat = np.array([0.0, self.throat_mm])
        largest = min(
            min(largest_hollow(tip, throat, UP), parallel_hollow(tip, self.inward(s), throat, UP))
            for s, tip in tips.items()
        )
        radius = self.hollow_radius_mm or USUAL_HOLLOW * largest
        if radius > largest:
            raise PartError(
                f"a hollow radius of {radius:g} mm runs past a tip or leaves an arm thinner than "
                f"its tip; the largest here is {largest:.1f} mm"
            )
        return tuple(hollow_edge(tip, throat, UP, radius) for tip in tips.values())

    def _outer_edges(self) -> list[Points]:
        """Return both arms' outer edges without the heel, which lies outside any bend of grain."""
        half = math.radians(self.angle_deg / 2)
        foot = self.throat_mm * math.cos(half)
        return [np.outer([foot, self.arm_mm(side)], self.along(side)) for side in (-1, 1)]

    @property
    def spread_mm(self) -> float:
        """How far the far face's side arm stands out beyond the marked face's."""
        return self.siding_mm * math.tan(math.radians(self.bevel_deg))

    def outer_corners(self, out_mm: float = 0.0) -> Points:
        """Return tip, heel and tip, left to right, with the side arm's edge moved outward."""
        side, beam = -self._beam_side, self._beam_side
        tips = {s: self.arm_mm(s) * self.along(s) for s in (-1, 1)}
        tips[side] = tips[side] - out_mm * self.inward(side)
        heel = -out_mm / math.sin(math.radians(self.angle_deg)) * self.along(beam)
        return np.vstack([tips[-1], heel, tips[1]])

    def shape(self, out_mm: float = 0.0) -> Polygon:
        """Return the closed shape with the side arm's outer edge moved outward."""
        left, right = self.inner_edges()
        ring = np.vstack([self.outer_corners(out_mm), right, left[::-1]])
        whole = Polygon(without_repeats(ring))
        if not whole.is_valid:
            raise PartError("the edges of this knee cross: give longer arms or a smaller throat")
        if not self.heel_cut_mm:
            return whole
        low, high = whole.bounds[0] - 1, whole.bounds[2] + 1
        kept = whole.intersection(box(low, self.heel_cut_mm, high, whole.bounds[3] + 1))
        assert isinstance(kept, Polygon), "a cut below the tips leaves one piece"
        return kept

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, to the larger face of the bevelled edge."""
        out = max(0.0, self.spread_mm)
        shape, grain = self.shape(out), self.grain_path()
        lines = self.bolt_lines(shape)
        name = "side arm, outer edge"
        return Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([*self._outer_edges(), *self.inner_edges()], grain),
            bearing_zones=self.zones(shape, lines),
            marks=self._marks(shape, lines),
            bevels=(Bevel(name, self.bevel_deg, out),) if self.bevel_deg else (),
            may_turn_over=not self.bevel_deg,
            both_faces=both_faces(self.shape(), self.shape(self.spread_mm))
            if self.bevel_deg
            else None,
        )

    def grain_path(self) -> GrainPath:
        """Return straight grain across the throat, or the line round the bend of a crook."""
        if self.grain == "straight":
            return straight_grain()
        tips = {s: self.inner_tip(s) - self.tip_moulding_mm / 2 * self.inward(s) for s in (-1, 1)}
        # Of a blunt knee with short arms the grain bends no further up than its tips lie.
        lowest = min(float(tip[1]) for tip in tips.values())
        bend = np.array([0.0, min(GROWN_BEND * self.throat_mm, lowest)])
        largest = min(largest_hollow(tip, bend, UP) for tip in tips.values())
        radius = USUAL_HOLLOW * largest if math.isfinite(largest) else 0.0
        left, right = (hollow_edge(tip, bend, UP, radius) for tip in tips.values())
        return GrainPath(as_pairs(np.vstack([left, right[-2::-1]])))

    def bolt_lines(self, shape: Polygon) -> list[LineString]:
        """Return the centre lines of the bolts, square to the arms, where they lie in a shape."""
        if not self.bolts:
            return []
        foot = self.throat_mm * math.cos(math.radians(self.angle_deg / 2))
        lines = []
        for side in (-1, 1):
            low = foot + ROOT_DIAMETERS * self.bolt_mm
            high = self.arm_mm(side) - LOADED_END_DIAMETERS * self.bolt_mm
            for at in in_a_row(low, high, self.bolts, self.bolt_mm):
                start = at * self.along(side)
                lines.append(edge_bolt(start, self.inward(side), shape, self.bolt_mm))
        return lines

    def zones(self, shape: Polygon, lines: list[LineString]) -> tuple[BearingZone, ...]:
        """Return the whole wood of a knee's shape: its throat and around its bolts."""
        diagonal = np.array([[0.0, min(0.0, shape.bounds[1])], [0.0, self.throat_mm]])
        throat = zone_along(diagonal, THROAT_ZONE * self.throat_mm, shape, "throat")
        return (throat, *(bolt_zone(line, self.bolt_mm, shape, "knee bolt") for line in lines))

    def _marks(self, shape: Polygon, lines: list[LineString]) -> tuple[Mark, ...]:
        beam = "transom" if self.kind is KneeKind.QUARTER else "beam"
        names = {self._beam_side: beam, -self._beam_side: "side"}
        marks = [Mark(MarkKind.REFERENCE, ((0.0, self.heel_cut_mm), (0.0, self.throat_mm)), "")]
        for side, name in names.items():
            corner = (self.arm_mm(side) * self.along(side) + self.inner_tip(side)) / 2
            place = corner - self.tip_moulding_mm / 2 * self.along(side)
            marks.append(Mark(MarkKind.REFERENCE, as_pairs(place[None, :]), f"to the {name}"))
        marks += [edge_bolt_mark(line, self.bolt_mm, "knee bolt") for line in lines]
        if self.bevel_deg:
            middle = shape.representative_point()
            marks.append(Mark(MarkKind.FACE, ((middle.x, middle.y),), "marked face"))
        if self.spread_mm > 0:
            edge = self.outer_corners()[1:] if self._beam_side < 0 else self.outer_corners()[:2]
            marks += scribed(edge, shape, "edge on this face")
        return tuple(marks)

    def solid(self) -> cq.Workplane:
        """Return the finished knee, its side arm bevelled from the marked face."""
        out, side = self.spread_mm, -self._beam_side
        body = prism(self.shape(max(0.0, out)), self.siding_mm)
        if not self.bevel_deg:
            return body
        along, outward = self.along(side), -self.inward(side)
        far_off = 2 * (self.arm_mm(side) + self.siding_mm + abs(out))
        edge = np.vstack([-far_off * along, far_off * along])
        beyond = edge[::-1] + far_off * outward
        near = np.vstack([edge, beyond])
        return bevelled(body, near, np.vstack([edge + out * outward, beyond]), self.siding_mm)
