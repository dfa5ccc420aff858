"""Carlins fitted to the deck: the fore-and-aft timbers beside an opening.

Frame of the outline: x aft along the line that joins the ends of the upper edge, y up from it,
seen from the centreline on the inner face, which is the deeper one.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field

from nesting.errors import PartError
from nesting.fields import Distance, GoesWith, Size, SlopeOfGrain
from nesting.grain import GrainPath
from nesting.outline import Mark, Outline
from nesting.sources import NO_SOURCE
from nesting.units import Unit
from parts.boat.places import faces_of, middle_beside_frame
from parts.curves import Points, as_pairs
from parts.fitted.dovetails import SLOPE_WORDS, USUAL_SLOPE, Tail, in_part, pared
from parts.fitted.fitted import Fit, SideFitted, Stretch
from parts.fitted.two_faces import FacedEdge, TwoFaces
from parts.marks import scribed, zone_along
from parts.position import position
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat

PITCH_MM = 60.0
"""Points of its edges: a sheer of 5 m radius leaves chords of it by 0.09 mm, and none is."""

BEYOND_MM = 50.0
"""Wedges run on above the wood by this."""


class FittedCarlin(SideFitted):
    """A carlin from beam to beam, under the deck and parallel to the centreline.

    Its upper edge follows the sheer and has the bevel of the deck's crown there. The places named
    are those of the beams at its ends. It is butted between them, each end on a ledge, or halved:
    its upper part then laps each beam, which has a notch for it (carlins, of the deck beam); or
    dovetailed: the lap widens away from it, so that it cannot draw out.
    """

    family: ClassVar[str] = "carlin"
    needs_stretch: ClassVar[bool] = True
    goes_with: ClassVar[GoesWith] = {
        "bearing_mm": ("joint", ("halved", "dovetailed")),
        "lap_mm": ("joint", ("butted",)),
        "tail_slope": ("joint", ("butted", "halved")),
    }

    siding_mm: Size = Field(description="thickness athwartships", le=600)
    moulding_mm: Size = Field(description="depth of its inner face, plumb", le=1000)
    inner_face_mm: Size = Field(description="from the centreline to its inner face", le=10000)
    joint: Literal["butted", "halved", "dovetailed"] = Field(
        "butted",
        description="how its ends meet their beams: butted against their faces, on ledges; or "
        "halved with them, lapping each over all of its siding; or dovetailed into them so",
    )
    bearing_mm: Size | None = Field(
        None,
        description="length of each end on its ledge; by default as long as its beam is sided; "
        "halved and dovetailed ones bear on all of the beam",
        le=1000,
    )
    short_mm: Distance = Field(0.0, description="left open between each end and its beam", le=1000)
    beam_size: Literal["ordinary", "main"] = Field(
        "main", description="which of the boat's beams stand at its ends"
    )
    beam_siding_mm: Size | None = Field(
        None, description="thickness of those beams; by default the boat's", le=600
    )
    beams_stand: Literal["aft of frame", "forward of frame", "on the line"] = Field(
        "aft of frame", description="where those beams stand at the places named"
    )
    lap_mm: Size | None = Field(
        None,
        description="depth of the lap where it is halved or dovetailed, from the deck at its inner "
        f"face; by default half its moulding ({NO_SOURCE})",
        le=1000,
    )
    tail_slope: float = Field(
        USUAL_SLOPE, description="where it is dovetailed, " + SLOPE_WORDS, ge=4, le=20
    )
    slope_of_grain: SlopeOfGrain = 12.0

    def fitted(self, boat: Boat, where: Stretch) -> Fit:
        """Return the starboard carlin fitted along a stretch."""
        beams = self._beams(boat, where)
        ends = (beams[0][0], beams[1][1]) if self._laps else (beams[0][1], beams[1][0])
        fore, aft = ends[0] + self.short_mm, ends[1] - self.short_mm
        self._check_length(aft - fore, beams[0][1] - beams[0][0])
        x = np.linspace(fore, aft, _count(aft - fore))
        y = (self.inner_face_mm, self.inner_face_mm + self.siding_mm)
        near, far = (_heights(boat, x, at) for at in y)
        run = np.array([x[-1] - x[0], near[-1] - near[0]])
        run = run / np.hypot(*run)
        turn = np.array([[run[0], -run[1]], [run[1], run[0]]])
        base = np.array([x[0], near[0]])
        lines = [(np.column_stack([x, z]) - base) @ turn for z in (near, far)]
        low = np.column_stack([x, near - self.moulding_mm])
        if self._laps:
            low = self._lapped(boat, low, beams)
        under = (low - base) @ turn
        origin = np.array([x[0], y[0], near[0]])
        axes = np.array([run[0], 0.0, run[1]]), np.array([-run[1], 0.0, run[0]])
        place = position(origin, *axes)
        faces = _faces(lines[0], lines[1], under, self.siding_mm)
        if self.joint == "dovetailed":
            tails = self._tails(beams, (low[0, 1], low[-1, 1]), float(near.max()))
            wedges = in_part([wedge for tail in tails for wedge in tail.off_carlin()], place)
            faces = replace(faces, pared=wedges)
        bears = self._bearing(beams[0][1] - beams[0][0])
        return Fit(self._outline(faces, lines[0], bears), faces, place)

    @property
    def _laps(self) -> bool:
        """Whether its ends lap their beams."""
        return self.joint != "butted"

    def _tails(
        self, beams: tuple[tuple[float, float], ...], floors: tuple[float, float], top: float
    ) -> list[Tail]:
        """Return the dovetails of both ends."""
        found = []
        ways = (beams[0][::-1], beams[1])
        for (mouth, end), floor in zip(ways, floors, strict=True):
            lost = pared(self.siding_mm, abs(end - mouth), self.tail_slope)
            y = (self.inner_face_mm, self.inner_face_mm + self.siding_mm)
            found.append(Tail(mouth, end, *y, floor, top + BEYOND_MM, lost))
        return found

    def _beams(self, boat: Boat, where: Stretch) -> tuple[tuple[float, float], ...]:
        """Return where the fore and the after face of the beam at each end stand."""
        siding = self.beam_siding_mm or boat.beam_size(self.beam_size).siding_mm
        middles = (middle_beside_frame(boat, at, siding, self.beams_stand) for at in where)
        return tuple(faces_of(middle, siding) for middle in middles)

    def _bearing(self, beam_mm: float) -> float:
        """Return the length of each end that bears."""
        if self._laps:
            return beam_mm - self.short_mm
        return self.bearing_mm or beam_mm

    def _check_length(self, length_mm: float, beam_mm: float) -> None:
        bears = self._bearing(beam_mm)
        if bears <= 0 or length_mm <= 2 * bears:
            raise PartError(
                f"the carlin is {length_mm:.0f} mm long, its two bearings {2 * bears:g} mm: name "
                "places further apart"
            )

    def _lapped(self, boat: Boat, low: Points, beams: tuple[tuple[float, float], ...]) -> Points:
        """Return the lower edge, (n, 2) along and up, cut away level where it laps its beams."""
        lap = lap_of(self.lap_mm, self.moulding_mm)
        fore, aft = beams[0][1], beams[1][0]
        heights = [notch_floor(boat, sum(beam) / 2, self.inner_face_mm, lap) for beam in beams]
        between = low[(low[:, 0] > fore + 1e-6) & (low[:, 0] < aft - 1e-6)]
        corners = [(x, float(np.interp(x, *low.T))) for x in (fore, aft)]
        rows = [(low[0, 0], heights[0]), (fore, heights[0]), corners[0], *between.tolist()]
        return np.array([*rows, corners[1], (aft, heights[1]), (low[-1, 0], heights[1])])

    def _outline(self, faces: TwoFaces, upper: Points, bears: float) -> Outline:
        middle = upper - [0.0, self.moulding_mm / 2]
        grain = GrainPath(as_pairs(middle[[0, -1]]))
        deep = 2 * self.moulding_mm
        ends = [
            np.vstack([middle[0], middle[0] + [bears, 0]]),
            np.vstack([middle[-1] - [bears, 0], middle[-1]]),
        ]
        return Outline(
            faces.shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([upper, upper - [0.0, self.moulding_mm]], grain),
            bearing_zones=tuple(
                zone_along(end, deep, faces.shape, "beam bearing", is_seat=True) for end in ends
            ),
            marks=(*self._shoulders(faces, bears), *faces.marks("inner face")),
            bevels=faces.bevels(),
            may_turn_over=not faces.bevelled,
            both_faces=faces.shared,
        )

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return how the cheeks of its dovetails are pared."""
        if self.joint != "dovetailed":
            return super().remarks(unit)
        how = (
            f"dovetails, 1 in {self.tail_slope:g}: the cheeks of each lap are pared from its end "
            "to its shoulder, where the tail is narrowest"
        )
        return (*super().remarks(unit), how)

    def _shoulders(self, faces: TwoFaces, bears: float) -> list[Mark]:
        """Return the lines from which the cheeks of dovetails are pared, plumb through the wood."""
        if self.joint != "dovetailed":
            return []
        low, _, high, _ = faces.shape.bounds
        label = f"dovetail 1 in {self.tail_slope:g}"
        return [
            mark
            for x in (low + bears, high - bears)
            for mark in scribed(
                np.array([[x, -self.moulding_mm], [x, self.moulding_mm]]), faces.shape, label
            )
        ]


