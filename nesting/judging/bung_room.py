"""How many pieces lie side by side across rows of old holes, so that every bung is sound.

A bung is wholly in a piece, by so much off its edges, or wholly outside. Rows are never quite
straight, so each is held off by a deviation more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ACROSS_MM = 4.0
"""Standard deviation of a fastener's place across a piece (common practice, no source)."""

ROUNDING_MM = 1e-9


@dataclass(frozen=True)
class HoleRow:
    """Old holes in a row along a piece: where its middle is, and what the bungs in it ask.

    Attributes
    ----------
    outside_mm
        From the middle to the edge of a piece that has none of them.
    inside_mm
        From the middle to the edge of a piece that has all of them.
    """

    at_mm: float
    outside_mm: float
    inside_mm: float

    @classmethod
    def of(cls, at_mm: float, bung_mm: float, plug_edge_mm: float) -> HoleRow:
        """Return a row of holes that bungs of a diameter close."""
        outside = bung_mm / 2 + ACROSS_MM
        return cls(at_mm, outside, outside + plug_edge_mm)

    def next_sound(self, low_mm: float, width_mm: float) -> float:
        """Return the lowest place, from a given one on, at which a piece is sound across the row.

        >>> row = HoleRow(50.0, 7.0, 13.0)
        >>> [row.next_sound(low, 40.0) for low in (3.0, 3.5, 30.0, 38.0)]
        [3.0, 23.0, 30.0, 57.0]
        """
        if low_mm + width_mm <= self.at_mm - self.outside_mm + ROUNDING_MM:
            return low_mm
        first, last = self.at_mm + self.inside_mm - width_mm, self.at_mm - self.inside_mm
        within = max(low_mm, first)
        if within <= last + ROUNDING_MM:
            return within
        return max(low_mm, self.at_mm + self.outside_mm)


def abreast(
    rows: Sequence[HoleRow], between_mm: tuple[float, float], width_mm: float, apart_mm: float
) -> int:
    """Return how many pieces lie side by side between two places across a board.

    From the lower edge up, each as low as it is sound: since all are as wide, none gives more.

    Parameters
    ----------
    width_mm
        Of a piece as it will be.
    apart_mm
        From the edge of one to the edge of the next: kerf and what is planed off both.
    """
    low, high = between_mm
    found = 0
    while (low := _sound_from(rows, low, width_mm)) + width_mm <= high + ROUNDING_MM:
        found, low = found + 1, low + width_mm + apart_mm
    return found


def _sound_from(rows: Sequence[HoleRow], low_mm: float, width_mm: float) -> float:
    """Return the lowest place, from a given one on, that is sound across all rows."""
    while True:
        moved = max((row.next_sound(low_mm, width_mm) for row in rows), default=low_mm)
        if moved <= low_mm + ROUNDING_MM:
            return low_mm
        low_mm = moved
