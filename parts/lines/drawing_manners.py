"""In which manner a curve is drawn through its points: chosen by how each point is foretold.

Two things are chosen, each where it is wanted. *How the way along goes on*: by the length of the
chords, or by a power of it. Where a curve bends quickly between points that stand closer there, as
at a forefoot, the way by the chords makes it swing; by their roots (Lee 1989, Choosing nodes in
parametric curve interpolation, from memory) it does not. A line is swept up at one end and
closes in at the other, so each half has its own power. *Of which degree it is*: the fifth lies
nearer to a fair line (0.7 mm off instead of 6.3 at a closed end by the fourth power), but swings
where the line turns quickly (13 mm instead of 1). Both are drawn on the same way and mixed, at each
point by how much they miss it and its neighbours when it is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.interpolate import BSpline, PPoly, make_interp_spline

from parts.curves import Points
from parts.lines.left_out_splines import missed

FEWEST, MOST = 8, 40
"""Points from which on there is a choice, and up to which: fewer do not tell how a bend changes,
through more a cubic by the chord lies as near."""

POWERS = (0.75, 0.5, 0.25)
"""Of the chords' lengths, tried beside the lengths themselves."""

CLEARLY = 0.8
"""Part of what a half's points are missed by that another power must miss them less."""

NEIGHBOURS = 1.5
"""How many points away what is missed still counts, in standard deviations."""

EXACT_MM = 0.25
"""No point is missed by less than a pencil line."""

FAR_MM = 15.0
"""Where a cubic and a curve of the fifth degree lie farther apart, neither is known to be right,
and the cubic swings less: a counter with too few stations was 15 mm off instead of 75."""

BACK_MM, LOOKED_AT = 0.5, 16
"""How far a curve may swing forward, and places between two points at which that is looked for."""

OF_ONE, ALL_OF_OTHER = 0.35, 0.65
"""From which part of a curve's reach in x the power of its fore half gives way to that of its aft
half, and where it has done so."""


Tangents = tuple[Points | None, Points | None]
"""Unit directions in which a curve begins and ends, (2,); None where it is free."""


@dataclass(frozen=True)
class Manner:
    """How a curve is drawn.

    Attributes
    ----------
    fore, aft
        Power of the chords by which the way goes on, in each half.
    fifth
        At each point, which part is of the fifth degree; the rest is a cubic. Empty for none.
    """

    fore: float = 1.0
    aft: float = 1.0
    fifth: tuple[float, ...] = ()

    @property
    def by_chords(self) -> bool:
        """Whether the way is the length of the chords."""
        return self.fore == self.aft == 1.0

    def way(self, points: Points) -> Points:
        """Return the way along (n, 2) points, from 0 to the length of all chords."""
        steps = np.hypot(*np.diff(points, axis=0).T)
        x = (points[:-1, 0] + points[1:, 0]) / 2
        part = (x - points[0, 0]) / (points[-1, 0] - points[0, 0])
        part = np.clip((part - OF_ONE) / (ALL_OF_OTHER - OF_ONE), 0.0, 1.0)
        power = self.fore + (self.aft - self.fore) * _eased(part)
        way = np.concatenate([[0.0], np.cumsum((steps / np.median(steps)) ** power)])
        return np.asarray(way * (float(steps.sum()) / way[-1]))

    def drawn(self, points: Points, ends: Tangents = (None, None)) -> PPoly:
        """Return the curve through (n, 2) points over the way along them, as polynomials.

        Parameters
        ----------
        ends
            The unit directions in which it begins and ends, (2,); None where it is free.
        """
        way = self.way(points)
        cubic = _rates(_spline(way, points, min(3, len(points) - 1), ends), way)
        if not self.fifth:
            return PPoly(cubic[::-1], way)
        fifth = _rates(_spline(way, points, 5, ends), way)
        share = np.array(self.fifth)
        rise, length = np.diff(share)[:, None], np.diff(way)[:, None]
        none = np.zeros_like(rise)
        mixed = (share[:-1, None], none, 3 * rise / length**2, -2 * rise / length**3)
        whole = np.zeros((9, *cubic.shape[1:]))
        whole[:6] = cubic
        for n, part in enumerate(mixed):
            whole[n : n + 6] += part * (fifth - cubic)
        return PPoly(whole[::-1], way)


def _spline(way: Points, points: Points, degree: int, ends: Tangents) -> BSpline:
    """Return the spline through points that begins and ends in the directions that are given.

    At a free end the knots next to it are left out (not a knot); where there are too few points
    for that, it does not bend there.
    """
    if ends[0] is None and ends[1] is None:
        return make_interp_spline(way, points, k=degree)
    chords, steps = np.hypot(*np.diff(points, axis=0).T), np.diff(way)
    # The library's stubs do not know pairs of an order and a derivative.
    rises: list[Any] = [
        None if end is None else [(1, end * (chords[at] / steps[at]))]
        for end, at in zip(ends, (0, -1), strict=True)
    ]
    if len(points) < 4:
        bare: Any = [(2, np.zeros(2))]
        both: Any = tuple(rise or bare for rise in rises)
        return make_interp_spline(way, points, k=3, bc_type=both)
    free = (degree + 1) // 2
    low, high = (free - (rise is not None) for rise in rises)
    sides = [np.repeat(end, degree + 1) for end in (way[0], way[-1])]
    knots = np.concatenate([sides[0], way[low : len(way) - high], sides[1]])
    given: Any = tuple(rises)
    return make_interp_spline(way, points, k=degree, t=knots, bc_type=given)