def lap_of(given_mm: float | None, moulding_mm: float) -> float:
    """Return the depth of a halving: half of what is halved, if none is given."""
    return given_mm or moulding_mm / 2


def notch_floor(boat: Boat, x: float, inner_face_mm: float, depth_mm: float) -> float:
    """Return the height at which carlin and beam meet in a halving: so deep below the deck.

    It is measured in the middle of the beam, at the carlin's inner face, and level.
    """
    return float(boat.deck.height(x, np.array([inner_face_mm]))[0]) - depth_mm


def _count(length_mm: float) -> int:
    return 1 + max(8, math.ceil(length_mm / PITCH_MM))


def _heights(boat: Boat, x: Points, y: float) -> Points:
    at = np.array([y])
    for place in (float(x[0]), float(x[-1])):
        half = boat.deck.edge(place)[0]
        if y > half:
            raise PartError(
                f"the carlin's outer face stands {y:g} mm from the centreline, the deck is only "
                f"{half:.0f} mm wide at {place:.0f} mm from forward: move it inboard"
            )
    return np.array([float(boat.deck.height(float(place), at)[0]) for place in x])


def _faces(near: Points, far: Points, under: Points, siding_mm: float) -> TwoFaces:
    ends = [(near[i], far[i], under[i]) for i in (0, -1)]
    (fore, fore_far, fore_low), (aft, aft_far, aft_low) = ends
    return TwoFaces(
        (
            FacedEdge("lower edge", under, under),
            FacedEdge("after end", np.vstack([aft_low, aft]), np.vstack([aft_low, aft_far])),
            FacedEdge("upper edge", near[::-1], far[::-1]),
            FacedEdge("fore end", np.vstack([fore, fore_low]), np.vstack([fore_far, fore_low])),
        ),
        siding_mm,
    )
