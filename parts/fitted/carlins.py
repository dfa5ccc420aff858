"""Carlins fitted to the deck: the fore-and-aft timbers beside an opening.

Frame of the outline: x aft along the line that joins the ends of the upper edge, y up from it,
seen from the centreline on the inner face, which is the deeper one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from nesting.errors import PartError
from nesting.fields import Distance, Size, SlopeOfGrain
from nesting.grain import GrainPath
from nesting.outline import Outline
from parts.curves import Points, as_pairs
from parts.fitted.fitted import Fit, SideFitted, Stretch
from parts.fitted.two_faces import FacedEdge, TwoFaces
from parts.marks import zone_along
from parts.position import position
from parts.run_out import run_out

if TYPE_CHECKING:
    from parts.boat.boat import Boat

PITCH_MM = 60.0
"""Points of its edges: a sheer of 5 m radius leaves chords of it by 0.09 mm, and none is."""


class FittedCarlin(SideFitted):
    """A carlin from beam to beam, under the deck and parallel to the centreline.

    Its upper edge follows the sheer and has the bevel of the deck's crown there. It ends square
    at the places named, the middles of its beams, or is let into them by less.
    """

    family: ClassVar[str] = "carlin"
    needs_stretch: ClassVar[bool] = True

    siding_mm: Size = Field(description="thickness athwartships", le=600)
    moulding_mm: Size = Field(description="depth of its inner face, plumb", le=1000)
    inner_face_mm: Size = Field(description="from the centreline to its inner face", le=10000)
    bearing_mm: Size = Field(description="length of each end in its beam", le=1000)
    short_mm: Distance = Field(
        0.0, description="taken off each end, short of the place named", le=1000
    )
    slope_of_grain: SlopeOfGrain = 12.0

    def fitted(self, boat: Boat, where: Stretch) -> Fit:
        """Return the starboard carlin fitted along a stretch."""
        fore, aft = (place.x_mm for place in where)
        x = np.linspace(fore + self.short_mm, aft - self.short_mm, _count(aft - fore))
        if aft - fore <= 2 * (self.short_mm + self.bearing_mm):
            raise PartError(
                f"the carlin is {aft - fore - 2 * self.short_mm:.0f} mm long, its two bearings "
                f"{2 * self.bearing_mm:g} mm: name places further apart"
            )
        y = (self.inner_face_mm, self.inner_face_mm + self.siding_mm)
        near, far = (_heights(boat, x, at) for at in y)
        run = np.array([x[-1] - x[0], near[-1] - near[0]])
        run = run / np.hypot(*run)
        turn = np.array([[run[0], -run[1]], [run[1], run[0]]])
        base = np.array([x[0], near[0]])
        lines = [(np.column_stack([x, z]) - base) @ turn for z in (near, far)]
        under = (np.column_stack([x, near - self.moulding_mm]) - base) @ turn
        origin = np.array([x[0], y[0], near[0]])
        axes = np.array([run[0], 0.0, run[1]]), np.array([-run[1], 0.0, run[0]])
        faces = _faces(lines[0], lines[1], under, self.siding_mm)
        return Fit(self._outline(faces, lines[0], under), faces, position(origin, *axes))

    def _outline(self, faces: TwoFaces, upper: Points, under: Points) -> Outline:
        grain = GrainPath(as_pairs((upper[[0, -1]] + under[[0, -1]]) / 2))
        deep = 2 * self.moulding_mm
        middle = (upper + under) / 2
        ends = [
            np.vstack([middle[0], middle[0] + [self.bearing_mm, 0]]),
            np.vstack([middle[-1] - [self.bearing_mm, 0], middle[-1]]),
        ]
        return Outline(
            faces.shape,
            self.siding_mm,
            grain=grain,
            slope_of_grain=self.slope_of_grain,
            run_out=run_out([upper, under], grain),
            bearing_zones=tuple(
                zone_along(end, deep, faces.shape, "beam bearing", is_seat=True) for end in ends
            ),
            marks=tuple(faces.marks("inner face")),
            bevels=faces.bevels(),
            may_turn_over=not faces.bevelled,
        )


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
