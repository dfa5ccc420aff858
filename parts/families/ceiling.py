"""Ceiling: the inner planking on the faces of the frames, strake by strake.

Frame of the outline: x along the strake from its fore end, y across, 0 on the line that joins
the ends of the strake's middle line. A length of a strake keeps its place along x.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Self

import numpy as np
from pydantic import Field, model_validator
from shapely.geometry import LineString, Polygon
from shapely.ops import substring

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Length, Size, SlopeOfGrain
from nesting.grain import GrainPath
from nesting.outline import BearingZone, Mark, MarkKind, Outline
from nesting.words import counted
from parts.curves import Crown, Points, arc_radius, as_pairs, without_repeats
from parts.marks import zone_along
from parts.part import Family
from parts.run_out import run_out
from parts.solids import prism
from parts.widths import require_one_width, width_curve

if TYPE_CHECKING:
    import cadquery as cq

BUTT_ZONE_THICKNESSES = 4.0
"""Whole wood at each end of a length, for the fastenings of the butt (common practice, no
source)."""

ON_FRAME_MM = 0.5
"""A butt this near to a frame's mark is on it: half a pencil line each way."""

STEEPEST_SPRING = 0.1
"""Rise over length of a strake's own curve; more is no strake but a sawn rib."""


class CeilingStrake(Family):
    """A strake of the ceiling, or one length of it between butts on frames.

    Its width is the same throughout, or runs as a fair batten through widths at stations. The
    middle line is straight, or an arc sprung to one side (hollow or rounded strakes, where the
    frames' faces make the strake take a curve edgewise). Ends are square to the middle line.

    A strake in several lengths lists its butts, each on a frame, as distances from the fore
    end, and this part is the length number ``piece``, counted from forward. Its neighbours are
    not known here: keep their butts three frame spaces apart (:mod:`parts.butts`).
    """

    family: ClassVar[str] = "ceiling strake"
    is_plank: ClassVar[bool] = True
    goes_with: ClassVar[GoesWith] = {"first_frame_mm": ("frame_spacing_mm", (None,))}

    length_mm: Size = Field(description="length of the whole strake", le=30000)
    thickness_mm: Size = Field(description="finished thickness", le=200)
    width_mm: Size | None = Field(None, description="one width throughout", le=1000)
    widths: tuple[tuple[Distance, Size], ...] | None = Field(
        None,
        description="[distance from the fore end, width there], from end to end, in place of width",
        min_length=2,
        max_length=100,
    )
    spring_mm: Length = Field(
        0.0, description="rise of the middle line at half length; + rounds the upper edge"
    )
    frame_spacing_mm: Size | None = Field(
        None,
        description="from frame to frame, centre to centre; no frames are marked without it",
        le=3000,
    )
    first_frame_mm: Distance = Field(
        0.0, description="from the fore end to the middle of the first frame", le=3000
    )
    butts: tuple[Size, ...] = Field(
        (),
        description="butts, each on a frame, as distances from the fore end; three frame spaces "
        "or more from those of the strakes beside it",
        max_length=20,
    )
    piece: int | None = Field(
        None, description="which length this is, from forward; needed if there are butts", ge=1
    )
    slope_of_grain: SlopeOfGrain = 12.0

    @model_validator(mode="after")
    def _can_be_made(self) -> Self:
        require_one_width(
            self.width_mm, self.widths, self.length_mm, piece="strake", start="forward to aft"
        )
        self._butts_land_on_frames()
        self._piece_is_one()
        if abs(self.spring_mm) > STEEPEST_SPRING * self.length_mm:
            raise PartError(
                f"a spring of {self.spring_mm:g} mm in {self.length_mm:g} mm is more than a strake "
                f"can have, {STEEPEST_SPRING * self.length_mm:g} mm: make it in shorter lengths"
            )
        self.outline()
        return self

    def _butts_land_on_frames(self) -> None:
        if self.butts and self.frame_spacing_mm is None:
            raise PartError("butts land on frames: give frame_spacing and first_frame too")
        if list(self.butts) != sorted(set(self.butts)):
            raise PartError("the butts must be in order from forward to aft, none twice")
        for butt in self.butts:
            if butt >= self.length_mm:
                raise PartError(
                    f"the butt at {butt:g} mm is past the strake's after end at "
                    f"{self.length_mm:g} mm: move it forward, or make the strake longer"
                )
            assert self.frame_spacing_mm is not None, "asked for above"
            number = round((butt - self.first_frame_mm) / self.frame_spacing_mm)
            frame = self.first_frame_mm + max(0, number) * self.frame_spacing_mm
            if abs(butt - frame) > ON_FRAME_MM:
                raise PartError(
                    f"the butt at {butt:g} mm is on no frame; the nearest is at {frame:g} mm: "
                    "move the butt there"
                )

    def _piece_is_one(self) -> None:
        count = len(self.butts) + 1
        if self.piece is None and self.butts:
            raise PartError(
                f"this strake is in {count} lengths: say which one this is, piece: 1 to {count}"
            )
        if self.piece is not None and self.piece > count:
            raise PartError(
                f"piece {self.piece} of a strake in {counted(count, 'length')}: give a piece from "
                f"1 to {count}, or another butt"
            )
        fore, aft = self.ends_mm
        least = 2 * self.butt_zone_mm
        if aft - fore < least:
            cure = "move the butts apart" if self.butts else "make it longer, or take a plank"
            raise PartError(
                f"this length runs from {fore:g} mm to {aft:g} mm; the fastenings of its two ends "
                f"need {least:g} mm of wood: {cure}"
            )

    @property
    def butt_zone_mm(self) -> float:
        """Length of the whole wood at each end."""
        return BUTT_ZONE_THICKNESSES * self.thickness_mm

    @property
    def ends_mm(self) -> tuple[float, float]:
        """Where this length begins and ends along the strake."""
        stations = (0.0, *self.butts, self.length_mm)
        index = (self.piece or 1) - 1
        return stations[index], stations[index + 1]

    @property
    def frames_mm(self) -> tuple[tuple[int, float], ...]:
        """Number, from 1 forward, and station of every frame that crosses this length.

        None where the frames' spacing is not given.
        """
        if self.frame_spacing_mm is None:
            return ()
        spacing = self.frame_spacing_mm
        fore, aft = self.ends_mm
        count = math.floor((self.length_mm - self.first_frame_mm) / spacing) + 1
        places = ((n + 1, self.first_frame_mm + n * spacing) for n in range(count))
        return tuple((n, at) for n, at in places if fore + 1 < at < aft - 1)

    def outline(self) -> Outline:
        """Return the flat shape to be sawn."""
        fore, aft = self.ends_mm
        stations = self._stations(fore, aft)
        upper, lower = self._edges(stations)
        ring = without_repeats(np.vstack([lower, upper[::-1]]))
        shape = Polygon(ring)
        if not shape.is_valid:
            raise PartError("the strake's edges cross: ease the spring or the change of width")
        grain = GrainPath(as_pairs(self._middle(np.array([fore, aft]))))
        return Outline(
            shape,
            self.thickness_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([upper, lower], grain),
            bearing_zones=self._zones(shape, fore, aft),
            marks=tuple(
                Mark(MarkKind.FRAME, self._across(at), f"frame {n}") for n, at in self.frames_mm
            ),
            is_plank=True,
        )

    def _stations(self, fore: float, aft: float) -> Points:
        """Return (n,) places along x, close enough together for both edges to run true."""
        half = self.length_mm / 2
        x = Crown(self.length_mm, self.spring_mm).points(fore - half, aft - half)[:, 0] + half
        # Half the step, as an edge lies outside the middle line and carries the width's curve.
        x = np.linspace(fore, aft, 2 * len(x) - 1)
        x = np.union1d(x, [at for _, at in self.frames_mm])
        if self.widths is not None:
            x = np.union1d(x, self._width_curve()[:, 0])
        return np.asarray(x[(x >= fore) & (x <= aft)])

    def _width_curve(self) -> Points:
        return width_curve(self.widths or ())

    def _middle(self, x: Points) -> Points:
        crown = Crown(self.length_mm, self.spring_mm)
        return np.column_stack([x, crown.height(x - self.length_mm / 2)])

    def _normals(self, x: Points) -> Points:
        """Return (n, 2) unit vectors square to the middle line, towards the upper edge."""
        if not self.spring_mm:
            return np.tile([0.0, 1.0], (len(x), 1))
        radius = arc_radius(self.length_mm, abs(self.spring_mm))
        sine = math.copysign(1.0, self.spring_mm) * (x - self.length_mm / 2) / radius
        return np.column_stack([sine, np.sqrt(1 - sine**2)])

    def _edges(self, x: Points) -> tuple[Points, Points]:
        """Return the upper and the lower edge at stations."""
        width = np.full(len(x), self.width_mm or 0.0)
        if self.widths is not None:
            width = np.interp(x, *self._width_curve().T)
        middle, out = self._middle(x), self._normals(x) * (width / 2)[:, None]
        return middle + out, middle - out

    def _across(self, at_mm: float) -> tuple[tuple[float, float], ...]:
        """Return the line square across the strake at a station, from edge to edge."""
        upper, lower = self._edges(np.array([at_mm]))
        return as_pairs(np.vstack([lower, upper]))

    def _zones(self, shape: Polygon, fore: float, aft: float) -> tuple[BearingZone, ...]:
        middle = LineString(self._middle(self._stations(fore, aft)))
        reach, wide = self.butt_zone_mm, max(shape.bounds[3] - shape.bounds[1], 1.0)
        ends = (substring(middle, 0.0, reach), substring(middle, -reach, middle.length))
        labels = ("butt" if fore > 0 else "fore end", "butt" if aft < self.length_mm else "aft end")
        return tuple(
            zone_along(np.asarray(end.coords), wide, shape, label)
            for end, label in zip(ends, labels, strict=True)
        )

    def solid(self) -> cq.Workplane:
        """Return the finished length."""
        return prism(self.outline().shape, self.thickness_mm)
