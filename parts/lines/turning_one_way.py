"""A curve held to turn one way where its points do: it does not swing.

A batten that is sprung round points which turn all to one side turns to that side between them
as well. A spline need not: after a forefoot it swings along a straight keel, past its points and
back, by millimetres. Where it turns back by more than a hair, it is drawn anew there and for two
points to either side: bent as little and as evenly as it may be (least squares of the second and
the third derivative) while it turns back nowhere, within half a step of each point's rounding. How
far it has come along the chord of what is drawn anew stays as it was; only how far out it lies is
new, which makes what it must not do linear.

References
----------
Elfving and Andersson 1988, An algorithm for computing constrained smoothing spline functions,
Numer. Math. 52 (splines that bend one way). Lawson and Hanson 1974, Solving least squares problems,
ch. 23 (least squares under inequalities). Both from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline, PPoly
from scipy.optimize import nnls

from parts.curves import Points

HAIR_MM = 0.5
"""What a run between two points may bulge the wrong way, or half a step of their rounding if that
is more: smaller swings lie within what the points say."""

HELD_MM = 0.01
"""What one drawn anew may: none at all can be beyond doubles where the line is straight."""

BESIDE = 2
"""Runs to either side that are drawn anew with one that swings. On the edges of eighteen hulls by
formulas they were 5.7 mm off at worst, root of the mean square, as drawn by splines; 2.9 with one
run to either side, 2.7 with two or three."""

EVENLY = 0.1
"""Weight of the third derivative beside the second: of 0, .05, .1, .2, .3 and 1 the least in the
mean over the same edges, 1.4 mm at worst each."""

PULL = 3.0
"""How many times as dear as a millimetre of bending it is to move a point by one; 1 to 10 came to
the same."""

PIECES, LOOKED_AT = 4, 4
"""Cubic pieces of a run that is drawn anew, and places on each at which it is held."""

LOOKED_FOR = 33
"""Places on a run at which it is looked for turning back."""

FEWEST = 4
"""Points that can turn one way and back."""

HIGHEST = 8
"""Degree of what is drawn (:mod:`parts.lines.drawing_manners`)."""


@dataclass(frozen=True, eq=False)
class Sprung:
    """A curve through points, and how it may turn.

    Attributes
    ----------
    drawn
        Over ways that its points have for breaks.
    points, loose
        (n, 2), and how far each may be moved, (n,) mm.
    directed
        Whether its direction at either end is given.
    """

    drawn: PPoly
    points: Points
    loose: Points
    directed: tuple[bool, bool]

    @cached_property
    def sides(self) -> Points:
        """To which side each run between two points turns, (n - 1,): -1, 1, or 0 for either.

        To that of the next points to either side that turn more than their rounding may. Before
        the second point and after the last but one nothing tells.
        """
        chords = np.diff(self.points, axis=0)
        heading = np.arctan2(chords[:, 1], chords[:, 0])
        turns = (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi
        unsure = (self.loose[:-1] + self.loose[1:]) / np.hypot(*chords.T)
        side = np.where(np.abs(turns) > unsure[:-1] + unsure[1:], np.sign(turns), 0.0)
        before, after = _last_known(side), _last_known(side[::-1])[::-1]
        inner = np.where(before[:-1] * after[1:] >= 0.0, np.sign(before[:-1] + after[1:]), 0.0)
        return np.concatenate([[0.0], inner, [0.0]])

    @cached_property
    def heights_mm(self) -> Points:
        """How high the triangle over each run is within which a curve that turns one way lies.

        Between its chord and those of the runs beside it, run on, (n - 1,); infinite where either
        is missing, or where it may turn either way.
        """
        chords = np.diff(self.points, axis=0)
        found = np.full(len(chords), np.inf)
        for run in np.flatnonzero(self.sides[1:-1]) + 1:
            before, chord, after = chords[run - 1 : run + 2]
            turn = float(_across(before, after))
            share = float(_across(chord, after)) / turn if turn else 0.0
            height = float(_across(chord, before)) * share / float(np.hypot(*chord))
            # Of points that lie in a line, or turn the wrong way by their rounding, none is left.
            found[run] = abs(height) if share > 0.0 else 0.0
        return found

    @cached_property
    def swings(self) -> NDArray[np.bool_]:
        """Which runs between two points turn back by more than a hair, (n - 1,)."""
        ways = self.drawn.x
        part = np.linspace(0.0, 1.0, LOOKED_FOR + 2)[1:-1]
        at = ways[:-1, None] + part * np.diff(ways)[:, None]
        first, second = self.drawn(at, nu=1), self.drawn(at, nu=2)
        turning = _across(first, second) / np.hypot(first[..., 0], first[..., 1]) ** 3
        chords = np.hypot(*np.diff(self.points, axis=0).T)
        bulge = (turning * self.sides[:, None]).min(axis=1) * chords**2 / 8
        rounded = np.maximum(self.loose[:-1], self.loose[1:])
        return np.asarray(bulge < -np.maximum(HAIR_MM, rounded))

    @property
    def stretches(self) -> list[tuple[int, int]]:
        """First and last run of each stretch that is drawn anew."""
        found, last = list[tuple[int, int]](), len(self.points) - 2
        for run in np.flatnonzero(self.swings):
            low, high = max(int(run) - BESIDE, 0), min(int(run) + BESIDE, last)
            if found and low <= found[-1][1] + 1:
                low = found.pop()[0]
            found.append((low, high))
        return found


def turning_one_way(sprung: Sprung) -> PPoly:
    """Return a curve drawn anew where it swings; where that cannot be, as it is."""
    if len(sprung.points) < FEWEST or not sprung.swings.any():
        return sprung.drawn
    anew = [one for run in sprung.stretches if (one := _drawn_anew(sprung, run)) is not None]
    return _joined(sprung.drawn, anew) if anew else sprung.drawn


def _last_known(side: Points) -> Points:
    """Return at each point the last side that is known up to there, 0 for none."""
    at = np.maximum.accumulate(np.where(side != 0.0, np.arange(len(side)), -1))
    return np.where(at >= 0, side[at], 0.0)


def _across(one: Points, other: Points) -> Points:
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])


@dataclass(frozen=True, eq=False)
class _Anew:
    """How far out from a chord a curve lies, over its way, and the chord's unit direction."""

    out: BSpline
    along: Points

    @property
    def square(self) -> Points:
        """The unit direction out from the chord."""
        return np.array([-self.along[1], self.along[0]])


