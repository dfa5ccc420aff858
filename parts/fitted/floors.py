"""Floor timbers fitted to the lines: lower edge on the keel and on the inside of the planking.

Frame of the outline: x athwartships from the centreline, y up from the seat on the keel in the
marked face, which is the larger of the two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

from pydantic import Field
from shapely.geometry import LineString, Polygon

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Size, SlopeOfGrain
from nesting.outline import BearingZone, Mark, MarkKind, Outline
from nesting.sources import NO_SOURCE
from parts.boat.places import BoatPlace, faces_of, middle_beside_frame
from parts.curves import Points, length_of
from parts.families import floor_shape as draw
from parts.families import floor_wood as wood
from parts.fitted.fitted import Fit, Fitted
from parts.fitted.floor_faces import FloorFaces, floor_faces
from parts.marks import bolt_zone, edge_bolt_mark
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat


class FittedFloor(Fitted):
    """A floor timber at a frame, its lower edge and bevels taken from the lines.

    It stands beside the frame, or on the frames' inner faces. Its seat is the keel's top, level
    out to the planking; the arms run up the planking by their length, or to the boat's floor
    heads, and taper into the frame: their tips are as deep as the frame is moulded, unless it is
    said otherwise. Upper edge, limber holes and bolts are those of the plain floor timber.
    """

    family: ClassVar[str] = "floor timber"
    goes_with: ClassVar[GoesWith] = wood.GOES_WITH

    siding_mm: wood.Siding
    moulding_mm: wood.Moulding
    arm_mm: Size | None = Field(
        None,
        description="length of each arm along its lower edge, from the seat to the tip; by "
        "default up to the boat's floor_heads",
        le=5000,
    )
    tip_moulding_mm: Size | None = Field(
        None, description="depth of the arm at its tip; by default the frame's moulding", le=600
    )
    stands: Literal["aft of frame", "forward of frame", "on frames"] = Field(
        "aft of frame", description="against which face of its frame, or on the frames' inner faces"
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
        description="centreline to the middle of a limber hole; by default just off the keel",
        le=5000,
    )
    keel_bolt_mm: wood.KeelBolt = wood.USUAL_KEEL_BOLT_MM
    keel_bolt_offsets_mm: wood.KeelBoltOffsets = (0.0,)
    frame_lap_mm: Size | None = Field(
        None,
        description="length of each arm, from its tip, that lies against the frame; by default "
        f"half the arm ({NO_SOURCE})",
        le=5000,
    )
    frame_bolts: wood.FrameBolts = 2
    frame_bolt_mm: wood.FrameBolt = 10.0
    grain: wood.FloorGrain = "straight"
    slope_of_grain: SlopeOfGrain = 12.0

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the floor fitted at a frame."""
        made = floor_faces(
            boat,
            self._planes(boat, where),
            siding_mm=self.siding_mm,
            arm_mm=self.arm_mm,
            is_on_frames=self.stands == "on frames",
            drawing=lambda arm: self._drawing(boat, arm),
        )
        shape, drawing = made.faces.shape, made.lapped(self._lap(made.drawing))
        lines = self._keel_bolts(boat, shape)
        zones = (*self._keel_zones(lines, shape), *self._frame_zones(drawing, shape))
        drawing.keep_limbers_clear([zone.region for zone in zones])
        grain = wood.floor_grain(drawing, self.grain)
        outline = Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([drawing.arm, drawing.upper_edge()], grain),
            bearing_zones=zones,
            marks=self._marks(made, drawing, lines),
            bevels=made.faces.bevels(),
            may_turn_over=wood.is_symmetrical(self.keel_bolt_offsets_mm),
            both_faces=made.faces.shared,
        )
        return Fit(outline, made.faces, made.position)

    def _planes(self, boat: Boat, where: BoatPlace) -> tuple[float, float]:
        """Return where the fore and the after face stand."""
        middle = middle_beside_frame(boat, where, self.siding_mm, self.stands)
        return faces_of(middle, self.siding_mm)

    def _drawing(self, boat: Boat, arm: Points) -> draw.FloorDrawing:
        return draw.FloorDrawing(
            arm=arm,
            moulding_mm=self.moulding_mm,
            tip_moulding_mm=self.tip_moulding_mm or boat.plan.frames.moulding_mm,
            landing_mm=self.landing_mm,
            hollow_radius_mm=self.hollow_radius_mm,
            limber=self._limber(boat, float(arm[0, 0])),
        )

    def _limber(self, boat: Boat, seat_mm: float) -> draw.Limber | None:
        return wood.limber(
            self.limber_width_mm,
            self.limber_height_mm,
            self.limber_offset_mm,
            beside_mm=min(seat_mm, boat.plan.keel.siding_mm / 2),
        )

    def _keel_bolts(self, boat: Boat, shape: Polygon) -> list[LineString]:
        wood.check_keel_bolt(self.keel_bolt_mm, self.siding_mm)
        keel = ("keel", boat.plan.keel.siding_mm / 2)
        return wood.keel_bolts(self.keel_bolt_mm, self.keel_bolt_offsets_mm, shape, keel)

    def _keel_zones(self, lines: list[LineString], shape: Polygon) -> list[BearingZone]:
        return [bolt_zone(line, self.keel_bolt_mm or 0.0, shape, "keel bolt") for line in lines]

    def _lap(self, drawing: draw.FloorDrawing) -> float:
        whole = length_of(drawing.arm)
        lap = whole / 2 if self.frame_lap_mm is None else self.frame_lap_mm
        if lap > whole:
            raise PartError(
                f"the frame laps {lap:g} mm of an arm that is {whole:.1f} mm long: give a shorter "
                "lap or longer arms"
            )
        return lap

    def _frame_zones(self, drawing: draw.FloorDrawing, shape: Polygon) -> list[BearingZone]:
        lap = min(self._lap(drawing), length_of(drawing.bolt_line()))
        return wood.lap_zones(drawing, shape, lap, self.frame_bolts, self.frame_bolt_mm)

    def _frame_bolts(self, drawing: draw.FloorDrawing) -> list[Mark]:
        if self.frame_bolts:
            tip_mm, under_mm = drawing.tip_moulding_mm, drawing.under_mm
            wood.check_frame_bolt(self.frame_bolt_mm, tip_mm, under_mm)
        return wood.frame_bolts(drawing, self._lap(drawing), self.frame_bolts, self.frame_bolt_mm)

    def _marks(
        self, made: FloorFaces, drawing: draw.FloorDrawing, lines: list[LineString]
    ) -> tuple[Mark, ...]:
        low = float(made.faces.shape.intersection(LineString([(0, -1e4), (0, 1e4)])).bounds[1])
        ends = ((0.0, low), (0.0, self.moulding_mm))
        marks = [Mark(MarkKind.CENTRELINE, ends, "centreline")]
        marks += [edge_bolt_mark(line, self.keel_bolt_mm or 0.0, "keel bolt") for line in lines]
        marks += self._frame_bolts(drawing)
        return (*marks, *made.faces.marks(f"{made.marked_face} face"))
