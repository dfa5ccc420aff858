"""A fair curve in one plane that runs aft: sheer or rabbet, in plan or in profile."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from parts.curves import Points

FINE = 4001
"""Places along a curve from which a place at a given x is first looked up."""

BACK_MM = 2.0
"""A spline through points of a plumb stem head may swing forward of them by a hair."""


@dataclass(frozen=True, eq=False)
class PlaneCurve:
    """A cubic spline on the chord through (n, 2) points (x, value), x rising.

    By the chord, not by x, as a stem may stand nearly plumb: there the value is no smooth
    function of x, while both are smooth functions of the way along the curve.
    """

    points: Points

    @cached_property
    def spline(self) -> BSpline:
        """The curve (x, value) over the chord length along its points."""
        chords = np.hypot(*np.diff(self.points, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(chords)])
        return make_interp_spline(along, self.points, k=min(3, len(along) - 1))

    @property
    def length(self) -> float:
        """Chord length along the points."""
        return float(self.spline.t[-1])

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest x."""
        return float(self.points[0, 0]), float(self.points[-1, 0])

    @cached_property
    def _fine(self) -> tuple[Points, Points]:
        along = np.linspace(0.0, self.length, FINE)
        return along, np.maximum.accumulate(self.spline(along)[:, 0])

    @cached_property
    def runs_aft(self) -> bool:
        """Whether x rises all along, so that there is one value for every x."""
        x = self.spline(self._fine[0])[:, 0]
        return float((np.maximum.accumulate(x) - x).max()) < BACK_MM

    def along(self, x: Points) -> Points:
        """Return the way along the curve at which it passes places in x; clipped to its ends."""
        fine, passed = self._fine
        x = np.clip(x, *self.ends)
        way = np.interp(x, passed, fine)
        for _ in range(3):
            at, slope = self.spline(way)[..., 0], self.spline(way, nu=1)[..., 0]
            # At a plumb end the slope is 0: there the looked-up place is as good as it gets.
            step = np.where(np.abs(slope) > 1e-3, (x - at) / np.where(slope, slope, 1.0), 0.0)
            way = np.clip(way + np.clip(step, -fine[1], fine[1]), 0.0, self.length)
        way = np.where(x <= self.ends[0], 0.0, np.where(x >= self.ends[1], self.length, way))
        return np.asarray(way)

    def at(self, x: Points | float) -> Points:
        """Return the value at places in x."""
        return np.asarray(self.spline(self.along(np.asarray(x, dtype=float)))[..., 1])

    def slope(self, x: Points | float) -> Points:
        """Return the rise of the value over x at places in x."""
        run = self.spline(self.along(np.asarray(x, dtype=float)), nu=1)
        return np.asarray(run[..., 1] / np.maximum(run[..., 0], 1e-9))
