"""Knees fitted to the lines: hanging, lodging and quarter knees, and breasthooks.

Frame of the outline: the plain knee's. The heel, where the outer edges meet in the marked face,
is the origin; the diagonal to the throat runs up y, so that x is the way of the grain.
"""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, Literal

import numpy as np
from pydantic import Field, PrivateAttr, ValidationError
from shapely.geometry import LineString, box

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Size, SlopeOfGrain, file_name_of
from nesting.grain import straight_grain
from nesting.outline import Mark, MarkKind, Outline
from nesting.sources import BOLT_SOURCE, NO_SOURCE
from nesting.units import Unit
from parts.boat.places import BoatPlace, faces_of, middle_beside_frame
from parts.curves import Points, as_pairs, length_of
from parts.families.knees import BLUNTEST_DEG, SHARPEST_DEG, Knee, KneeKind
from parts.fitted.beam_faces import BeamShape, beam_shape, under_beam
from parts.fitted.fitted import Fit, Fitted, SideFitted
from parts.fitted.knee_faces import Corner, KneeFaces, knee_faces
from parts.fitted.parted_edges import Chines
from parts.lamella import LAMELLA_RADIUS, THINNEST_MM, lamella_mm
from parts.marks import edge_bolt_mark
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat


def _why(cause: Mapping[str, Any]) -> str:
    """Return what is wrong with a plain knee: its own words, or which size is past its bounds."""
    if "error" in cause.get("ctx", {}):
        return str(cause["ctx"]["error"])
    size = file_name_of(str(cause["loc"][0])).replace("_", " ")
    return f"its {size} of {cause['input']:.0f} mm is more or less than any knee's: give another"


