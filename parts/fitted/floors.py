"""Floor timbers fitted to the lines: lower edge on the keel and on the inside of the planking.

Frame of the outline: x athwartships from the centreline, y up from the seat on the keel in the
marked face, which is the larger of the two.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from nesting.errors import PartError
from nesting.fields import Distance, Length, Size, Slope
from nesting.grain import GrainPath, straight_grain
from nesting.outline import BearingZone, Mark, MarkKind, Outline
from parts import floor_shape as draw
from parts.boat.places import BoatPlace
from parts.curves import Points, as_pairs, at_distances, fair_curve, length_of
from parts.fitted.fitted import Fit, Fitted
from parts.fitted.floor_faces import FloorFaces, floor_faces
from parts.marks import (
    END_DIAMETERS,
    ZONE_DIAMETERS,
    bolt_zone,
    edge_bolt,
    edge_bolt_mark,
    in_a_row,
    square_bolt,
    zone_along,
)
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat

INNER_DIAMETERS = 2.0
"""Innermost frame bolt to the inner end of the lap, where the wood runs on (practice)."""


class FittedFloor(Fitted):
    """A floor timber at a frame, its lower edge and bevels taken from the lines.

    It stands beside the frame, or on the frames' inner faces. Its seat is the keel's top, level
    out to the planking; the arms run up the planking by their length, or to the boat's floor
    heads, and taper into the frame: their tips are as deep as the frame is moulded, unless it is
    said otherwise. Upper edge, limber holes and bolts are those of the plain floor timber.
    """

    family: ClassVar[str] = "floor timber"

    siding_mm: Size = Field(description="thickness fore and aft", le=600)
    moulding_mm: Size = Field(description="depth at the centreline, from the keel up", le=1500)
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
    landing_mm: Distance = Field(
        0.0, description="half the width of a level landing on the upper edge", le=2000
    )
    hollow_radius_mm: Distance | None = Field(
        None, description="radius of the hollow of the upper edge, 0 for none", le=20000
    )
    limber_width_mm: Distance = Field(
        0.0, description="width of the limber hole on each side of the keel; 0 for none", le=500
    )
    limber_height_mm: Size | None = Field(
        None, description="height of the limber holes; by default half their width", le=500
    )
    limber_offset_mm: Size | None = Field(
        None,
        description="centreline to the middle of a limber hole; by default just off the keel",
        le=5000,
    )
    keel_bolt_mm: Size | None = Field(16.0, description="diameter of the keel bolts", le=80)
    keel_bolt_offsets_mm: tuple[Length, ...] = Field(
        (0.0,), description="keel bolts' distances from the centreline, + to one side", max_length=6
    )
    frame_lap_mm: Size | None = Field(
        None,
        description="length of each arm, from its tip, that lies against the frame; by default "
        "half the arm",
        le=5000,
    )
    frame_bolts: int = Field(2, description="frame bolts in each arm", ge=0, le=20)
    frame_bolt_mm: Size = Field(10.0, description="diameter of the frame bolts", le=50)
    grain: Literal["straight", "grown"] = Field(
        "straight", description="straight athwartships, or along the arms of a grown crook"
    )
    slope_of_grain: Slope = Field(12.0, description="steepest grain allowed")

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
        shape, drawing = made.faces.shape, made.drawing
        lines = self._keel_bolts(boat, shape)
        zones = (*self._keel_zones(lines, shape), *self._frame_zones(drawing, shape))
        drawing.keep_limbers_clear([zone.region for zone in zones])
        grain = self._grain(drawing)
        outline = Outline(
            shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([drawing.arm, drawing.upper_edge()], grain),
            bearing_zones=zones,
            marks=self._marks(made, lines),
            bevels=made.faces.bevels(),
            may_turn_over=sorted(self.keel_bolt_offsets_mm)
            == sorted(-offset for offset in self.keel_bolt_offsets_mm),
        )
        return Fit(outline, made.faces, made.position)

    def _planes(self, boat: Boat, where: BoatPlace) -> tuple[float, float]:
        """Return where the fore and the after face stand."""
        frame = boat.plan.frames.siding_mm / 2
        if where.frame is None or self.stands == "on frames":
            middle = where.x_mm
        else:
            away = frame + self.siding_mm / 2
            middle = where.x_mm + (away if self.stands == "aft of frame" else -away)
        return middle - self.siding_mm / 2, middle + self.siding_mm / 2

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
        if not self.limber_width_mm:
            return None
        width = self.limber_width_mm
        beside = min(seat_mm, boat.plan.keel.siding_mm / 2)
        return draw.Limber(
            offset_mm=self.limber_offset_mm or beside + width / 2,
            width_mm=width,
            height_mm=self.limber_height_mm or width / 2,
        )

    def _keel_bolts(self, boat: Boat, shape: Polygon) -> list[LineString]:
        if not self.keel_bolt_mm:
            return []
        bolt, half = self.keel_bolt_mm, boat.plan.keel.siding_mm / 2
        if bolt > self.siding_mm / 2:
            raise PartError(
                f"a keel bolt of {bolt:g} mm takes more than half the siding of "
                f"{self.siding_mm:g} mm: give a thinner bolt or a siding of {2 * bolt:g} mm"
            )
        for offset in self.keel_bolt_offsets_mm:
            if abs(offset) + bolt / 2 > half:
                raise PartError(
                    f"a keel bolt of {bolt:g} mm at {offset:g} mm from the centreline misses the "
                    f"keel, {half:g} mm to each side: move it inward"
                )
        starts = np.array([(offset, 0.0) for offset in self.keel_bolt_offsets_mm])
        return [edge_bolt(start, draw.UP, shape, bolt) for start in starts]

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
        line = LineString(drawing.bolt_line())
        lap = min(self._lap(drawing), line.length)
        part = np.asarray(substring(line, 0.0, lap).coords)
        bolt = self.frame_bolt_mm
        half = ZONE_DIAMETERS * bolt if self.frame_bolts else drawing.tip_moulding_mm / 2
        sides = (part, part * draw.MIRROR)
        return [zone_along(side, half, shape, "frame lap") for side in sides]

    def _frame_bolts(self, drawing: draw.FloorDrawing) -> list[Mark]:
        bolt = self.frame_bolt_mm
        if not self.frame_bolts:
            return []
        if bolt > drawing.tip_moulding_mm / 3:
            raise PartError(
                f"a frame bolt of {bolt:g} mm takes more than a third of the tip moulding of "
                f"{drawing.tip_moulding_mm:g} mm: give a thinner bolt or a deeper tip"
            )
        low, high = END_DIAMETERS * bolt, self._lap(drawing) - INNER_DIAMETERS * bolt
        places = at_distances(drawing.bolt_line(), in_a_row(low, high, self.frame_bolts, bolt))
        return [
            square_bolt(place, bolt, "frame bolt")
            for place in np.vstack([places, places * draw.MIRROR])
        ]

    def _marks(self, made: FloorFaces, lines: list[LineString]) -> tuple[Mark, ...]:
        low = float(made.faces.shape.intersection(LineString([(0, -1e4), (0, 1e4)])).bounds[1])
        ends = ((0.0, low), (0.0, self.moulding_mm))
        marks = [Mark(MarkKind.CENTRELINE, ends, "centreline")]
        marks += [edge_bolt_mark(line, self.keel_bolt_mm or 0.0, "keel bolt") for line in lines]
        marks += self._frame_bolts(made.drawing)
        return (*marks, *made.faces.marks(f"{made.marked_face} face"))

    def _grain(self, drawing: draw.FloorDrawing) -> GrainPath:
        if self.grain == "straight":
            return straight_grain()
        starboard = drawing.middle_line()
        path = fair_curve(np.vstack([starboard[:0:-1] * draw.MIRROR, starboard]))
        return GrainPath(as_pairs(path))
