"""Two ways of laying off a hull as one function that runs smooth from stem to stern.

*Diagonals.* In the body plan a diagonal is a straight line from high on the centreline down and
outward; it crosses bottom, bilge and topside squarely, where waterlines run along the bottom and
buttocks along the side. With some half-breadths Y, as many as their slant says, and the depth Z of
the hull as units,

    e = y / Y        q = (z - z0) / Z

the diagonals are e + q = s, and the hull is one function e(x, s): how far out diagonal s is
crossed at x. In any section that rises and widens, however flat, hard, hollow or plumb, the slope
of e over s lies between 0 and 1; a side that tumbles home makes it a little less.

*Shares.* The same with the breadth and the depth of each section by itself, from its lower edge to
its upper one, as units: what is left is the shape of the section, which changes slowly where a
hull closes in upon a stem, and not at all on many. A straight stem on a straight keel, across
whose foot the diagonals run on, has a knuckle in them.

At a slant of 1 the diagonals of a midship section fall at 45 degrees in its box, and a bottom that
is round down to the rabbet bends as evenly as the bilge; flatter ones cross the steep sections of
the ends more squarely. Which of the two ways suits a hull, and which slant, is what its own figures
say; see :mod:`parts.lines.fits`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines.panels import Panel

SLANT = 3.0
"""Unit of half-breadths over the greatest one: on most hulls well enough (tried from 1 to 5 on
round hulls, ships and a parabolic form)."""

OTHER_SLANTS = (1.0, 8.0, 24.0)
"""Tried as well. Of .7, 1, 1.5, 2, 3, 4.5 and 7 the likeliest was nearest the true hull on each of
six with noise: 1 where sections are half circles, 7 with a raking stem or hollow garboards. At 24
they lie nearly level: hollow garboards and a double-ender, all figures 3 mm off, are .03 mm nearer
in the mean than at 8."""

LEAST_SHARE = 0.004
"""A section narrower or shallower than this part of the hull has no shape of its own."""

NARROW = 0.08
"""A hull whose sections are in their middle narrower from edge to edge than this part of its
breadth is not laid off by shares: a box has no breadth from rabbet to sheer."""

FARTHEST = 1.6
"""A place off the hull by more, as of a figure typed wrong by a fathom, is as far off as this."""


@dataclass(frozen=True, eq=False)
class Laid:
    """Points laid off.

    Attributes
    ----------
    places
        (n, 2): along the boat and across, within about -1 to 1.
    figures
        (n,) the function's value.
    by_y, across_y, across_z
        (n,) how the value rises with the half-breadth, and the place across with half-breadth
        and height, over mm.
    shaped
        (n,) whether the section has a shape there.
    """

    places: Points
    figures: Points
    by_y: Points
    across_y: Points
    across_z: Points
    shaped: NDArray[np.bool_]

    def rise(self, slope: Points) -> Points:
        """Return how a point's distance from the function rises with y and with z, (n, 2).

        Parameters
        ----------
        slope
            (n,) of the function across.
        """
        return np.column_stack([self.by_y - slope * self.across_y, -slope * self.across_z])


@dataclass(frozen=True, eq=False)
class Diagonals:
    """By diagonals."""

    panel: Panel
    slant: float = SLANT

    def on(self, panel: Panel) -> Diagonals:
        """Return the same way on another panel."""
        return Diagonals(panel, self.slant)

    @cached_property
    def _units(self) -> tuple[float, float, float]:
        widest, base, depth = self.panel.units
        return self.slant * widest, base, depth

    def across(self, y: Points, z: Points) -> tuple[Points, Points]:
        """Return the value and the diagonal of points."""
        half, base, depth = self._units
        out, up = y / half, (z - base) / depth
        return out, out + up - 1.0

    def lay(self, x: Points, y: Points, z: Points) -> Laid:
        """Return points laid off."""
        half, _, depth = self._units
        out, across = self.across(y, z)
        one = np.ones(len(x))
        places = np.column_stack([self.panel.along(x), across])
        return Laid(places, out, one / half, one / half, one / depth, one > 0)

    def net(self, x: Points, u: Points) -> tuple[Points, Points]:
        """Return the places of a net: along, and across from edge to edge."""
        low, high = (self.across(*edge.T)[1] for edge in self.panel.edges_at(x))
        return self.panel.along(x), low[:, None] + u * (high - low)[:, None]

    def back(self, x: Points, across: Points, values: Points) -> tuple[Points, Points]:
        """Return half-breadths and heights of values on a net."""
        half, base, depth = self._units
        return values * half, base + (across + 1.0 - values) * depth


@dataclass(frozen=True, eq=False)
class Shares:
    """By shares of each section's breadth and depth."""

    panel: Panel
    slant: float = SLANT

    def on(self, panel: Panel) -> Shares:
        """Return the same way on another panel."""
        return Shares(panel, self.slant)

    def _sizes(self, x: Points) -> tuple[Points, Points, Points]:
        """Return the lower edge, (n, 2), and breadth and depth from edge to edge, (n,)."""
        low, high = self.panel.edges_at(x)
        widest, _, depth = self.panel.units
        span = np.maximum(high - low, 1e-3 * np.array([widest, depth]))
        return low, span[:, 0], span[:, 1]

    @property
    def suits(self) -> bool:
        """Whether the hull's sections have a breadth and a depth in their middle."""
        x = np.linspace(*self.panel.ends, 41)[4:-4]
        low, high = self.panel.edges_at(x)
        widest, _, depth = self.panel.units
        return bool(((high - low) > NARROW * np.array([widest, depth])).all())

    def _along(self, x: Points) -> Points:
        return np.asarray(2.0 * self.panel.low.profile.share(x) - 1.0)

    def lay(self, x: Points, y: Points, z: Points) -> Laid:
        """Return points laid off."""
        low, breadth, depth = self._sizes(x)
        out, up = (y - low[:, 0]) / breadth / self.slant, (z - low[:, 1]) / depth
        whole = 1.0 + 1.0 / self.slant
        across = np.clip(2.0 * (out + up) / whole - 1.0, -FARTHEST, FARTHEST)
        widest, _, deepest = self.panel.units
        shaped = (breadth > LEAST_SHARE * widest) & (depth > LEAST_SHARE * deepest)
        by_y = 1.0 / breadth / self.slant
        places = np.column_stack([self._along(x), across])
        return Laid(places, out, by_y, 2.0 / whole * by_y, 2.0 / whole / depth, shaped)

    def edge_moved(self, points: Points, axis: int, *, is_low: bool) -> tuple[Points, Points]:
        """Return how value and place across of points, (n, 3), change as an edge moves, (n,) each.

        That is by 1 mm outward (axis 0) or upward (1), at the place of each.
        """
        low, breadth, depth = self._sizes(points[:, 0])
        part = (points[:, 1 + axis] - low[:, axis]) / (breadth, depth)[axis]
        change = (part - 1.0 if is_low else -part) / (breadth, depth)[axis]
        whole = 1.0 + 1.0 / self.slant
        if axis == 0:
            return change / self.slant, 2.0 / whole / self.slant * change
        return np.zeros(len(points)), 2.0 / whole * change

    def net(self, x: Points, u: Points) -> tuple[Points, Points]:
        """Return the places of a net: along, and across from edge to edge."""
        return self._along(x), np.broadcast_to(2.0 * u - 1.0, (len(x), len(u)))

    def back(self, x: Points, across: Points, values: Points) -> tuple[Points, Points]:
        """Return half-breadths and heights of values on a net."""
        low, high = self.panel.edges_at(x)
        up = (across + 1.0) / 2.0 * (1.0 + 1.0 / self.slant) - values
        breadth, depth = (high - low).T
        return (
            low[:, :1] + self.slant * values * breadth[:, None],
            low[:, 1:] + up * depth[:, None],
        )


LayingOff = Diagonals | Shares
