"""The referee's look at break-down cuts: each is made again on the board, in its order.

Measured with shapely alone, from the true outlines; nothing of how cuts are found is used, and
nothing of what is said about them is believed: what comes free is counted anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.check import Fault
from nesting.nest import Nest
from nesting.overlay import shared, without
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.keep_out import KeepOutKind

ENDS_MM = 0.01
"""A cut's stated ends lie on the edge of its piece to this."""

SPLINTER_MM2 = 1.0
"""Less wood than this beside a cut is no piece."""

Place = tuple[float, float]


class Sawn(Protocol):
    """One straight cut as it is stated."""

    @property
    def kind(self) -> str:
        """What it is called: ``cross-cut``, ``rip`` or ``oblique cut``."""
        ...

    @property
    def start(self) -> Place:
        """Where the middle of its kerf enters the wood."""
        ...

    @property
    def end(self) -> Place:
        """Where it leaves it."""
        ...


@dataclass(frozen=True)
class _Cut:
    """A cut with its number, and the straight line that it lies on."""

    number: int
    given: Sawn

    @property
    def line(self) -> LineString:
        return LineString([self.given.start, self.given.end])


def check_break_down(
    cuts: Sequence[Sawn],
    offcuts: Sequence[Polygon],
    nest: Nest,
    rules: Rules,
    *,
    freed: int | None = None,
) -> tuple[Fault, ...]:
    """Return every fault of the break-down cuts of one board.

    Parameters
    ----------
    offcuts
        The pieces that are kept of the board.
    freed
        How many parts are said to come free, if it is said.
    """
    faults = list[tuple[str, str]]()
    pieces: list[Polygon] = [nest.board.shape]
    for number, given in enumerate(cuts, start=1):
        cut = _Cut(number, given)
        faults += _check_kind(cut)
        if not cut.line.length > TOUCH_MM:
            faults.append(("break-down cut", f"c{number} has no length"))
            continue
        piece = max(pieces, key=lambda one: float(one.intersection(cut.line).length))
        kerf = _kerf(cut, piece, rules)
        faults += _check_ends(cut, piece)
        faults += _check_wood(cut, kerf, offcuts, nest, rules)
        left = [one for one in _polygons(without(piece, kerf)) if one.area > SPLINTER_MM2]
        if len(left) < 2:
            faults.append(("break-down cut", f"c{number} splits off nothing"))
        pieces.remove(piece)
        pieces += left
    faults += _check_freed(pieces, offcuts, nest, freed)
    return tuple(Fault(rule, nest.board.name, words) for rule, words in faults)


_Found = Iterator[tuple[str, str]]


def _polygons(wood: BaseGeometry) -> list[Polygon]:
    return [one for one in shapely.get_parts(wood) if isinstance(one, Polygon)]


def _check_kind(cut: _Cut) -> _Found:
    (x, y), (u, v) = cut.given.start, cut.given.end
    is_cross, is_rip = abs(x - u) <= TOUCH_MM, abs(y - v) <= TOUCH_MM
    true = "cross-cut" if is_cross else "rip" if is_rip else "oblique cut"
    if cut.given.kind != true:
        yield "break-down cut", f"c{cut.number} is called {cut.given.kind}, it is a {true}"


def _kerf(cut: _Cut, piece: Polygon, rules: Rules) -> BaseGeometry:
    """Return the wood of a piece that a cut takes, run right across it."""
    (x, y), (u, v) = cut.given.start, cut.given.end
    low_x, low_y, high_x, high_y = piece.bounds
    beyond = (high_x - low_x) + (high_y - low_y) + rules.kerf_mm
    size = math.hypot(u - x, v - y)
    dx, dy = (u - x) / size * beyond, (v - y) / size * beyond
    line = LineString([(x - dx, y - dy), (u + dx, v + dy)])
    # A saw that takes nothing still cuts.
    half = max(rules.kerf_mm, TOUCH_MM) / 2
    return shared(line.buffer(half, cap_style="flat"), piece)


def _check_ends(cut: _Cut, piece: Polygon) -> _Found:
    for place in (cut.given.start, cut.given.end):
        off = piece.boundary.distance(Point(place))
        if off > ENDS_MM:
            said = f"c{cut.number} ends {off:.4f} mm off the edge of its piece"
            yield "break-down cut from edge to edge", said


def _check_wood(
    cut: _Cut, kerf: BaseGeometry, offcuts: Sequence[Polygon], nest: Nest, rules: Rules
) -> _Found:
    """Yield what a cut comes too near to: parts with their trim, what is kept, metal."""
    name = f"c{cut.number}"
    for placement in nest.placements:
        polygon = placement.polygon
        gap = float(polygon.distance(kerf))
        if gap < rules.trim_mm - TOUCH_MM or _overlap(polygon, kerf):
            said = f"{name} is {gap:.6f} mm from {placement.label}, {rules.trim_mm:g} mm is needed"
            yield "break-down cut clear of parts", said
    for number, offcut in enumerate(offcuts, start=1):
        if _overlap(offcut, kerf):
            yield "break-down cut clear of offcuts", f"{name} runs into k{number}"
    metal = [k for k in nest.board.keep_outs if k.kind is KeepOutKind.METAL]
    far = shapely.distance([keep_out.core for keep_out in metal], kerf)
    for keep_out, distance in zip(metal, far, strict=True):
        gap = float(distance) - keep_out.reach_mm
        if gap < rules.blade_clearance_mm - TOUCH_MM:
            x, y, _ = keep_out.bounding_circle
            yield (
                "break-down cut clear of metal",
                f"{name} is {gap:.6f} mm from the one at ({x:.1f}, {y:.1f}) mm, "
                f"{rules.blade_clearance_mm:g} mm is needed",
            )


def _overlap(thing: Polygon, kerf: BaseGeometry) -> bool:
    """Return whether a kerf takes more of a thing than a strip one touch wide."""
    return bool(shared(thing, kerf).area > float(kerf.length) * TOUCH_MM)


def _check_freed(
    pieces: Sequence[Polygon], offcuts: Sequence[Polygon], nest: Nest, freed: int | None
) -> _Found:
    things = [*(placement.polygon for placement in nest.placements), *offcuts]
    held = [[n for n, thing in enumerate(things) if _holds(piece, thing)] for piece in pieces]
    if sorted(number for some in held for number in some) != list(range(len(things))):
        yield "break-down cuts", "a part or an offcut is not whole in one piece"
    count = sum(len(some) == 1 and some[0] < len(nest.placements) for some in held)
    if freed is not None and freed != count:
        yield "break-down cuts", f"{freed} parts are said to come free, {count} do"


def _holds(piece: Polygon, thing: Polygon) -> bool:
    """Return whether a thing lies in a piece, but for a strip one touch wide."""
    outside = without(thing, piece).area
    return bool(outside <= float(thing.length) * TOUCH_MM)
