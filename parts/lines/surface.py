"""One face of the planking as a smooth surface: bicubic, over the way along and the girth.

Parameters: ``t`` from -1 at the forward end to 1 aft, along the rabbet; ``u`` from 0 at the
rabbet to 1 at the sheer. Lines of constant u run the boat's length and close in at a stem.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline

from parts.curves import Points

TOUCH_MM = 1e-7
"""Places are found to this; far below anything that is measured."""

ALMOST_MM = 0.01
"""From a place as near as this the next of Newton's steps, which squares what is left on the scale
of the boat, ends within :data:`TOUCH_MM`: that need not be looked at."""

SECTION_POINTS = 161
"""Points of a section: chords leave a bilge of 150 mm radius by less than 0.1 mm."""

LOOKED_AT, SURELY_MM = 401, 1.0
"""Lines of u whose ends are looked at, and how far within them all lines are there."""


@dataclass(frozen=True, eq=False)
class Surface:
    """A smooth surface through a net of points.

    Attributes
    ----------
    t, u
        (n,) and (m,) parameters of the net's lines.
    net
        (n, m, 3) points x, y, z, mm; x rises with t along every line of u.
    """

    t: Points
    u: Points
    net: Points

    @property
    def patches(self) -> tuple[Surface, ...]:
        """The panels that it is made of, from the rabbet up: itself alone."""
        return (self,)

    @property
    def girth(self) -> Points:
        """Where the points of a section stand, over the girth."""
        return self.across(SECTION_POINTS)

    def across(self, count: int) -> Points:
        """Return about so many places over the girth, every break among them."""
        return np.linspace(0.0, 1.0, count)

    @cached_property
    def _splines(self) -> tuple[RectBivariateSpline, ...]:
        return tuple(RectBivariateSpline(self.t, self.u, self.net[..., axis]) for axis in range(3))

    def at(self, t: Points, u: Points, *, dt: int = 0, du: int = 0) -> Points:
        """Return (k, 3) points, or their derivatives, at (k,) parameters."""
        pieces = [spline.ev(t, u, dx=dt, dy=du) for spline in self._splines]
        return np.stack(pieces, axis=-1)

    def normals(self, t: Points, u: Points) -> Points:
        """Return (k, 3) unit normals, outward on the side of positive y."""
        # At a stem head the lines of u run together and have no normal: take it just beside.
        inner = np.clip(t, self.t[0] + 1e-6, self.t[-1] - 1e-6)
        across = np.cross(self.at(inner, u, dt=1), self.at(inner, u, du=1))
        length = np.linalg.norm(across, axis=-1, keepdims=True)
        return np.asarray(-across / np.maximum(length, 1e-300))

    def way(self, x: float, u: Points) -> tuple[Points, NDArray[np.bool_]]:
        """Return the t at which lines of u pass a place in x, and which of them do, bool."""
        passes = self._passes(x, u)
        t = np.interp(u, self.u, self._near(x))
        floor, top = np.full(len(u), self.t[0]), np.full(len(u), self.t[-1])
        for _ in range(60):
            off = self._splines[0].ev(t, u) - x
            worst = np.abs(off[passes]).max(initial=0.0)
            if worst < TOUCH_MM:
                break
            floor, top = np.where(off < 0, t, floor), np.where(off > 0, t, top)
            slope = self._splines[0].ev(t, u, dx=1)
            newton = t - off / np.where(slope > 1e-9, slope, 1.0)
            inside = (newton > floor) & (newton < top) & (slope > 1e-9)
            t = np.where(inside, newton, (floor + top) / 2)
            if worst < ALMOST_MM and inside[passes].all():
                break
        return t, passes

    def _near(self, x: float) -> Points:
        """Return about the t at which the lines of the net pass a place in x, (m,)."""
        places = self.net[..., 0]
        after = np.clip((places < x).sum(axis=0), 1, len(self.t) - 1)
        low, high = np.take_along_axis(places, np.stack([after - 1, after]), axis=0)
        share = np.clip((x - low) / np.maximum(high - low, TOUCH_MM), 0.0, 1.0)
        return np.asarray(self.t[after - 1] + share * (self.t[after] - self.t[after - 1]))

    def _passes(self, x: float, u: Points) -> NDArray[np.bool_]:
        """Return which lines of u reach a place in x."""
        least, most = self._inner
        if least < x < most:
            return np.ones(len(u), dtype=bool)
        low, high = self._reach(u)
        return np.asarray((x >= low - TOUCH_MM) & (x <= high + TOUCH_MM))

    @cached_property
    def _inner(self) -> tuple[float, float]:
        """Between which places in x all lines of u are surely there: away from both ends."""
        low, high = self._reach(np.linspace(self.u[0], self.u[-1], LOOKED_AT))
        return float(low.max()) + SURELY_MM, float(high.min()) - SURELY_MM

    def _reach(self, u: Points) -> tuple[Points, Points]:
        """Return x of both ends of the lines of u."""
        ends = [np.full(len(u), end) for end in (self.t[0], self.t[-1])]
        low, high = (self._splines[0].ev(end, u) for end in ends)
        return low, high

    def section(self, x: float, u: Points) -> tuple[Points, Points]:
        """Return the (k, 2) half-breadths and heights of a section, and (k, 2) its t and u.

        Only the lines of u that reach x are there; in rising order.
        """
        t, passes = self.way(x, u)
        t, u = t[passes], u[passes]
        points = np.column_stack([spline.ev(t, u) for spline in self._splines[1:]])
        return points, np.column_stack([t, u])

    def moved(self, distance_mm: float) -> Surface:
        """Return the surface moved square to itself, outward by a distance."""
        t, u = (grid.ravel() for grid in np.meshgrid(self.t, self.u, indexing="ij"))
        normals = self.normals(t, u).reshape(self.net.shape)
        return Surface(self.t, self.u, self.net + distance_mm * normals)