def _drawn_anew(sprung: Sprung, stretch: tuple[int, int]) -> _Anew | None:
    """Return a stretch drawn anew; None where nothing turns as it should."""
    low, high = stretch
    ways, points = sprung.drawn.x[low : high + 2], sprung.points[low : high + 2]
    along = (points[-1] - points[0]) / np.hypot(*(points[-1] - points[0]))
    square = np.array([-along[1], along[0]])
    part = np.arange(PIECES) / PIECES
    breaks = np.append((ways[:-1, None] + np.diff(ways)[:, None] * part).ravel(), ways[-1])
    knots = np.concatenate([[breaks[0]] * 3, breaks, [breaks[-1]] * 3])
    basis = BSpline(knots, np.eye(len(knots) - 4), 3)
    scale = float(ways[-1] - ways[0]) / (len(ways) - 1)

    rows = [basis(end, nu=nu) for end, nu in _held_ends(sprung, stretch)]
    held = np.array([sprung.drawn(end, nu=nu) @ square for end, nu in _held_ends(sprung, stretch)])
    at_points, given = basis(ways), points @ square
    wanted = np.concatenate([_bending(basis, breaks, scale), PULL * at_points])
    goal = np.concatenate([np.zeros(len(wanted) - len(given)), PULL * given])
    turning = _turning(sprung, stretch, basis, along) * scale**2
    loose = np.maximum(sprung.loose[low : high + 2], HELD_MM)
    limits = np.concatenate([turning, at_points, -at_points])
    least = np.concatenate([np.full(len(turning), -8 * HELD_MM), given - loose, -given - loose])
    found = _least_squares((wanted, goal), (np.array(rows), held), (limits, least))
    return None if found is None else _Anew(BSpline(knots, found, 3), along)


