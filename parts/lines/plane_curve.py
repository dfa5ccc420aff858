"""A fair curve in one plane that runs aft: sheer, rabbet or chine, in plan or in profile."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from scipy.interpolate import PPoly, make_interp_spline

from parts.curves import Points

FINE = 4001
"""Places along a curve from which a place at a given x is first looked up."""

BACK_MM = 2.0
"""A spline through points of a plumb stem head may swing forward of them by a hair."""

FEWEST, MOST = 8, 40
"""Points through which a curve of the fifth degree may run: fewer do not tell how its bend changes,
through more a cubic lies as near."""

CLEARLY = 0.6
"""Part of what one manner misses points by that it is drawn without, by which another must miss
them less. Of the fifth degree, between eleven stations, a curve lies nearer to a fair line: 0.7 mm
off instead of 6.3 at a closed end by the fourth power, 1.0 instead of 3.5 on an ellipse; where a
rabbet turns up quickly to a stem it swings, by 13 mm instead of 1, and is seen to. There a cubic
over the sum of the chords' roots (Lee 1989, Choosing nodes in parametric curve interpolation, from
memory) misses less: of two forefeet swept up quickly it is 3.6 mm off instead of 11.4, 3.0 instead
of 10.5."""

AS_WELL = 1.7
"""A manner that misses points by less than so many times as much foretells them about as well."""


@dataclass(frozen=True, eq=False)
class PlaneCurve:
    """A spline on the chord through (n, 2) points (x, value), x rising.

    By the chord, not by x, as a stem may stand nearly plumb: there the value is no smooth
    function of x, while both are smooth functions of the way along the curve. Where a curve bends
    quickly between points that stand closer there, the way goes by the roots of the chords. At its
    corners, numbers of points, it turns sharply.
    """

    points: Points
    corners: tuple[int, ...] = ()

    @cached_property
    def _ways(self) -> Points:
        """The way along the points: over all it comes to the length of the chords."""
        runs = (self.points[a : b + 1] for a, b in self._runs)
        found, begun = [np.zeros(1)], 0.0
        for points in runs:
            found.append(begun + _way(points, _manner(points.tobytes()))[1:])
            begun = float(found[-1][-1])
        return np.concatenate(found)

    @property
    def _runs(self) -> list[tuple[int, int]]:
        """First and last point of each run between corners."""
        return list(pairwise([0, *self.corners, len(self.points) - 1]))

    @cached_property
    def spline(self) -> PPoly:
        """The curve (x, value) over the way along its points."""
        pieces = [self._piece(a, b) for a, b in self._runs]
        breaks = [pieces[0].x, *(piece.x[1:] for piece in pieces[1:])]
        return PPoly(np.concatenate([p.c for p in pieces], axis=1), np.concatenate(breaks))

    def _piece(self, first: int, last: int) -> PPoly:
        """Return the spline through a run of points, as polynomials of the fifth degree."""
        way, points = self._ways[first : last + 1], self.points[first : last + 1]
        spline = make_interp_spline(way, points, k=_manner(points.tobytes()).degree)
        inner = np.unique(spline.t)
        # A polynomial's coefficients are its derivatives where it begins, over their factorials.
        rates = [spline(inner[:-1], nu=n) / math.factorial(n) for n in range(5, -1, -1)]
        return PPoly(np.array(rates), inner)

    @property
    def length(self) -> float:
        """Chord length along the points."""
        return float(self._ways[-1])

    def dense(self) -> Points:
        """Return many points of the curve, (n, 2)."""
        return np.asarray(self.spline(self._fine[0]))

    def others(self) -> Iterator[Points]:
        """Yield many points, (n, 2), of other drawings of it that foretell its points as well."""
        for a, b in self._runs:
            points = self.points[a : b + 1]
            if not FEWEST <= len(points) <= MOST:
                continue
            best = _manner(points.tobytes())
            for other in (_Manner(3), _Manner(5), BY_ROOTS):
                if other != best and _missed(points, other) < AS_WELL * _missed(points, best):
                    way = _way(points, other)
                    spline = make_interp_spline(way, points, k=other.degree)
                    yield spline(np.linspace(0.0, way[-1], FINE))

    def share(self, x: Points) -> Points:
        """Return which part of its length, 0 to 1, lies before places in x.

        Of one whose way goes by roots that is measured along it: its way runs faster where points
        stand closer.
        """
        way, (fine, _) = self.along(x), self._fine
        if all(_manner(self.points[a : b + 1].tobytes()).power == 1.0 for a, b in self._runs):
            return np.asarray(way / self.length)
        steps = np.hypot(*np.diff(self.spline(fine), axis=0).T)
        passed = np.concatenate([[0.0], np.cumsum(steps)])
        return np.asarray(np.interp(way, fine, passed) / passed[-1])

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


@dataclass(frozen=True)
class _Manner:
    """How a spline is drawn: its degree, and by what power of the chords its way goes on."""

    degree: int
    power: float = 1.0


BY_ROOTS = _Manner(3, 0.5)


@lru_cache(maxsize=512)
def _manner(points: bytes) -> _Manner:
    """Return in which manner the spline through (n, 2) points foretells them best."""
    at = np.frombuffer(points).reshape(-1, 2)
    best = _Manner(min(3, len(at) - 1))
    if FEWEST <= len(at) <= MOST:
        for other in (_Manner(5), BY_ROOTS):
            if _missed(at, other) < CLEARLY * _missed(at, best):
                best = other
    return best


def _way(points: Points, manner: _Manner) -> Points:
    """Return the way along points, from 0 to the length of all chords."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    way = np.concatenate([[0.0], np.cumsum(steps**manner.power)])
    return np.asarray(way * (float(steps.sum()) / way[-1]))


def _missed(points: Points, manner: _Manner) -> float:
    """Return by how much splines miss each inner point that they are drawn without: the root of
    the mean square.
    """
    way, squares = _way(points, manner), list[float]()
    for n in range(1, len(points) - 1):
        others = np.arange(len(points)) != n
        spline = make_interp_spline(way[others], points[others], k=manner.degree)
        off, run = points[n] - spline(way[n]), spline(way[n], nu=1)
        squares.append(float((off[0] * run[1] - off[1] * run[0]) ** 2 / (run @ run)))
    return math.sqrt(float(np.mean(squares)))