class AnyKnee(Fitted):
    """What all knees fitted to the lines are asked for."""

    arm_names: ClassVar[tuple[str, str]] = ("beam", "side")
    """What the two arms lie on."""
    goes_with: ClassVar[GoesWith] = Knee.goes_with

    siding_mm: Size = Field(description="thickness across the face that is sawn", le=600)
    throat_mm: Size = Field(description="heel to hollow, along the diagonal", le=1500)
    tip_moulding_mm: Size = Field(description="depth of each arm at its tip", le=600)
    hollow_radius_mm: Size | None = Field(
        None,
        description=f"radius of the hollow; by default 0.6 of the largest there is ({NO_SOURCE})",
        le=20000,
    )
    bolts: int = Field(2, description=f"bolts in each arm ({BOLT_SOURCE})", ge=0, le=12)
    bolt_mm: Size = Field(12.0, description=f"diameter of the bolts ({BOLT_SOURCE})", le=50)
    against: Literal["clamp", "frames", "planking"] | None = Field(
        None,
        description="what the side arm lies on; by default the clamp if there is one, else "
        "the frames",
    )
    grain: Literal["straight", "grown", "laminated"] = Field(
        "straight",
        description="straight across the throat, round the bend of a grown crook, or glued up "
        "of lamellae: the outline is then one lamella, to be planed to its thickness",
    )
    slope_of_grain: SlopeOfGrain = 12.0

    _lamellae: int = PrivateAttr(1)

    def pieces(self) -> int:
        """Return how many lamellae one knee is glued up of; 1 if it is sawn."""
        return self._lamellae

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return what a lamella belongs to."""
        if self.grain != "laminated":
            return super().remarks(unit)
        return (*super().remarks(unit), f"a lamella: {self._lamellae} are glued up to one knee")

    @abstractmethod
    def arms(self) -> tuple[float, float]:
        """Return the lengths of both arms, from the heel."""

    def heel_mm(self) -> float:
        """Return what is taken off the heel, square to the diagonal."""
        return 0.0

    def throat(self) -> float:
        """Return the throat's depth from where the outer edges meet."""
        return self.throat_mm

    def loose_heel_mm(self) -> float:
        """Return what of the heel's cut the throat has to bear: all that is not on a stem."""
        return self.heel_mm()

    @abstractmethod
    def corners(self, boat: Boat, where: BoatPlace) -> tuple[Corner, Corner]:
        """Return the corner that the knee fills in either of its faces."""

    def on_side(self, boat: Boat) -> Callable[[float], Points]:
        """Return the half section, at a place, of what the side arm lies on."""
        return boat.face_inside(self._lies_against(boat))

    def chines_on_side(self, boat: Boat) -> Chines:
        """Return the chines, at a place, of what the side arm lies on."""
        return boat.inside(self._lies_against(boat)).chines

    def _lies_against(self, boat: Boat) -> str:
        return self.against or ("frames" if boat.plan.clamp is None else "clamp")

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the knee fitted at a place, the starboard one of a pair."""
        one, other = self.corners(boat, where)
        made = knee_faces(
            one, other, self.arms(), self.siding_mm, self.plain, self.arm_names, self.heel_mm()
        )
        outline = self._sawn(made)
        if self.grain == "laminated":
            outline = self._lamella(made, outline)
        return Fit(outline, made.faces, made.position)

    def plain(self, angle_deg: float, hand: Literal["as drawn", "mirrored"]) -> Knee:
        """Return the plain knee of an angle: its inner edges, grain and bolts are this one's."""
        here = f"the arms open by {angle_deg:.1f} degrees here"
        if not SHARPEST_DEG <= angle_deg <= BLUNTEST_DEG:
            raise PartError(
                f"{here}, which no knee of this kind does ({SHARPEST_DEG:g} to {BLUNTEST_DEG:g} "
                "degrees): put it elsewhere"
            )
        try:
            return Knee(
                kind=KneeKind.HANGING,
                siding_mm=self.siding_mm,
                beam_arm_mm=self.arms()[0],
                side_arm_mm=self.arms()[1],
                angle_deg=angle_deg,
                throat_mm=self.throat(),
                tip_moulding_mm=self.tip_moulding_mm,
                hollow_radius_mm=self.hollow_radius_mm,
                bolts=self.bolts,
                bolt_mm=self.bolt_mm,
                hand=hand,
                grain="straight" if self.grain == "straight" else "grown",
                heel_cut_mm=self.loose_heel_mm(),
                slope_of_grain=self.slope_of_grain,
            )
        except ValidationError as refused:
            cause = refused.errors()[0]
            raise PartError(f"{here}; {_why(cause)}") from None

    def _sawn(self, made: KneeFaces) -> Outline:
        shape, plain = made.faces.shape, made.plain
        grain, lines = plain.grain_path(), plain.bolt_lines(made.faces.shape)
        return Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([*made.outer, *plain.inner_edges()], grain),
            bearing_zones=plain.zones(shape, lines),
            marks=(*self._marks(made, lines), *made.faces.marks("marked face")),
            bevels=made.faces.bevels(),
            may_turn_over=not made.faces.bevelled,
            both_faces=made.faces.shared,
        )

    def _marks(self, made: KneeFaces, lines: list[LineString]) -> list[Mark]:
        plain, heel = made.plain, self.heel_mm()
        diagonal = ((0.0, heel), (0.0, self.throat()))
        marks = [Mark(MarkKind.REFERENCE, diagonal, "diagonal")]
        beam = -1 if plain.hand == "as drawn" else 1
        for side, name in ((beam, self.arm_names[0]), (-beam, self.arm_names[1])):
            middle = (plain.arm_mm(side) * plain.along(side) + plain.inner_tip(side)) / 2
            place = middle - self.tip_moulding_mm / 2 * plain.along(side)
            marks.append(Mark(MarkKind.REFERENCE, as_pairs(place[None, :]), f"to the {name}"))
        return marks + [edge_bolt_mark(line, self.bolt_mm, "knee bolt") for line in lines]

    def _lamella(self, made: KneeFaces, sawn: Outline) -> Outline:
        """Return one lamella: as long as the outer edge, as wide as the siding, thin enough."""
        hollow = np.vstack([made.plain.inner_edges()[0], made.plain.inner_edges()[1][-2::-1]])
        thick = lamella_mm(_least_radius(hollow))
        if thick < THINNEST_MM:
            raise PartError(
                f"the hollow's radius of {thick * LAMELLA_RADIUS:.0f} mm wants lamellae of "
                f"{thick:.2f} mm, thinner than the {THINNEST_MM:g} mm that can be got out: "
                "lengthen the arms or deepen the throat"
            )
        length = sum(length_of(edge) for edge in made.outer)
        self._lamellae = math.ceil(self.throat_mm / thick)
        wide = self.siding_mm + max((bevel.allowance_mm for bevel in sawn.bevels), default=0.0)
        return Outline(
            box(0.0, 0.0, length, wide),
            thick,
            grain=straight_grain(),
            slope_of_grain=self.slope_of_grain,
            is_plank=True,
        )


