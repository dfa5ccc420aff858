"""A fair curve in one plane that runs aft: sheer, rabbet or chine, in plan or in profile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from scipy.interpolate import PPoly

from parts.curves import Points
from parts.lines.drawing_manners import (
    FEWEST,
    MOST,
    Manner,
    Tangents,
    manner_of,
    missed_near,
    others_as_good,
)
from parts.lines.turning_one_way import Sprung, turning_one_way

FINE = 4001
"""Places along a curve from which a place at a given x is first looked up."""

BACK_MM = 2.0
"""A spline through points of a plumb stem head may swing forward of them by a hair."""

MOST_KNOWN = 512
"""Places of which a curve keeps its values: those of stations and of a table's figures are asked
again and again while a table is judged, and each time would be looked for along it anew."""

MOST_SHARED = 64
"""Curves that are kept to be met again: some three fairings of a hull with two chines. While
figures are tried in one edge's line all the other curves are the same ones."""

STEPS, ALMOST_MM = 3, 1e-4
"""Of Newton's, with which a place is looked for along a curve, at most, and a step as small as
after which the next, which squares what is left on the scale of the boat, need not be made."""

AS_WELL = 1.7
"""A manner that misses points by less than so many times as much foretells them about as well."""


@dataclass(frozen=True, eq=False)
class PlaneCurve:
    """A spline on the chord through (n, 2) points (x, value), x rising.

    By the chord, not by x, as a stem may stand nearly plumb: there the value is no smooth
    function of x, while both are smooth functions of the way along the curve. How that way goes
    on, and of which degree the curve is, is chosen by its points
    (:mod:`parts.lines.drawing_manners`). At its corners, numbers of points, it turns sharply;
    into a run that is straight, from one of them to another, it is swept without a turn.

    Attributes
    ----------
    loose
        (n,) how far each point may be moved, mm, so that the curve turns one way where they do
        (:mod:`parts.lines.turning_one_way`); None for one that is drawn as it comes.
    """

    points: Points
    corners: tuple[int, ...] = ()
    straight: tuple[int, int] | None = None
    loose: Points | None = None

    @property
    def _runs(self) -> list[tuple[int, int]]:
        """First and last point of each run between corners and ends of what is straight."""
        ends = {0, *self.corners, *(self.straight or ()), len(self.points) - 1}
        return list(pairwise(sorted(ends)))

    def _ends(self, run: tuple[int, int]) -> Tangents:
        """Return the directions in which a run meets what is straight."""
        if self.straight is None:
            return None, None
        low, high = self.straight
        along = self.points[high] - self.points[low]
        along = along / np.hypot(*along)
        begins = run[0] == high and high not in self.corners
        ends = run[1] == low and low not in self.corners
        return along if begins else None, along if ends else None

    @cached_property
    def _manners(self) -> list[Manner]:
        return [manner_of(self.points[a : b + 1].tobytes()) for a, b in self._runs]

    def _sprung(self, manner: Manner, run: tuple[int, int]) -> Sprung:
        """Return a run drawn in a manner, over the way along its points."""
        points, ends = self.points[run[0] : run[1] + 1], self._ends(run)
        directed = ends[0] is not None, ends[1] is not None
        loose = np.zeros(len(points)) if self.loose is None else self.loose[run[0] : run[1] + 1]
        return Sprung(manner.drawn(points, ends), points, loose, directed)

    def _drawn(self, manner: Manner, run: tuple[int, int]) -> PPoly:
        """Return the same turning one way where its points do, if it is to."""
        sprung = self._sprung(manner, run)
        return sprung.drawn if self.loose is None else turning_one_way(sprung)

    @cached_property
    def spline(self) -> PPoly:
        """The curve (x, value) over the way along its points: of the length of all chords."""
        pieces = [
            self._drawn(manner, run) for manner, run in zip(self._manners, self._runs, strict=True)
        ]
        most = max(len(piece.c) for piece in pieces)
        rates, breaks, begun = list[Points](), [np.zeros(1)], 0.0
        for piece in pieces:
            rates.append(
                np.concatenate([np.zeros((most - len(piece.c), *piece.c.shape[1:])), piece.c])
            )
            breaks.append(begun + piece.x[1:])
            begun = float(breaks[-1][-1])
        return PPoly(np.concatenate(rates, axis=1), np.concatenate(breaks))

    @cached_property
    def ways(self) -> Points:
        """The way along the curve at which each of its points lies, (n,)."""
        steps = [
            np.diff(manner.way(self.points[a : b + 1]))
            for manner, (a, b) in zip(self._manners, self._runs, strict=True)
        ]
        return np.cumsum(np.concatenate([np.zeros(1), *steps]))

    @property
    def length(self) -> float:
        """Chord length along the points."""
        return float(self.spline.x[-1])

    def dense(self) -> Points:
        """Return many points of the curve, (n, 2)."""
        return np.asarray(self.spline(self._fine[0]))

    def others(self) -> Iterator[Points]:
        """Yield many points, (n, 2), of other drawings of it that foretell its points as well.

        That in which it was drawn before it was held to turn one way is one of them.
        """
        for best, run in zip(self._manners, self._runs, strict=True):
            points = self.points[run[0] : run[1] + 1]
            if not FEWEST <= len(points) <= MOST:
                continue
            others = (self._drawn(other, run) for other in others_as_good(points, best, AS_WELL))
            for drawn in (self._sprung(best, run).drawn, *others):
                yield drawn(np.linspace(0.0, drawn.x[-1], FINE))

    @cached_property
    def heights_mm(self) -> Points:
        """How high what each run between two points lies in is, (n - 1,); see :class:`Sprung`."""
        pairs = zip(self._manners, self._runs, strict=True)
        return np.concatenate([self._sprung(*pair).heights_mm for pair in pairs])

    def foretold(self) -> Points:
        """Return places in x, and how far its points there are foretold wrongly, (n, 2).

        Each drawn without itself, those beside it counted in: of runs whose points can tell.
        """
        found = [np.zeros((0, 2))]
        for manner, (a, b) in zip(self._manners, self._runs, strict=True):
            points = self.points[a : b + 1]
            if manner.fifth:
                found.append(np.column_stack([points[:, 0], missed_near(points, manner)]))
        return np.concatenate(found)

    def share(self, x: Points) -> Points:
        """Return which part of its length, 0 to 1, lies before places in x.

        Of one whose way does not go by the chords that is measured along it: its way runs faster
        where points stand closer.
        """
        way, (fine, _) = self.along(x), self._fine
        if all(manner.by_chords for manner in self._manners):
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
        for _ in range(STEPS):
            at, slope = self.spline(way)[..., 0], self.spline(way, nu=1)[..., 0]
            # At a plumb end the slope is 0: there the looked-up place is as good as it gets.
            step = np.where(np.abs(slope) > 1e-3, (x - at) / np.where(slope, slope, 1.0), 0.0)
            way = np.clip(way + np.clip(step, -fine[1], fine[1]), 0.0, self.length)
            if float(np.abs(step).max(initial=0.0)) < ALMOST_MM:
                break
        way = np.where(x <= self.ends[0], 0.0, np.where(x >= self.ends[1], self.length, way))
        return np.asarray(way)

    @cached_property
    def _known(self) -> dict[tuple[tuple[int, ...], bytes], Points]:
        """Values by places, as bytes."""
        return {}

    def at(self, x: Points | float) -> Points:
        """Return the value at places in x; not to be written into."""
        x = np.asarray(x, dtype=float)
        key = x.shape, x.tobytes()
        found = self._known.get(key)
        if found is None:
            if len(self._known) >= MOST_KNOWN:
                self._known.clear()
            found = self._known[key] = np.array(self.spline(self.along(x))[..., 1])
            found.flags.writeable = False
        return found

    def slope(self, x: Points | float) -> Points:
        """Return the rise of the value over x at places in x."""
        run = self.spline(self.along(np.asarray(x, dtype=float)), nu=1)
        return np.asarray(run[..., 1] / np.maximum(run[..., 0], 1e-9))


def curve_through(
    points: Points,
    corners: tuple[int, ...] = (),
    straight: tuple[int, int] | None = None,
    loose: Points | None = None,
) -> PlaneCurve:
    """Return the curve through points: the same one again, with all that is known of it."""
    given = np.ascontiguousarray(points, dtype=float)
    return _curve_through(
        given.tobytes(), corners, straight, None if loose is None else loose.tobytes()
    )


@lru_cache(maxsize=MOST_SHARED)
def _curve_through(
    points: bytes, corners: tuple[int, ...], straight: tuple[int, int] | None, loose: bytes | None
) -> PlaneCurve:
    at = np.frombuffer(points).reshape(-1, 2)
    return PlaneCurve(at, corners, straight, None if loose is None else np.frombuffer(loose))
