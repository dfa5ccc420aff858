"""Dovetails that carlins are let into their beams by, seen from above: what is pared off both.

A dovetail is a halving whose lap widens away from the carlin's own length, so that it cannot draw
out of its beam. Its notch is sawn square to its narrow mouth, as that of a halving; then the cheeks
of lap and notch are pared to the same slope. Cheeks are wedges, plumb in the boat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.errors import PartError
from nesting.sources import NO_SOURCE
from parts.curves import Points
from parts.position import TO_PORT, Position

USUAL_SLOPE = 8.0
"""A tail widens by one in so many on each cheek, in hardwood; six in softwood (common practice, no
source)."""

SLOPE_WORDS = f"the tail widens by one in so many on each cheek ({NO_SOURCE})"

NECK = 0.5
"""The neck of a tail keeps at least this part of the carlin's siding (common practice, no
source)."""

OVER_MM = 1.0
"""A wedge runs on past the wood by this."""

Wedge = tuple[Points, Points]
"""Two rings alike, (n, 3) each: the wood between them goes."""


@dataclass(frozen=True)
class Tail:
    """One dovetail in the boat's frame, to starboard.

    Attributes
    ----------
    mouth_x, end_x
        Where the beam's face is that the carlin comes from, and its other face.
    inner_y, outer_y
        The carlin's two faces, as wide as the tail is at its end.
    floor_z, top_z
        How low the lap lies, and a height above all of its wood.
    pared_mm
        What each cheek has lost at the mouth.
    """

    mouth_x: float
    end_x: float
    inner_y: float
    outer_y: float
    floor_z: float
    top_z: float
    pared_mm: float

    def off_carlin(self) -> list[Wedge]:
        """Return the wedges pared off the lap."""
        return [self._wedge(edge, inward, is_lap=True) for edge, inward in self._cheeks]

    def off_beam(self) -> list[Wedge]:
        """Return the wedges pared off the sides of the notch."""
        return [self._wedge(edge, inward, is_lap=False) for edge, inward in self._cheeks]

    @property
    def _cheeks(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Each face's y, and the way from it into the carlin."""
        return (self.inner_y, 1.0), (self.outer_y, -1.0)

    def _wedge(self, edge: float, inward: float, *, is_lap: bool) -> Wedge:
        """Return the wedge outside the line of a cheek, or that inside it, to the notch's mouth."""
        run = self.end_x - self.mouth_x
        way = float(np.sign(run))
        # The lap's wedge is thick at the mouth, the notch's at the end.
        start, stop = (0.0, OVER_MM) if is_lap else (-OVER_MM, OVER_MM)
        places = np.array([self.mouth_x + way * start, self.end_x + way * stop])
        line = edge + inward * self.pared_mm * (self.end_x - places) / run
        far = edge - inward * OVER_MM if is_lap else edge + inward * (self.pared_mm + OVER_MM)
        ring = [(places[0], line[0]), (places[1], line[1]), (places[1], far), (places[0], far)]
        low = self.floor_z - (OVER_MM if is_lap else 0.0)
        below, above = (np.array([(x, y, z) for x, y in ring]) for z in (low, self.top_z))
        return below, above


def pared(siding_mm: float, beam_mm: float, slope: float) -> float:
    """Return what each cheek of a tail loses at its neck.

    Raises
    ------
    PartError
        If too little of the carlin would be left there.
    """
    lost = beam_mm / slope
    neck = siding_mm - 2 * lost
    if neck < NECK * siding_mm:
        raise PartError(
            f"a dovetail of 1 in {slope:g} over a beam of {beam_mm:g} mm leaves a neck of "
            f"{max(0.0, neck):.1f} mm of the carlin's {siding_mm:g} mm, at least "
            f"{NECK * siding_mm:.1f} mm: give a tail_slope of "
            f"{2 * beam_mm / (siding_mm * (1 - NECK)):.0f} or more, or a thicker carlin"
        )
    return lost


def in_part(
    wedges: Sequence[Wedge], place: Position, *, both_sides: bool = False
) -> tuple[Wedge, ...]:
    """Return wedges in a part's own frame, with their mirror images to port if asked for."""
    found = list(wedges)
    if both_sides:
        found += [(low * TO_PORT, high * TO_PORT) for low, high in wedges]
    return tuple((place.in_part(low), place.in_part(high)) for low, high in found)
