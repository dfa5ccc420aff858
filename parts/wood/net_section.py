"""Net section: what holes leave of a rectangular section's strength in bending.

A hole is taken out whole, and so is the bung that fills it: a plug of end or cross grain
carries nothing that may be counted on (common practice, no source). Where it lies counts: a
hole in the middle of the depth costs little, the same hole near an edge much, as the outer
fibres do most of the work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from nesting.errors import PartError
from parts.curves import Points

SOURCE = (
    "section modulus of what is left, about its own neutral axis (elementary bending of a beam), "
    "without the lip outside a hole where more is left without it; "
    "holes within four diameters along the piece count in one section (US National Design "
    "Specification 3.1.2, from memory); a bung counts as a hole (common practice, no source)"
)

TESTS = (
    "joists tested with one hole of 25 to 45 mm in the middle third: bending design value times "
    "0.90 (ASCE Journal of Structural Engineering 127(4), 2001, p. 412, abstract); at the place "
    "of greatest moment the loss of reliability more than doubles; where a hole lies may matter "
    "as much as its size (Forest Products Journal 53(5), 2003, 55-60, abstract)"
)

ONE_SECTION_DIAMETERS = 4.0
"""Holes closer than this along the grain weaken one section together (National Design
Specification 3.1.2, from memory)."""


@dataclass(frozen=True)
class Gap:
    """What one hole takes out of a section.

    ``low_mm`` to ``high_mm`` across the depth, ``into_mm`` deep from one face; more than the
    siding is right through.
    """

    low_mm: float
    high_mm: float
    into_mm: float = float("inf")


@dataclass(frozen=True)
class Section:
    """A rectangular section of a part, and the holes in it.

    ``depth_mm`` lies in the plane of the sawn face, ``siding_mm`` square to it.
    """

    depth_mm: float
    siding_mm: float
    gaps: tuple[Gap, ...] = ()

    def __post_init__(self) -> None:
        if not (self.depth_mm > 0 and self.siding_mm > 0):
            raise PartError(
                f"a section of {self.depth_mm:g} x {self.siding_mm:g} mm; both must be over 0"
            )

    @property
    def whole_mm3(self) -> float:
        """Section modulus on edge if there were no holes."""
        return self.siding_mm * self.depth_mm**2 / 6

    @cached_property
    def left_on_edge(self) -> float:
        """Share of the modulus left, bent in the plane of the sawn face, as a beam is."""
        marks = [mark for gap in self.gaps for mark in (gap.low_mm, gap.high_mm)]
        levels = _levels(marks, self.depth_mm)
        middles = (levels[1:] + levels[:-1]) / 2
        out = [
            max((gap.into_mm for gap in self.gaps if gap.low_mm < at < gap.high_mm), default=0.0)
            for at in middles
        ]
        widths = np.maximum(self.siding_mm - np.array(out), 0.0)
        return most_modulus(levels, widths) / self.whole_mm3

    @property
    def left_on_flat(self) -> float:
        """Share of the modulus left, bent square to the sawn face, as a plank is."""
        levels = _levels([gap.into_mm for gap in self.gaps], self.siding_mm)
        middles = (levels[1:] + levels[:-1]) / 2
        widths = [
            self.depth_mm - _covered([g for g in self.gaps if g.into_mm > at], self.depth_mm)
            for at in middles
        ]
        whole = self.depth_mm * self.siding_mm**2 / 6
        return most_modulus(levels, np.array(widths)) / whole


def most_modulus(levels: Points, widths: Points) -> float:
    """Return the greatest section modulus of a section, or of what is left without its edges.

    A thin lip outside a hole lies farthest from the neutral axis and carries next to nothing:
    reckoned with it the section would seem weaker than with the lip cut away. A piece is never
    weaker than one of which more is cut away, so the larger share holds.

    Takes what :func:`section_modulus` takes.
    """
    count = len(widths)
    return max(
        section_modulus(levels[low : high + 1], widths[low:high])
        for low in range(count)
        for high in range(low + 1, count + 1)
    )


def section_modulus(levels: Points, widths: Points) -> float:
    """Return the lesser section modulus of a section of level strips, mm3; 0 if none is left.

    Parameters
    ----------
    levels
        (n + 1,) mm, rising: the edges of the strips.
    widths
        (n,) mm of wood in each strip.
    """
    heights, middles = np.diff(levels), (levels[1:] + levels[:-1]) / 2
    areas = widths * heights
    if areas.sum() <= 0:
        return 0.0
    axis = float(areas @ middles / areas.sum())
    inertia = float((areas * (heights**2 / 12 + (middles - axis) ** 2)).sum())
    wood = np.flatnonzero(areas > 0)
    outer = max(axis - levels[wood[0]], levels[wood[-1] + 1] - axis)
    return inertia / float(outer)


def deeper_by_mm(section: Section) -> float:
    """Return how much more moulding makes up, on edge, for the holes in a section.

    The modulus goes with the square of the depth; the share left is taken to stay as it is.
    """
    left = section.left_on_edge
    return float("inf") if left <= 0 else float(section.depth_mm * (left**-0.5 - 1))


def thicker_by_mm(section: Section) -> float:
    """Return how much more siding makes up, on edge and on the flat, for the holes in a section.

    On edge the modulus goes with the siding, on the flat with its square; the shares left are
    taken to stay as they are.
    """
    on_edge, on_flat = section.left_on_edge, section.left_on_flat
    if min(on_edge, on_flat) <= 0:
        return float("inf")
    return float(section.siding_mm * (max(1 / on_edge, on_flat**-0.5) - 1))


def _levels(marks: Sequence[float], most: float) -> Points:
    return np.unique(np.clip([0.0, most, *marks], 0.0, most))


def _covered(gaps: Sequence[Gap], most: float) -> float:
    """Return the length that gaps take out of 0 to ``most``, overlaps once."""
    levels = _levels([mark for gap in gaps for mark in (gap.low_mm, gap.high_mm)], most)
    return float(
        sum(
            high - low
            for low, high in pairwise(levels.tolist())
            if any(gap.low_mm <= low and high <= gap.high_mm for gap in gaps)
        )
    )
