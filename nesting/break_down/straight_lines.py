"""Straight lines between things that must not be cut: every way in which one parts them.

A thing is the hull of its points and a *reach* about it; a line passes a connected thing exactly
where it passes its hull. Seen along a direction, things are spans on a line across it, and a cut
fits where no span is for as much as the kerf.

All ways are found: a line that parts two sets of things can be turned, always between them,
until on some pair of them it has no play left. So it is enough to look along the directions in
which a pair begins to be parted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.rules import TOUCH_MM

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

MOST_IN_PAIRS = 60
"""Up to so many things, each pair gives directions; beyond, pairs with an item in them alone, so
that nails by the hundred take no time: a line that two nails alone let through may be missed."""

MOST_PAIRS = 2_000
"""With more pairs than this, those of two items alone."""

AT_A_TIME = 256
"""Directions looked along at a time, so that little memory is needed."""

NUDGE = 1e-9
"""Radians by which a direction is turned past the end of a pair's play, to the side of rounding on
which there is some: a micron in a kilometre."""

SLACK_MM = TOUCH_MM / 2
"""By so much less than a kerf a gap may be wide: a saw that takes nothing still has a line, which
the referee holds a touch wide."""

MANY_CORNERS, COARSE_MM = 200, 0.01
"""A hull with more corners than this is looked at aslant without those that lie no farther off the
others; the reach about it is as much larger, so that no cut comes nearer."""

TURNS = 90
"""Directions tried, in three rounds, for the one in which a cut has most room."""


@dataclass(frozen=True)
class Gap:
    """Room for a cut: the things before it and after it, and from where to where it is free.

    ``low`` and ``high`` are measured across the cut, along ``normal``; ``items`` says how many of
    ``before`` are to be freed: they come first.
    """

    before: Numbers
    after: Numbers
    low: float
    high: float
    normal: tuple[float, float]
    items: int = 0

    @property
    def room_mm(self) -> float:
        """Width of the free strip."""
        return self.high - self.low


@dataclass(frozen=True, eq=False)
class Things:
    """Hulls and reaches of everything that no cut may touch; the first ``items`` are to be freed.

    ``spans`` are low x, low y, high x, high y of each with its reach.
    """

    hulls: tuple[Floats, ...]
    reaches: Floats
    items: int
    turns: dict[tuple[int, int], float | None] = field(default_factory=dict)
    """The first direction in which each pair is parted, once it was asked for."""

    @classmethod
    def of(cls, shapes: Sequence[BaseGeometry], reaches: Sequence[float], items: int) -> Things:
        """Return things of shapes; the first ``items`` of them are to be freed."""
        hulls = shapely.convex_hull(np.array(shapes, dtype=object))
        return cls(
            tuple(shapely.get_coordinates(hull) for hull in hulls),
            np.asarray(reaches, dtype=float),
            items,
        )

    @cached_property
    def spans(self) -> Floats:
        """(n, 4): low x, low y, high x, high y."""
        if not self.hulls:
            return np.zeros((0, 4))
        lows = np.array([hull.min(axis=0) for hull in self.hulls]) - self.reaches[:, None]
        highs = np.array([hull.max(axis=0) for hull in self.hulls]) + self.reaches[:, None]
        return np.hstack([lows, highs])

    @cached_property
    def aslant(self) -> tuple[tuple[Floats, ...], Floats]:
        """Hulls and reaches as lines aslant look at them: without corners that hardly count."""
        coarse = tuple(map(_coarse, self.hulls))
        is_less = [len(c) < len(hull) for c, hull in zip(coarse, self.hulls, strict=True)]
        return coarse, self.reaches + COARSE_MM * np.array(is_less, dtype=float)

    def along(self, normals: Floats, which: Numbers) -> tuple[Floats, Floats]:
        """Return (k, m) lows and highs of m things on (k, 2) directions aslant."""
        hulls, reaches = self.aslant
        points = np.concatenate([hulls[number] for number in which])
        starts = np.cumsum([0, *(len(hulls[number]) for number in which[:-1])])
        at = normals @ points.T
        reach = reaches[which]
        lows = np.minimum.reduceat(at, starts, axis=1) - reach
        highs = np.maximum.reduceat(at, starts, axis=1) + reach
        return lows, highs

    def apart(self, one: int, other: int) -> Floats:
        """Return the corners of the hull of all differences between two things' points.

        The edges of both hulls, the first one's turned about, in the order of their directions.
        """
        hulls, _ = self.aslant
        (start, ways), (begin, back) = _walk(-hulls[one]), _walk(hulls[other])
        edges = np.concatenate([ways, back])
        turns = np.arctan2(edges[:, 1], edges[:, 0]) % (2 * math.pi)
        steps = edges[np.argsort(turns, kind="stable")]
        corners: Floats = (
            start + begin + np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
        )
        return corners


def _coarse(hull: Floats) -> Floats:
    """Return a hull of many corners without those that lie within `COARSE_MM` of the others."""
    if len(hull) <= MANY_CORNERS:
        return hull
    thin = shapely.simplify(shapely.LinearRing(hull), COARSE_MM, preserve_topology=False)
    corners = shapely.get_coordinates(thin)
    return corners if len(corners) > 3 else hull


def _walk(hull: Floats) -> tuple[Floats, Floats]:
    """Return the lowest corner of a hull, of those the leftmost, and its edges anticlockwise."""
    start = hull[np.lexsort((hull[:, 0], hull[:, 1]))[0]]
    ring = hull if np.array_equal(hull[0], hull[-1]) else np.concatenate([hull, hull[:1]])
    edges = np.diff(ring, axis=0)
    area = np.sum(ring[:-1, 0] * ring[1:, 1] - ring[1:, 0] * ring[:-1, 1])
    return start, edges if area >= 0 else -edges


def square_gaps(things: Things, which: Numbers, axis: int, kerf_mm: float) -> list[Gap]:
    """Return the gaps on one axis, 0 along x, that part items; one a way, the widest of it."""
    spans = things.spans[which]
    normal = (1.0, 0.0) if axis == 0 else (0.0, 1.0)
    lows, highs = spans[None, :, axis], spans[None, :, axis + 2]
    return _best_of_each(_gaps(things, which, lows, highs, np.array([normal]), kerf_mm))


def oblique_gaps(things: Things, which: Numbers, kerf_mm: float) -> list[Gap]:
    """Return the gaps in any direction that part items; one a way."""
    normals = _directions(things, which, kerf_mm)
    some = np.array_split(normals, math.ceil(len(normals) / AT_A_TIME)) if len(normals) else []
    return _best_of_each(
        gap
        for normals in some
        for gap in _gaps(things, which, *things.along(normals, which), normals, kerf_mm)
    )


def _best_of_each(gaps: Iterable[Gap]) -> list[Gap]:
    """Return the widest gap for each way of parting items, in the order they are met."""
    best: dict[bytes, Gap] = {}
    for gap in gaps:
        key = gap.before[: gap.items].tobytes()
        if key not in best or gap.room_mm > best[key].room_mm:
            best[key] = gap
    return list(best.values())


def _gaps(
    things: Things, which: Numbers, lows: Floats, highs: Floats, normals: Floats, kerf_mm: float
) -> Iterator[Gap]:
    """Yield every gap of (k, m) spans that has items on both sides."""
    order = np.argsort(lows, axis=1, kind="stable")
    begins = np.take_along_axis(lows, order, axis=1)
    ends = np.maximum.accumulate(np.take_along_axis(highs, order, axis=1), axis=1)
    is_item = which[order] < things.items
    seen = np.cumsum(is_item, axis=1)
    total = seen[:, -1:]
    room = begins[:, 1:] - ends[:, :-1]
    parts = (seen[:, :-1] > 0) & (seen[:, :-1] < total)
    for row, place in np.argwhere((room >= kerf_mm - SLACK_MM) & parts):
        lying = which[order[row]]
        yield Gap(
            np.sort(lying[: place + 1]),
            np.sort(lying[place + 1 :]),
            float(ends[row, place]),
            float(begins[row, place + 1]),
            (float(normals[row, 0]), float(normals[row, 1])),
            int(seen[row, place]),
        )


def _directions(things: Things, which: Numbers, kerf_mm: float) -> Floats:
    """Return (k, 2) directions in which some pair begins to be parted by a kerf."""
    items = which[which < things.items]
    first = which if len(which) <= MOST_IN_PAIRS else items
    second = which if len(first) * len(which) <= max(MOST_PAIRS, MOST_IN_PAIRS**2) else items
    found = list[float]()
    for one in first:
        for other in second[second > one]:
            pair = int(one), int(other)
            if pair not in things.turns:
                things.turns[pair] = _first_turn(things, *pair, kerf_mm)
            turn = things.turns[pair]
            if turn is not None:
                found.append(turn)
    turns = np.unique(np.round(np.asarray(found), 12))
    return np.column_stack([np.cos(turns), np.sin(turns)])


def _first_turn(things: Things, one: int, other: int, kerf_mm: float) -> float | None:
    """Return the first direction, of all in which one lies before the other, None if none does.

    The other less the one lies off the origin by as much as they are apart. A corner of it at
    ``d`` is far enough off along all directions within ``acos(apart / |d|)`` of its own.
    """
    _, reaches = things.aslant
    apart = reaches[one] + reaches[other] + kerf_mm - SLACK_MM
    corners = things.apart(one, other)
    far = np.hypot(corners[:, 0], corners[:, 1])
    if far.min() < apart:
        return None
    middle = corners.mean(axis=0)
    toward = math.atan2(middle[1], middle[0])
    off = np.arctan2(corners[:, 1], corners[:, 0]) - toward
    off = (off + math.pi) % (2 * math.pi) - math.pi
    # A corner on the origin is far enough off along all directions where nothing is to be between.
    shares = np.divide(apart, far, out=np.full_like(far, -1.0), where=far > 0.0)
    play = np.arccos(np.clip(shares, -1.0, 1.0))
    low, high = float((off - play).max()), float((off + play).min())
    if low > high or off.max() - off.min() > math.pi:
        return None
    return toward + min(low + NUDGE, (low + high) / 2)


def roomiest(things: Things, gap: Gap) -> Gap:
    """Return a gap turned so that the cut has most room between the things on either side."""
    first = math.atan2(gap.normal[1], gap.normal[0])
    best, reach = gap, math.pi / 2
    for _ in range(3):
        middle = math.atan2(best.normal[1], best.normal[0])
        turns = middle + np.linspace(-reach, reach, TURNS)
        turns = turns[np.abs(turns - first) < math.pi / 2]
        normals = np.column_stack([np.cos(turns), np.sin(turns)])
        ends = things.along(normals, gap.before)[1].max(axis=1)
        begins = things.along(normals, gap.after)[0].min(axis=1)
        place = int(np.argmax(begins - ends))
        if begins[place] - ends[place] > best.room_mm:
            normal = float(normals[place, 0]), float(normals[place, 1])
            ends_at, begins_at = float(ends[place]), float(begins[place])
            best = replace(best, low=ends_at, high=begins_at, normal=normal)
        reach *= 2.0 / TURNS
    return best