def _least_radius(line: Points) -> float:
    """Return the radius of the sharpest bend of a polyline whose bend is one arc."""
    spans = np.diff(line, axis=0)
    lengths = np.hypot(*spans.T)
    turns = np.abs(np.diff(np.unwrap(np.arctan2(spans[:, 1], spans[:, 0]))))
    bend = turns / np.maximum((lengths[1:] + lengths[:-1]) / 2, 1e-9)
    return float(1.0 / bend[turns > 1e-6].max(initial=1e-6))


class SideKnee(AnyKnee, SideFitted):
    """A knee between a beam, or the transom, and one side of the boat."""

    beam_arm_mm: Size = Field(description="heel to tip along the beam or transom", le=4000)
    side_arm_mm: Size = Field(description="heel to tip along the side", le=4000)
    heel_cut_mm: Distance = Field(
        0.0, description="taken off the heel, square to the diagonal, to let water past", le=500
    )

    def arms(self) -> tuple[float, float]:
        """Return the lengths of the beam's and of the side's arm."""
        return self.beam_arm_mm, self.side_arm()

    def side_arm(self) -> float:
        """Return the length of the side's arm."""
        return self.side_arm_mm

    def heel_mm(self) -> float:
        """Return what is taken off the heel; the throat is measured from the heel whole."""
        return self.heel_cut_mm


class FittedHangingKnee(SideKnee):
    """A hanging knee under a deck beam: upright, from the beam's lower edge down the side."""

    family: ClassVar[str] = "hanging knee"

    beam_size: Literal["ordinary", "main"] = Field(
        "ordinary", description="which of the boat's beams it stands under"
    )
    beam_siding_mm: Size | None = Field(
        None, description="thickness of its beam; by default the boat's", le=600
    )
    beam_moulding_mm: Size | None = Field(
        None, description="depth of its beam at the centreline; by default the boat's", le=1000
    )
    beam_end_moulding_mm: Size | None = Field(
        None, description="depth of its beam at the ends; by default the boat's", le=1000
    )
    stands: Literal["aft of frame", "forward of frame", "on the line"] = Field(
        "aft of frame", description="where its beam stands; the knee's middle is the beam's"
    )

    def corners(self, boat: Boat, where: BoatPlace) -> tuple[Corner, Corner]:
        """Return the corner of beam and side in the fore and in the after face."""
        sizes = (self.beam_siding_mm, self.beam_moulding_mm, self.beam_end_moulding_mm)
        beam = beam_shape(boat, self.beam_size, sizes)
        middle = middle_beside_frame(boat, where, beam.siding_mm, self.stands)
        under = self._under(boat, faces_of(middle, beam.siding_mm), beam)
        fore, aft = faces_of(middle, self.siding_mm)
        return self._corner(boat, fore, under), self._corner(boat, aft, under)

    def _under(self, boat: Boat, planes: tuple[float, float], beam: BeamShape) -> Points:
        """Return the beam's lower edge, (n, 2), from the deck's edge inboard.

        It is drawn in the beam's marked face and square to it, wherever under the beam the knee
        stands.
        """
        under = under_beam(beam, planes, boat.deck.height, boat.hull.section)
        half = max(boat.deck.edge(x)[0] for x in planes)
        y = np.linspace(half, max(half - 3 * self.beam_arm_mm, 0.0), 80)
        return np.column_stack([y, under(y)])

    def _corner(self, boat: Boat, x: float, under: Points) -> Corner:
        section = self.on_side(boat)(x)
        above = section[:, 1] - np.interp(section[:, 0], *under[::-1].T)
        below = np.flatnonzero(above < 0)
        if not len(below) or below[-1] == len(above) - 1:
            raise PartError(
                f"the beam's lower edge does not meet the side at {x:.0f} mm from forward: check "
                "its moulding against the sheer"
            )
        last = int(below[-1])
        share = above[last] / (above[last] - above[last + 1])
        heel = section[last] + share * (section[last + 1] - section[last])
        side = np.vstack([heel, section[last::-1]])
        beam = np.vstack([heel, under[under[:, 0] < heel[0] - 1e-6]])
        return Corner(*(_at(x, line) for line in (beam, side, self.chines_on_side(boat)(x))))


def _at(x: float, line: Points) -> Points:
    return np.column_stack([np.full(len(line), x), line])