def _eased(part: Points) -> Points:
    return np.asarray(part**2 * (3.0 - 2.0 * part))


def _rates(spline: BSpline, way: Points) -> Points:
    """Return a spline's polynomials between the points, lowest power first, (6, n - 1, 2)."""
    # A polynomial's coefficients are its derivatives where it begins, over their factorials.
    return np.array([spline(way[:-1], nu=n) / math.factorial(n) for n in range(6)])


@lru_cache(maxsize=512)
def manner_of(points: bytes) -> Manner:
    """Return in which manner (n, 2) points are foretold best."""
    at = np.frombuffer(points).reshape(-1, 2)
    if not FEWEST <= len(at) <= MOST:
        return Manner()
    powers = _powers(at)
    cubic, fifth = _foretold(at, powers)
    far = 1.0 + (_apart(at, powers) / FAR_MM) ** 4
    share = cubic**2 / (cubic**2 + fifth**2 * far)
    mixed = replace(powers, fifth=tuple(float(part) for part in share))
    tried = (mixed, powers, Manner())
    return next((manner for manner in tried if not _turns_back(manner, at)), Manner())


def _turns_back(manner: Manner, points: Points) -> bool:
    """Whether a curve through points that run aft swings forward, as at a stem's plumb head."""
    drawn = manner.drawn(points)
    x = drawn(np.linspace(0.0, drawn.x[-1], LOOKED_AT * len(points)))[:, 0]
    return float((np.maximum.accumulate(x) - x).max()) > BACK_MM


def missed_near(points: Points, manner: Manner) -> Points:
    """Return by how much a manner misses each point and those near it when they are left out."""
    cubic, fifth = _foretold(points, manner)
    share = np.array(manner.fifth)
    return np.asarray(np.sqrt((1.0 - share) * cubic + share * fifth))


def _foretold(points: Points, powers: Manner) -> tuple[Points, Points]:
    """Return what a cubic and a curve of the fifth degree miss near each point, squared, (n,)."""
    way = powers.way(points)[None]
    cubic, fifth = (_near(missed(points, way, degree)[0]) for degree in (3, 5))
    return cubic, fifth


def _apart(points: Points, powers: Manner) -> Points:
    """Return how far both lie apart in the middle of the runs beside each point, (n,)."""
    way = powers.way(points)
    middle = (way[:-1] + way[1:]) / 2
    cubic, fifth = (make_interp_spline(way, points, k=degree)(middle) for degree in (3, 5))
    far = np.hypot(*(fifth - cubic).T)
    return np.asarray(np.maximum(np.append(far, 0.0), np.append(0.0, far)))


def _powers(points: Points) -> Manner:
    """Return the powers of the chords by which cubics foretell the points of each half best."""
    tried = [
        Manner(),
        *(Manner(fore=power) for power in POWERS),
        *(Manner(aft=power) for power in POWERS),
    ]
    # Not squared: what is missed by far where it turns sharply is not to decide for all others.
    off = np.hypot(missed(points, np.array([one.way(points) for one in tried]), 3), EXACT_MM)
    fore = points[1:-1, 0] < (points[0, 0] + points[-1, 0]) / 2
    best = Manner()
    for half, numbers in (
        (fore, range(1, 1 + len(POWERS))),
        (~fore, range(1 + len(POWERS), len(tried))),
    ):
        least = CLEARLY * float(off[0, half].sum())
        for n in numbers:
            if float(off[n, half].sum()) < least:
                least = float(off[n, half].sum())
                best = (
                    replace(best, fore=tried[n].fore)
                    if half is fore
                    else replace(best, aft=tried[n].aft)
                )
    return best


def _near(off: Points) -> Points:
    """Return what is missed at and near each point, squared, (n,), of what each inner one is."""
    at = np.arange(len(off) + 2)
    weights = np.exp(-0.5 * (np.subtract.outer(at, at[1:-1]) / NEIGHBOURS) ** 2)
    return np.asarray(weights @ off**2 / weights.sum(axis=1) + EXACT_MM**2)


def others_as_good(points: Points, best: Manner, as_well: float) -> list[Manner]:
    """Return other manners that foretell points at most so many times as badly as the best."""
    powers = list(dict.fromkeys([Manner(best.fore, best.aft), Manner(), Manner(0.5, 0.5)]))
    ways = np.array([one.way(points) for one in powers])
    whole: dict[int, tuple[float, ...]] = {3: (), 5: (1.0,) * len(points)}
    off = {
        replace(one, fifth=whole[degree]): float(np.sqrt((row**2).mean()))
        for degree in whole
        for one, row in zip(powers, missed(points, ways, degree), strict=True)
    }
    least = min(off[replace(powers[0], fifth=fifth)] for fifth in whole.values())
    return [manner for manner, one in off.items() if one < as_well * least]
