"""Beams fitted to the lines: deck beams, half beams, sole beams and the beams of the house.

Frame of the outline: x athwartships from the centreline, y up from the line that joins the ends
of the upper edge in the marked face, which is the wider one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field
from shapely.geometry import Polygon

from nesting.errors import PartError
from nesting.fields import Size, SlopeOfGrain
from nesting.outline import BearingZone, Mark, Outline
from nesting.sources import NO_SOURCE
from nesting.units import Unit
from parts.boat.places import BoatPlace, faces_of, middle_beside_frame
from parts.curves import Crown, Points
from parts.families import beam_wood as wood
from parts.fitted.beam_cuts import CarlinNotch, clamp_seat, cut_for, notched_for_carlins
from parts.fitted.beam_faces import BeamFaces, BeamShape, beam_faces, beam_shape
from parts.fitted.fitted import Fit, Fitted, SideFitted
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat

USUAL_BEARING_MM = 50.0
"""Bearing of a beam's end where the boat has no clamp to say it (common practice, no source)."""


BY_BOAT = "by default that of the boat's beams"


class AnyBeam(Fitted):
    """What all beams fitted to the lines are asked for."""

    is_whole: ClassVar[bool] = True
    """Whether it runs from side to side."""

    siding_mm: Size | None = Field(None, description="thickness fore and aft; " + BY_BOAT, le=600)
    moulding_mm: Size | None = Field(
        None, description="depth at the centreline, plumb; " + BY_BOAT, le=1000
    )
    end_moulding_mm: Size | None = Field(
        None,
        description="depth at the ends, plumb; by default the boat's, or as at the centreline",
        le=1000,
    )
    bearing_mm: Size | None = Field(
        None,
        description="length of each end that bears; by default out from the inner face of the "
        f"clamp, {USUAL_BEARING_MM:g} mm without one ({NO_SOURCE})",
        le=1000,
    )
    stands: Literal["aft of frame", "forward of frame", "on the line"] = Field(
        "aft of frame", description="against which face of its frame, or with its middle on it"
    )
    grain: wood.BeamGrain = "straight"
    slope_of_grain: SlopeOfGrain = 12.0

    def kind(self) -> str:
        """Return which of the boat's beams gives its size: ordinary, main or half."""
        return "ordinary"

    def shape(self, boat: Boat, inner_mm: float | None = None) -> BeamShape:
        """Return what the beam is, but for where it stands."""
        sizes = (self.siding_mm, self.moulding_mm, self.end_moulding_mm)
        return beam_shape(boat, self.kind(), sizes, inner_mm)

    def planes(self, boat: Boat, where: BoatPlace, siding_mm: float) -> tuple[float, float]:
        """Return where the fore and the after face stand."""
        return faces_of(middle_beside_frame(boat, where, siding_mm, self.stands), siding_mm)

    def bearing(self, boat: Boat, shape: BeamShape, made: BeamFaces) -> float:
        """Return the length of an end's bearing on the clamp."""
        if self.bearing_mm is not None:
            return self.bearing_mm
        if boat.plan.clamp is None:
            return USUAL_BEARING_MM
        x, _, height = made.position.origin
        return made.half_mm - boat.on_clamp.half_breadth(x, height - shape.moulding_mm)

    def fit(self, made: BeamFaces, bearings: tuple[tuple[str, float, float], ...]) -> Fit:
        """Return the fit of a beam, its bearings given as name, from and to along x."""
        shape, lower = made.faces.shape, made.lower
        along = np.linspace(lower[0, 0], lower[-1, 0], len(lower))
        grain = wood.beam_grain(self.grain, made.upper[::-1], lower, along)
        outline = Outline(
            shape,
            made.faces.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([made.upper, made.lower], grain),
            bearing_zones=tuple(_zone(shape, *bearing) for bearing in bearings),
            marks=(*_marks(shape, bearings), *made.faces.marks(f"{made.marked_face} face")),
            bevels=made.faces.bevels(),
            # A whole beam is alike on both sides: its blank turned over is the same blank.
            may_turn_over=self.is_whole or not made.faces.bevelled,
            both_faces=made.faces.shared,
        )
        return Fit(outline, made.faces, made.position)


class FittedBeam(AnyBeam):
    """A deck beam at a frame or a station, cut from the beam mould to the breadth there.

    Its upper edge lies under the deck: the boat's mould, the sheer less the decking, the slope
    of the sheer as a bevel. It ends on the inside of the planking, over the clamp, or on the
    inner faces of the frames, or of the clamp. Where it is deeper than the clamp lies below the
    deck, its ends are cut away underneath and seated on the clamp.
    """

    family: ClassVar[str] = "deck beam"

    size: Literal["ordinary", "main"] = Field(
        "ordinary", description="which of the boat's beams gives its siding and moulding"
    )
    ends: Literal["planking", "frames", "clamp"] = Field(
        "planking", description="inside of what its ends lie"
    )
    carlins: tuple[CarlinNotch, ...] = Field(
        (),
        description="carlins on both sides that are halved with it or dovetailed into it: a notch "
        "is cut for each",
        max_length=8,
    )

    def kind(self) -> str:
        """Return which of the boat's beams gives its size."""
        return self.size

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the beam fitted at a place."""
        shape = self.shape(boat)
        planes = self.planes(boat, where, shape.siding_mm)
        inside = boat.inside(self.ends)
        made = beam_faces(shape, planes, boat.deck.height, inside.section, inside.chines)
        bears = self.bearing(boat, shape, made)
        made = notched_for_carlins(boat, made, planes, self.carlins)
        if self.ends != "clamp":
            made = cut_for(made, clamp_seat(boat, made, planes), is_whole=True)
        return self.fit(made, _both_ends(made, bears, "clamp"))

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return how the notches of dovetails are pared."""
        tails = (one.remark(unit) for one in self.carlins if one.joint == "dovetailed")
        return (*super().remarks(unit), *dict.fromkeys(tails))


