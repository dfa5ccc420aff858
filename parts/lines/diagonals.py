"""The family of diagonals on which a hull is faired: coordinates that suit any section.

In the body plan a diagonal is a straight line from high on the centreline down and outward; it
crosses bottom, bilge and topside squarely, where waterlines run along the bottom and
buttocks along the side. With three half-breadths Y and the depth Z of the hull as units,

    e = y / Y        q = (z - z0) / Z

the diagonals are e + q = s, and the hull is one function d(x, s) = q - e: how far in along
diagonal s the planking is crossed at x. In any section that rises and widens from rabbet to
sheer, however flat, hard, hollow or plumb, the slope of d over s lies between -1 and 1, and d
runs smooth from stem to stern: no point of the hull needs another line to be faired by.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points
from parts.lines.edges import Edges

SLANT = 3.0
"""Unit of half-breadths over the greatest one. At 1 the diagonals of a midship section fall at
45 degrees in its box; flatter ones cross the steep sections of the ends more squarely, and cross
a bilge well enough (tried from 1 to 5 on round hulls, ships and a parabolic form)."""


@dataclass(frozen=True)
class Diagonals:
    """The units of one hull: half-breadth, base and depth, and the two ends, mm."""

    half_breadth: float
    base: float
    depth: float
    ends: tuple[float, float]

    def along(self, x: Points) -> Points:
        """Return the coordinate along the boat, -1 to 1."""
        low, high = self.ends
        return np.asarray(2.0 * (x - low) / (high - low) - 1.0)

    def place(self, y: Points, z: Points) -> tuple[Points, Points]:
        """Return which diagonal, s, and the distance along it, d, of points."""
        e, q = y / self.half_breadth, (z - self.base) / self.depth
        return e + q, q - e

    def point(self, s: Points, d: Points) -> tuple[Points, Points]:
        """Return half-breadth and height of places on diagonals."""
        return (s - d) / 2.0 * self.half_breadth, self.base + (s + d) / 2.0 * self.depth


def diagonals_of(edges: Edges) -> Diagonals:
    """Return the diagonals that suit a hull between its edges."""
    top, bottom = edges.sheer.height.values, edges.rabbet.height.values
    # The middle of three highest: one sheer typed a fathom too wide must not set the scale.
    widest = float(np.sort(edges.sheer.half.values)[-3:].min())
    low, high = float(np.median(bottom)), float(np.median(top))
    return Diagonals(SLANT * max(widest, 1.0), low, max(high - low, 1.0), edges.ends)