def _held_ends(sprung: Sprung, stretch: tuple[int, int]) -> list[tuple[float, int]]:
    """Return ways at which a stretch meets the rest, and the derivatives that it has there."""
    low, high = stretch
    ends = (
        (sprung.drawn.x[low], low == 0),
        (sprung.drawn.x[high + 1], high == len(sprung.points) - 2),
    )
    many = [
        1 + directed if is_last else 3
        for (_, is_last), directed in zip(ends, sprung.directed, strict=True)
    ]
    return [
        (float(way), nu) for (way, _), count in zip(ends, many, strict=True) for nu in range(count)
    ]


def _bending(basis: BSpline, breaks: Points, scale: float) -> Points:
    """Return what bends, (rows, basis): its squares add up to the integral of the derivatives'."""
    nodes, weights = np.polynomial.legendre.leggauss(2)
    middle, half = (breaks[:-1] + breaks[1:]) / 2, np.diff(breaks) / 2
    at = (middle[:, None] + half[:, None] * nodes).ravel()
    root = np.sqrt((half[:, None] * weights).ravel())[:, None]
    rows = [
        weight * scale ** (order - 0.5) * root * basis(at, nu=order)
        for order, weight in ((2, 1.0), (3, EVENLY))
    ]
    return np.concatenate(rows)


def _turning(sprung: Sprung, stretch: tuple[int, int], basis: BSpline, along: Points) -> Points:
    """Return by how much it turns to the side that it may, over mm, (rows, basis)."""
    rows = list[Points]()
    for run in range(stretch[0], stretch[1] + 1):
        side = sprung.sides[run]
        if not side:
            continue
        way = np.linspace(sprung.drawn.x[run], sprung.drawn.x[run + 1], PIECES * LOOKED_AT + 1)
        first = sprung.drawn(way, nu=1)
        on, bent = first @ along, sprung.drawn(way, nu=2) @ along
        cross = basis(way, nu=2) * on[:, None] - basis(way, nu=1) * bent[:, None]
        rows.append(side * cross / np.hypot(*first.T)[:, None] ** 3)
    return np.concatenate(rows)


def _least_squares(
    wanted: tuple[Points, Points], held: tuple[Points, Points], limits: tuple[Points, Points]
) -> Points | None:
    """Return c that comes nearest to ``A c = b`` with ``F c = f`` and ``G c >= h``, if any does.

    Parameters
    ----------
    wanted, held, limits
        A and b, F and f, G and h.
    """
    (a, b), (f, value), (g, h) = wanted, held, limits
    start = np.linalg.lstsq(f, value, rcond=None)[0]
    free = np.linalg.svd(f)[2][len(f) :].T
    whole, root = np.linalg.qr(a @ free)
    goal = whole.T @ (b - a @ start)
    inverse = np.linalg.inv(root)
    rows = g @ free @ inverse
    # Steps (23.27) and (23.31): the nearest to nothing under inequalities, by a dual without any.
    dual = np.concatenate([rows.T, [h - g @ start - rows @ goal]])
    unit = np.zeros(len(dual))
    unit[-1] = 1.0
    try:
        left = dual @ nnls(dual, unit)[0] - unit
    except RuntimeError:
        return None
    if abs(left[-1]) < 1e-9:
        return None
    return np.asarray(start + free @ (inverse @ (goal - left[:-1] / left[-1])))


def _joined(drawn: PPoly, anew: list[_Anew]) -> PPoly:
    """Return a curve with stretches drawn anew."""
    breaks = np.unique(np.concatenate([drawn.x, *(one.out.t for one in anew)]))
    begins = breaks[:-1]
    rates = np.array([drawn(begins, nu=nu) / math.factorial(nu) for nu in range(HIGHEST + 1)])
    for one in anew:
        within = (begins >= one.out.t[0]) & (begins < one.out.t[-1])
        out = np.array([one.out(begins[within], nu=nu) / math.factorial(nu) for nu in range(4)])
        on = rates[:, within] @ one.along
        rates[:, within] = on[..., None] * one.along
        rates[:4, within] += out[..., None] * one.square
    return PPoly(rates[::-1], breaks)