class FittedHalfBeam(AnyBeam, SideFitted):
    """A beam from the side to a carlin beside an opening, its inner end plumb."""

    family: ClassVar[str] = "half beam"
    is_whole: ClassVar[bool] = False

    inner_end_mm: Size = Field(
        description="from the centreline to its inner end on the carlin", le=10000
    )

    def kind(self) -> str:
        """Return which of the boat's beams gives its size."""
        return "half"

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the starboard half beam fitted at a place."""
        shape = self.shape(boat, self.inner_end_mm)
        planes = self.planes(boat, where, shape.siding_mm)
        hull = boat.hull
        made = beam_faces(shape, planes, boat.deck.height, hull.section, hull.chines)
        bears = self.bearing(boat, shape, made)
        wood.check_bearings(bears, made.half_mm - self.inner_end_mm)
        made = cut_for(made, clamp_seat(boat, made, planes), is_whole=False)
        way = 1 if made.marked_face == "after" else -1
        inner, outer = way * self.inner_end_mm, way * made.half_mm
        return self.fit(
            made,
            (("carlin", inner, inner + way * bears), ("clamp", outer - way * bears, outer)),
        )


class FittedSoleBeam(AnyBeam):
    """A beam that carries the sole: level, at the boat's sole, its ends to the frames.

    It stands forward of its frame, on the other side than a floor.
    """

    family: ClassVar[str] = "sole beam"

    siding_mm: Size = Field(description="thickness fore and aft", le=600)
    moulding_mm: Size = Field(description="depth at the centreline, plumb", le=1000)

    ends: Literal["frames", "planking"] = Field("frames", description="inside of what its ends lie")
    stands: Literal["aft of frame", "forward of frame", "on the line"] = Field(
        "forward of frame",
        description="against which face of its frame, or with its middle on it; floors stand aft",
    )

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the sole beam fitted at a place."""
        height = boat.plan.sole_mm
        if height is None:
            raise PartError("the boat has no sole: give its height under boat:")
        shape, inside = self.shape(boat), boat.inside(self.ends)
        made = beam_faces(
            shape,
            self.planes(boat, where, shape.siding_mm),
            lambda _, y: np.full(np.shape(y), height),
            inside.section,
            inside.chines,
        )
        bears = USUAL_BEARING_MM if self.bearing_mm is None else self.bearing_mm
        return self.fit(made, _both_ends(made, bears, "frame"))


class FittedHouseBeam(AnyBeam):
    """A beam of the house top, between its sides, at a height over the deck beside it."""

    family: ClassVar[str] = "house beam"

    siding_mm: Size = Field(description="thickness fore and aft", le=600)
    moulding_mm: Size = Field(description="depth at the centreline, plumb", le=1000)

    def fitted(self, boat: Boat, where: BoatPlace) -> Fit:
        """Return the house beam fitted at a place."""
        house = boat.plan.house
        if house is None:
            raise PartError("the boat has no house: give its sides and height under boat:")
        half, crown = house.half_breadth_mm, Crown(2 * house.half_breadth_mm, house.camber_mm)

        def top(x: float, y: Points) -> Points:
            beside = float(boat.deck.height(x, np.array([half]))[0]) + house.height_mm
            return np.asarray(beside + crown.height(np.clip(y, -half, half)))

        def side(x: float) -> Points:
            height = float(top(x, np.array([half]))[0])
            return np.array([[half, height - 2 * self.moulding_mm], [half, height + 1.0]])

        shape = self.shape(boat)
        planes = self.planes(boat, where, shape.siding_mm)
        made = beam_faces(shape, planes, top, side)
        bears = USUAL_BEARING_MM if self.bearing_mm is None else self.bearing_mm
        return self.fit(made, _both_ends(made, bears, "house side"))


def _both_ends(made: BeamFaces, bears: float, bearer: str) -> tuple[tuple[str, float, float], ...]:
    half = made.half_mm
    wood.check_bearings(bears, 2 * half)
    return ((bearer, -half, bears - half), (bearer, half - bears, half))


def _zone(shape: Polygon, bearer: str, start: float, end: float) -> BearingZone:
    if bearer != "carlin":
        # A bevelled or flared end may reach past its upper corner: all of it bears.
        _, low, _, high = shape.bounds
        outward = float(np.sign(start + end)) * (high - low)
        start, end = sorted((start, end), key=abs)
        end += outward
    return wood.beam_seat(shape, bearer, start, end)


def _marks(shape: Polygon, bearings: tuple[tuple[str, float, float], ...]) -> list[Mark]:
    marks = []
    for bearer, start, end in bearings:
        at = max(start, end, key=abs) if bearer == "carlin" else min(start, end, key=abs)
        marks.append(wood.bearer_mark(shape, bearer, at))
    if all(bearer != "carlin" for bearer, _, _ in bearings):
        marks.insert(0, wood.centreline_mark(shape))
    return marks
