"""Cuts that stop in the wood: what frees a part that no through cut can.

A saw that stops short, or is let in, cuts a corner out of a piece with two cuts that meet, a bay
with three, a window with four. On the face sawn from a round blade runs further than on the other.
Where there is waste beyond each stop, it runs on into that; else it stops above where the cut ends,
and what it leaves below is for a handsaw.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.break_down_cuts import BreakDownCut, CutKind, kerf_of
from nesting.offcuts import MITRE_EXCESS
from nesting.overlay import shared, without
from nesting.rules import TOUCH_MM

WAYS = tuple(
    sides
    for count in (2, 3, 4)
    for sides in np.ndindex(2, 2, 2, 2)
    if sum(sides) == count and sides[0] + sides[1] and sides[2] + sides[3]
)
"""Which sides of a part are cut, in turn left, right, below, above: a corner before a bay before a
window; two sides that face each other are for through cuts."""


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

    def strip(self, half_mm: float, beyond: tuple[float, float]) -> Polygon:
        """Return the kerf, and so much further at each end."""
        low, high = self.low - beyond[0], self.high + beyond[1]
        near, far = self.at - half_mm, self.at + half_mm
        return box(near, low, far, high) if self.axis == 0 else box(low, near, high, far)


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
        for sides in WAYS:
            found = [cuts for item in wanted if (cuts := _around(given, item, sides, items))]
            if found:
                return min(found, key=lambda cuts: sum(cut.length_mm for cut in cuts))
    return ()


def _around(
    wood: Wood, item: int, which: Sequence[int], items: Sequence[int]
) -> tuple[BreakDownCut, ...]:
    """Return cuts on some sides of an item, close to it; none where they would touch anything."""
    # What is kept beside a part begins a hair further from it than the saw needs.
    hair = (MITRE_EXCESS - 1.0) * (wood.kerf_mm + wood.reaches[item])
    close = (_clear_sides(wood, item, which, further) for further in (0.0, hair))
    sides = next(filter(None, close), ())
    if not sides:
        return ()
    cuts = tuple(side.cut(by_hand=wood.by_hand) for side in sides)
    rest: BaseGeometry = wood.piece
    for cut in cuts:
        rest = without(rest, kerf_of(wood.piece, cut, wood.kerf_mm))
    inside = shapely.point_on_surface(wood.shapes[item])
    own = [one for one in shapely.get_parts(rest) if one.contains(inside)]
    if len(own) != 1:
        return ()
    held = [i for i in items if own[0].contains(shapely.point_on_surface(wood.shapes[i]))]
    return cuts if len(held) < len(items) else ()


def _clear_sides(
    wood: Wood, item: int, which: Sequence[int], further_mm: float
) -> tuple[_Side, ...]:
    """Return the sides to be cut, so much further off; none if any comes too near to anything."""
    sides = [_to_edge(wood.piece, side) for side in _sides(wood, item, which, further_mm)]
    found = tuple(side for side in sides if side is not None and _is_clear(wood, side))
    return found if len(found) == len(sides) else ()


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
    size = sum(np.ptp(np.reshape(wood.piece.bounds, (2, 2)), axis=0))
    low, high = (wood.beyond_mm if stops else float(size) for stops in side.stops)
    strip = shared(side.strip(wood.kerf_mm / 2, (low, high)), wood.piece)
    far = shapely.distance(np.array(wood.shapes, dtype=object), strip)
    if np.any(far < np.asarray(wood.reaches) - TOUCH_MM):
        return False
    near = np.flatnonzero(far <= TOUCH_MM).tolist()
    return all(
        shared(thing, strip).area <= min(thing.length, strip.length) * TOUCH_MM
        for thing in (wood.shapes[number] for number in near)
    )
