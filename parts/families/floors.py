"""Floor timbers: the pieces across the keel that tie the two sides' frames together.

Frame of the outline: x athwartships from the centreline, y up from the seat on the keel, seen
on the marked face. The lower edge fits the inside of the planking at that face's station.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator
from shapely.geometry import LineString

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Place, Size, SlopeOfGrain
from nesting.outline import BearingZone, Bevel, Mark, MarkKind, Outline
from nesting.sources import NO_SOURCE
from parts.both_faces import both_faces
from parts.curves import as_pairs, length_of
from parts.families import floor_shape as draw
from parts.families import floor_wood as wood
from parts.marks import bolt_zone, edge_bolt_mark, scribed
from parts.part import Family
from parts.run_out import run_out
from parts.solids import bevelled, prism

if TYPE_CHECKING:
    import cadquery as cq


class FloorTimber(Family):
    """A timber across the keel with an arm up each side's frame, both sides alike.

    The lower edge follows a deadrise angle from the edge of the seat on the keel, or a fair
    curve through section points. The arms taper to their tips, cut square to the lower edge;
    the upper edge is straight along each arm, with a round hollow at the middle where the
    tips stand higher, and may have a level landing there for a keelson or mast step.

    Bolts through the keel run up and down in the plane of the face; frame bolts go through it.
    Grain is straight athwartships, or follows the arms of a grown crook. As both sides are
    alike, turning the piece over changes nothing, bevels or not.
    """

    family: ClassVar[str] = "floor timber"
    goes_with: ClassVar[GoesWith] = wood.GOES_WITH

    siding_mm: wood.Siding
    moulding_mm: wood.Moulding
    half_span_mm: Size = Field(
        description="from the centreline to the arm's tip, on the lower edge", le=5000
    )
    tip_moulding_mm: Size = Field(
        description="depth of the arm at its tip, square to the lower edge", le=600
    )
    seat_mm: Size | None = Field(
        None, description="half the width of the flat on the keel; with deadrise", le=1000
    )
    deadrise_deg: float | None = Field(
        None, description="rise of the lower edge from level, each side", ge=0, le=60
    )
    section: tuple[Place, ...] | None = Field(
        None,
        description="[half-breadth, height] to the inside of planking, from the edge of the "
        "seat on the keel outward; in place of deadrise and seat",
        min_length=2,
        max_length=200,
    )
    landing_mm: wood.Landing = 0.0
    hollow_radius_mm: Distance | None = Field(
        None,
        description="radius of the hollow of the upper edge, 0 for none; by default twice the "
        f"moulding, or less where the tips stand low ({NO_SOURCE})",
        le=20000,
    )
    limber_width_mm: wood.LimberWidth = 0.0
    limber_height_mm: wood.LimberHeight = None
    limber_offset_mm: Size | None = Field(
        None,
        description="centreline to the middle of a limber hole; by default just off the seat",
        le=5000,
    )
    keel_bolt_mm: wood.KeelBolt = wood.USUAL_KEEL_BOLT_MM
    keel_bolt_offsets_mm: wood.KeelBoltOffsets = (0.0,)
    frame_lap_mm: Size = Field(
        description="length of each arm, from its tip, that lies against the frame", le=5000
    )
    frame_bolts: wood.FrameBolts = 2
    frame_bolt_mm: wood.FrameBolt = 10.0
    bevel_deg: float = Field(
        0.0,
        description="bevel of the arms' lower edges from square; positive is standing, the far "
        "face larger than the marked one",
        ge=-45,
        le=45,
    )
    seat_bevel_deg: float = Field(
        0.0, description="bevel of the seat, where the keel rises or falls", ge=-45, le=45
    )
    marked_face: Literal["fore", "aft"] = Field(
        "aft", description="the face the section belongs to and bevels are measured from"
    )
    grain: wood.FloorGrain = "straight"
    slope_of_grain: SlopeOfGrain = 12.0

    @model_validator(mode="after")
    def _can_be_made(self) -> Self:
        if (self.section is None) == (self.deadrise_deg is None):
            raise PartError(
                "a floor timber's lower edge comes from deadrise or from section points: "
                f"{'both are' if self.section else 'neither is'} given, give one"
            )
        if (self.seat_mm is None) != (self.section is not None):
            raise PartError(
                "seat goes with deadrise: give it, half the keel's width"
                if self.section is None
                else "the seat ends at the first section point: leave seat out"
            )
        self._bolts_fit()
        self.outline()
        return self

    def _bolts_fit(self) -> None:
        wood.check_keel_bolt(self.keel_bolt_mm, self.siding_mm)
        if self.frame_bolts:
            wood.check_frame_bolt(self.frame_bolt_mm, self.tip_moulding_mm, self._under_mm)

    @property
    def bevels(self) -> tuple[Bevel, ...]:
        """The bevels to be cut after sawing."""
        cuts = {"lower edges of the arms": self.bevel_deg, "seat on the keel": self.seat_bevel_deg}
        return tuple(
            Bevel(edge, angle, max(0.0, self._spread(angle)))
            for edge, angle in cuts.items()
            if angle
        )

    def _spread(self, bevel_deg: float) -> float:
        return self.siding_mm * math.tan(math.radians(bevel_deg))

    @property
    def _under_mm(self) -> float:
        return max(0.0, -self._spread(self.bevel_deg))

    def drawing(self) -> draw.FloorDrawing:
        """Return the loft's drawing, whichever way the lower edge is given."""
        if self.section is not None:
            arm = draw.section_arm(np.asarray(self.section, dtype=float), self.half_span_mm)
        else:
            assert self.seat_mm is not None and self.deadrise_deg is not None
            arm = draw.deadrise_arm(self.seat_mm, self.deadrise_deg, self.half_span_mm)
        return draw.FloorDrawing(
            arm=arm,
            moulding_mm=self.moulding_mm,
            tip_moulding_mm=self.tip_moulding_mm,
            landing_mm=self.landing_mm,
            hollow_radius_mm=self.hollow_radius_mm,
            limber=self._limber(float(arm[0, 0])),
            under_mm=self._under_mm,
        )

    def _limber(self, seat_mm: float) -> draw.Limber | None:
        return wood.limber(
            self.limber_width_mm,
            self.limber_height_mm,
            self.limber_offset_mm,
            beside_mm=seat_mm,
        )

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, to the larger face of each bevelled edge."""
        drawing = self.drawing()
        shape = drawing.shape(
            max(0.0, self._spread(self.bevel_deg)), max(0.0, self._spread(self.seat_bevel_deg))
        )
        # The far face must be a floor timber too: this raises if the bevels leave none.
        far = drawing.shape(self._spread(self.bevel_deg), self._spread(self.seat_bevel_deg))
        base = Outline(shape, self.siding_mm)
        grain = wood.floor_grain(drawing, self.grain)
        zones = (*self._keel_zones(base), *self._frame_zones(drawing, base))
        drawing.keep_limbers_clear([zone.region for zone in zones])
        return Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([drawing.arm, drawing.upper_edge()], grain),
            bearing_zones=zones,
            marks=self._marks(drawing, base),
            bevels=self.bevels,
            may_turn_over=not self.bevels or wood.is_symmetrical(self.keel_bolt_offsets_mm),
            both_faces=both_faces(drawing.shape(), far) if self.bevels else None,
        )

    def _keel_bolts(self, base: Outline) -> list[LineString]:
        seat = float(self.drawing().arm[0, 0])
        offsets = self.keel_bolt_offsets_mm
        return wood.keel_bolts(self.keel_bolt_mm, offsets, base.shape, ("seat on the keel", seat))

    def _keel_zones(self, base: Outline) -> list[BearingZone]:
        bolt = self.keel_bolt_mm or 0.0
        return [bolt_zone(line, bolt, base.shape, "keel bolt") for line in self._keel_bolts(base)]

    def _frame_zones(self, drawing: draw.FloorDrawing, base: Outline) -> list[BearingZone]:
        length = length_of(drawing.bolt_line())
        if self.frame_lap_mm > length:
            raise PartError(
                f"the frame laps {self.frame_lap_mm:g} mm of an arm that is "
                f"{length:.1f} mm long: give a shorter lap or a longer half span"
            )
        given = (self.frame_lap_mm, self.frame_bolts, self.frame_bolt_mm)
        return wood.lap_zones(drawing, base.shape, *given)

    def _frame_bolts(self, drawing: draw.FloorDrawing) -> list[Mark]:
        given = (self.frame_lap_mm, self.frame_bolts, self.frame_bolt_mm)
        return wood.frame_bolts(drawing, *given)

    def _marks(self, drawing: draw.FloorDrawing, base: Outline) -> tuple[Mark, ...]:
        ends = ((0.0, float(base.shape.bounds[1])), (0.0, self.moulding_mm))
        marks = [Mark(MarkKind.CENTRELINE, ends, "centreline")]
        bolt = self.keel_bolt_mm or 0.0
        marks += [edge_bolt_mark(line, bolt, "keel bolt") for line in self._keel_bolts(base)]
        marks += self._frame_bolts(drawing)
        if self.bevels:
            place = as_pairs(drawing.middle_line()[1:2])
            marks.append(Mark(MarkKind.FACE, place, f"{self.marked_face} face"))
        if any(bevel.allowance_mm for bevel in self.bevels):
            half = drawing.lower_edge(0.0, 0.0)
            whole = np.vstack([half[:0:-1] * draw.MIRROR, half])
            marks += scribed(whole, base.shape, "edge on this face")
        return tuple(marks)

    def solid(self) -> cq.Workplane:
        """Return the finished timber, its lower edges bevelled from the marked face."""
        body = prism(self.outline().shape, self.siding_mm)
        drawing, siding = self.drawing(), self.siding_mm
        arms, seat = self._spread(self.bevel_deg), self._spread(self.seat_bevel_deg)
        deep = 2 * (siding + abs(arms) + abs(seat)) + self.moulding_mm
        if self.bevels:
            near, far = drawing.waste(0.0, deep), drawing.waste(arms, deep)
            body = bevelled(body, near, far, siding)
            body = bevelled(body, near * draw.MIRROR, far * draw.MIRROR, siding)
        if self.seat_bevel_deg:
            wide = 2 * self.half_span_mm
            low = np.array([[-wide, -deep], [wide, -deep]])
            near, far = (np.vstack([low, [wide, y], [-wide, y]]) for y in (0.0, -seat))
            body = bevelled(body, near, far, siding)
        return body
