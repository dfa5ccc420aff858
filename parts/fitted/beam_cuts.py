"""What is cut out of a beam where other pieces meet it: the seat on the clamp, carlins' notches.

All is cut square through the beam, in its outline and in its solid alike.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field
from shapely.geometry import Polygon, box

from nesting.errors import PartError
from nesting.fields import FileModel, GoesWith, Size
from nesting.sources import NO_SOURCE
from nesting.units import Unit
from nesting.written_measures import exact_length
from parts.fitted.beam_faces import BeamFaces
from parts.fitted.carlins import lap_of, notch_floor
from parts.fitted.dovetails import SLOPE_WORDS, USUAL_SLOPE, Tail, Wedge, in_part, pared

if TYPE_CHECKING:
    from parts.boat.boat import Boat

SEEN_MM = 0.05
"""A seat that cuts less deep is no cut: chords lie as far off."""

LEAST_LEFT = 0.5
"""Of its moulding at the end a beam keeps at least this over the clamp (common practice, no
source)."""

BEYOND_MM = 50.0
"""A cut runs on past the wood by this."""


class CarlinNotch(FileModel):
    """The notches for a pair of carlins, halved with a beam or dovetailed into it."""

    goes_with: ClassVar[GoesWith] = {
        "lies": ("joint", ("halved",)),
        "tail_slope": ("joint", ("halved",)),
    }

    inner_face_mm: Size = Field(
        description="from the centreline to the inner face of the carlin", le=10000
    )
    siding_mm: Size = Field(description="thickness of the carlin athwartships", le=600)
    moulding_mm: Size = Field(description="depth of the carlin", le=1000)
    lap_mm: Size | None = Field(
        None,
        description="depth of the notch from the deck, at the carlin's inner face; by default half "
        f"the carlin's moulding ({NO_SOURCE})",
        le=1000,
    )
    joint: Literal["halved", "dovetailed"] = Field(
        "halved", description="halved with the beam, or dovetailed into it"
    )
    lies: Literal["aft of beam", "forward of beam"] = Field(
        "aft of beam", description="on which side of the beam a dovetailed carlin runs on"
    )
    tail_slope: float = Field(USUAL_SLOPE, description="of a dovetail: " + SLOPE_WORDS, ge=4, le=20)

    def tail(self, planes: tuple[float, float], floor_z: float, top_z: float) -> Tail | None:
        """Return its dovetail to starboard between a beam's fore and after face, if it is one."""
        if self.joint != "dovetailed":
            return None
        end, mouth = planes if self.lies == "aft of beam" else planes[::-1]
        lost = pared(self.siding_mm, abs(end - mouth), self.tail_slope)
        y = (self.inner_face_mm, self.inner_face_mm + self.siding_mm)
        return Tail(mouth, end, *y, floor_z, top_z, lost)

    def remark(self, unit: Unit) -> str:
        """Return how its notch is made where it is a dovetail."""
        away = "fore" if self.lies == "aft of beam" else "after"
        return (
            f"dovetail, 1 in {self.tail_slope:g}: the notch as drawn is its mouth, from there "
            f"pared out to {exact_length(self.siding_mm, unit)} at the {away} face"
        )


def cut_for(made: BeamFaces, cuts: list[Polygon], *, is_whole: bool) -> BeamFaces:
    """Return a beam's faces with cuts, each drawn to starboard and made on both sides of a whole
    beam.
    """
    way = 1.0 if made.marked_face == "after" else -1.0
    sides = (1.0, -1.0) if is_whole else (way,)
    drawn = [_turned(cut, side) for cut in cuts for side in sides]
    faces = replace(made.faces, cut_outs=(*made.faces.cut_outs, *drawn))
    return replace(made, faces=faces)


def _turned(cut: Polygon, side: float) -> Polygon:
    low, bottom, high, top = cut.bounds
    low, high = sorted((side * low, side * high))
    return box(low, bottom, high, top)


def clamp_seat(boat: Boat, made: BeamFaces, planes: tuple[float, float]) -> list[Polygon]:
    """Return what is cut from under a beam's end so that it lies on the clamp, if anything.

    The seat is level, at the highest corner of the clamp's upper edge under the beam, and runs out
    from the clamp's inner face.

    Raises
    ------
    PartError
        If it would leave too little of the beam's end.
    """
    if boat.plan.clamp is None or boat.clamp_face is None:
        return []
    corners = [boat.clamp_face.top(x) for x in planes if boat.clamp_face.is_beside(x)]
    if not corners:
        return []
    inner = min(half for half, _ in corners)
    height = max(up for _, up in corners) - made.position.origin[2]
    sign = 1.0 if made.marked_face == "after" else -1.0
    lower = made.lower * [sign, 1.0]
    lower = lower[np.argsort(lower[:, 0])]
    out = np.linspace(inner, lower[-1, 0], 9)
    deep = height - np.interp(out, *lower.T)
    if inner >= lower[-1, 0] or deep.max() < SEEN_MM:
        return []
    ends = made.upper * [sign, 1.0]
    left = float(ends[:, 1].min()) - height
    whole = float(ends[:, 1].min() - lower[-1, 1])
    if left < LEAST_LEFT * whole:
        raise PartError(
            f"the clamp's upper edge stands {deep.max():.1f} mm above the beam's lower edge: "
            f"seated on it the beam's end would keep {left:.1f} mm of {whole:.1f} mm; give "
            "the clamp more below_deck, or the beam less end_moulding"
        )
    return [box(inner, float(lower[:, 1].min()) - BEYOND_MM, made.half_mm + BEYOND_MM, height)]


def notched_for_carlins(
    boat: Boat, made: BeamFaces, planes: tuple[float, float], carlins: tuple[CarlinNotch, ...]
) -> BeamFaces:
    """Return a whole beam's faces with the notches for carlins cut from its upper edge."""
    cuts, wedges = [], list[Wedge]()
    base = made.position.origin[2]
    top = float(made.upper[:, 1].max()) + BEYOND_MM
    for carlin in carlins:
        lap = lap_of(carlin.lap_mm, carlin.moulding_mm)
        floor = notch_floor(boat, sum(planes) / 2, carlin.inner_face_mm, lap)
        low, high = carlin.inner_face_mm, carlin.inner_face_mm + carlin.siding_mm
        if high >= made.half_mm:
            raise PartError(
                f"a carlin's outer face stands {high:g} mm from the centreline, at or past the end "
                f"of the beam at {made.half_mm:.0f} mm: move it inboard"
            )
        tail = carlin.tail(planes, floor, base + top)
        if tail is not None:
            wedges += tail.off_beam()
            low, high = low + tail.pared_mm, high - tail.pared_mm
        cuts.append(box(low, floor - base, high, top))
    cut = cut_for(made, cuts, is_whole=True)
    cheeks = in_part(wedges, made.position, both_sides=True)
    return replace(cut, faces=replace(cut.faces, pared=cheeks))
