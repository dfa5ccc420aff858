"""Cuts that stop in the wood: what frees a part that no through cut can.

A saw that stops short, or is let in, cuts a corner out of a piece with two cuts that meet, a bay
with three, a window with four. On the face sawn from a round blade runs further than on the other.
Where there is waste beyond each stop, it runs on into that; else it stops above where the cut ends,
and what it leaves below is for a handsaw.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.break_down.cuts import BreakDownCut, CutKind, sawn_apart
from nesting.break_down.straight_lines import SLACK_MM
from nesting.flat_geometry.overlay import shared
from nesting.offcuts import MITRE_EXCESS
from nesting.rules import TOUCH_MM

WAYS = tuple(
    sides
    for count in (2, 3, 4)
    for sides in np.ndindex(2, 2, 2, 2)
    if sum(sides) == count and sides[0] + sides[1] and sides[2] + sides[3]
)
"""Which sides of a part are cut, in turn left, right, below, above: a corner before a bay before a
window; two sides that face each other are for through cuts."""


Bounds = tuple[float, float, float, float]

LEAST_KERF_MM = 0.01
"""No saw takes less."""


@dataclass(frozen=True)
class Wood:
    """A piece, and all things that no cut may touch, each with the reach kept about it."""

    piece: Polygon
    shapes: Sequence[BaseGeometry]
    reaches: Sequence[float]
    kerf_mm: float
    run_on_mm: float
    by_hand: bool = False

    @property
    def beyond_mm(self) -> float:
        """How far beyond a stop the blade comes on top."""
        return 0.0 if self.by_hand else self.run_on_mm

    @cached_property
    def boxes(self) -> NDArray[np.float64]:
        """Return the bounds of all shapes, n x 4."""
        return shapely.bounds(np.array(self.shapes, dtype=object))

    def near(self, area: Bounds) -> list[int]:
        """Return which shapes may come too near to anything within such bounds, by their own."""
        low = self.boxes[:, :2] - area[2:]
        high = np.asarray(area[:2]) - self.boxes[:, 2:]
        gaps = np.hypot(*np.maximum(0.0, np.maximum(low, high)).T)
        return np.flatnonzero(gaps <= np.maximum(self.reaches, TOUCH_MM)).tolist()


@dataclass(frozen=True)
class _Side:
    """One straight side: across ``axis`` (0: a cross-cut at an x), at a place, from, to, stops."""

    axis: int
    at: float
    low: float
    high: float
    stops: tuple[bool, bool]

    def cut(self, *, by_hand: bool) -> BreakDownCut:
        kind = CutKind.CROSS if self.axis == 0 else CutKind.RIP
        start, end = (self.at, self.low), (self.at, self.high)
        if self.axis:
            start, end = start[::-1], end[::-1]
        return BreakDownCut(kind, start, end, stops=self.stops, by_hand=by_hand)

    def strip(self, half_mm: float, beyond_mm: float, within: Bounds) -> Bounds:
        """Return the kerf, and so much further beyond each stop, or to the bounds within."""
        ends = within[1 - self.axis], within[3 - self.axis]
        low = max(self.low - beyond_mm, ends[0]) if self.stops[0] else ends[0]
        high = min(self.high + beyond_mm, ends[1]) if self.stops[1] else ends[1]
        near, far = self.at - half_mm, self.at + half_mm
        return (near, low, far, high) if self.axis == 0 else (low, near, high, far)


_Laying = Callable[[_Side], "_Side | None"]
"""What lays a side onto a piece, or says that it cannot be cut."""


def stopped_cuts(
    wood: Wood, items: Sequence[int], wanted: Sequence[int]
) -> tuple[BreakDownCut, ...]:
    """Return the fewest stopped cuts that part one thing from the others, none if there are none.

    ``items`` are the things to be freed, by their numbers among the shapes; ``wanted`` those that
    are worth it. A saw that is said to take nothing makes through cuts alone: two of its cuts that
    stop where they meet do not surely part anything.
    """
    if wood.kerf_mm <= LEAST_KERF_MM:
        return ()
    for given in (wood, replace(wood, by_hand=True)):
        laid = cache(partial(_laid, given))
        for sides in WAYS:
            found = [cuts for item in wanted if (cuts := _around(given, item, sides, items, laid))]
            if found:
                return min(found, key=lambda cuts: sum(cut.length_mm for cut in cuts))
    return ()


def _around(
    wood: Wood, item: int, which: Sequence[int], items: Sequence[int], laid: _Laying
) -> tuple[BreakDownCut, ...]:
    """Return cuts on some sides of an item, close to it; none where they would touch anything."""
    # What is kept beside a part begins a hair further from it than the saw needs.
    hair = (MITRE_EXCESS - 1.0) * (wood.kerf_mm + wood.reaches[item])
    close = (_all_laid(_sides(wood, item, which, further), laid) for further in (0.0, hair))
    sides = next(filter(None, close), ())
    if not sides:
        return ()
    cuts = tuple(side.cut(by_hand=wood.by_hand) for side in sides)
    rest = [wood.piece]
    for cut in cuts:
        rest = [left for one in rest for left in sawn_apart(one, cut, wood.kerf_mm)]
    inside = shapely.point_on_surface(wood.shapes[item])
    own = [one for one in rest if one.contains(inside)]
    if len(own) != 1:
        return ()
    held = [i for i in items if own[0].contains(shapely.point_on_surface(wood.shapes[i]))]
    return cuts if len(held) < len(items) else ()


def _all_laid(sides: Iterator[_Side], laid: _Laying) -> tuple[_Side, ...]:
    """Return sides as they are cut; none if any cannot be."""
    found = []
    for side in sides:
        if (one := laid(side)) is None:
            return ()
        found.append(one)
    return tuple(found)


def _laid(wood: Wood, side: _Side) -> _Side | None:
    """Return a side from edge or stop to edge or stop; None where it comes too near to anything."""
    found = _to_edge(wood.piece, side)
    return found if found is not None and _is_clear(wood, found) else None


def _sides(wood: Wood, item: int, which: Sequence[int], further_mm: float) -> Iterator[_Side]:
    """Yield the sides to be cut; one ends where the next begins, or is open."""
    half = wood.kerf_mm / 2
    reach = wood.reaches[item] + further_mm + half
    bounds = wood.shapes[item].bounds
    places = bounds[0] - reach, bounds[2] + reach, bounds[1] - reach, bounds[3] + reach
    for number in range(4):
        if which[number]:
            across = (2, 3) if number < 2 else (0, 1)
            low, high = (
                places[other] + sign * half if which[other] else sign * np.inf
                for other, sign in zip(across, (-1, 1), strict=True)
            )
            stops = bool(which[across[0]]), bool(which[across[1]])
            yield _Side(number // 2, places[number], float(low), float(high), stops)


def _to_edge(piece: Polygon, side: _Side) -> _Side | None:
    """Return a side with its open ends on the piece's edge; None where its stops are not in it."""
    low_x, low_y, high_x, high_y = piece.bounds
    low, high = ((low_y, high_y), (low_x, high_x))[side.axis]
    ends = max(side.low, low - 1.0), min(side.high, high + 1.0)
    points = [(side.at, end) if side.axis == 0 else (end, side.at) for end in ends]
    if ends[0] >= ends[1]:
        return None
    seen = shapely.intersection(LineString(points), piece)
    if not isinstance(seen, LineString) or seen.is_empty:
        return None
    across: NDArray[np.float64] = np.sort(shapely.get_coordinates(seen)[:, 1 - side.axis])
    begin, end = float(across[0]), float(across[-1])
    for given, found, stops in zip(ends, (begin, end), side.stops, strict=True):
        if stops and abs(given - found) > TOUCH_MM:
            return None
    begin, end = side.low if side.stops[0] else begin, side.high if side.stops[1] else end
    return _Side(side.axis, side.at, begin, end, side.stops)


def _is_clear(wood: Wood, side: _Side) -> bool:
    """Return whether a kerf, run on beyond its stops, comes too near to nothing."""
    if wood.by_hand and side.high - side.low <= wood.run_on_mm * sum(side.stops):
        return False  # the blade comes through nowhere
    area = side.strip(wood.kerf_mm / 2, wood.beyond_mm, wood.piece.bounds)
    near = wood.near(area)
    if not near:
        return True
    strip = shared(box(*area), wood.piece)
    things = [wood.shapes[number] for number in near]
    far = shapely.distance(np.array(things, dtype=object), strip)
    if np.any(far < np.asarray(wood.reaches)[near] - SLACK_MM):
        return False
    return all(
        shared(thing, strip).area <= min(thing.length, strip.length) * TOUCH_MM
        for thing, gap in zip(things, far, strict=True)
        if gap <= TOUCH_MM
    )
