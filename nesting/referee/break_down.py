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
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.overlay import polygons_of, shared, without
from nesting.nest import Nest
from nesting.referee.fault import Fault
from nesting.referee.near import KeepOutsNear
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.keep_out import KeepOut, KeepOutKind

ENDS_MM = 0.01
"""A cut's stated ends lie on the edge of its piece to this."""

SPLINTER_MM2 = 1.0
"""Less wood than this beside a cut is no piece."""

Place = tuple[float, float]

_Found = Iterator[tuple[str, str]]


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

    @property
    def stops(self) -> tuple[bool, bool]:
        """Of start and end, whether the saw stops there, in the wood."""
        ...

    @property
    def by_hand(self) -> bool:
        """Whether it stops on top, and a handsaw does the rest below."""
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
    metal = KeepOutsNear(
        (one for one in nest.board.keep_outs if one.kind is KeepOutKind.METAL),
        lambda one: one.reach_mm + rules.blade_clearance_mm,
    )
    pieces: list[Polygon] = [nest.board.shape]
    open_cut = 0
    for number, given in enumerate(cuts, start=1):
        cut = _Cut(number, given)
        faults += _check_kind(cut)
        if not cut.line.length > TOUCH_MM:
            faults.append(("break-down cut", f"c{number} has no length"))
            continue
        piece = max(pieces, key=lambda one: float(one.intersection(cut.line).length))
        kerf = _kerf(cut, piece, rules)
        faults += _check_ends(cut, piece)
        faults += _check_apart(cut, [one for one in pieces if one is not piece])
        faults += _check_by_hand(cut, nest, rules)
        sawn = _sawn_into(cut, piece, nest, rules)
        faults += _check_wood(cut, sawn, offcuts, nest, rules)
        faults += _check_metal(cut, sawn, metal.to(sawn), rules)
        if open_cut and (piece is not pieces[-1] or not any(given.stops)):
            faults.append(("break-down cut", f"no cut meets c{open_cut} where it stops"))
        left = [one for one in polygons_of(without(piece, kerf)) if one.area > SPLINTER_MM2]
        open_cut = number if len(left) < 2 and any(given.stops) else 0
        if len(left) < 2 and not open_cut and not _opens_window(piece, left):
            faults.append(("break-down cut", f"c{number} splits off nothing"))
        pieces.remove(piece)
        pieces += left
    if open_cut:
        faults.append(("break-down cut", f"no cut meets c{open_cut} where it stops"))
    faults += _check_stops_met(cuts, rules)
    faults += _check_freed(pieces, offcuts, nest, freed)
    return tuple(Fault(rule, nest.board.name, words) for rule, words in faults)


def _opens_window(piece: Polygon, left: Sequence[Polygon]) -> bool:
    """Return whether a cut ran into a window from which a part was let out, or from one."""
    return sum(len(one.interiors) for one in left) < len(piece.interiors)


def _check_stops_met(cuts: Sequence[Sawn], rules: Rules) -> _Found:
    """Yield each place where a saw stops in the wood, and no other cut's kerf is."""
    lines = [_Cut(number, cut).line for number, cut in enumerate(cuts, start=1)]
    for number, cut in enumerate(cuts, start=1):
        others = [line for line in lines if line is not lines[number - 1]]
        for (x, y), is_stop in zip((cut.start, cut.end), cut.stops, strict=True):
            gap = min((line.distance(Point(x, y)) for line in others), default=math.inf)
            if is_stop and gap > rules.kerf_mm / 2 + TOUCH_MM:
                yield "break-down cut", f"c{number} stops at ({x:.1f}, {y:.1f}) mm, in no other cut"


def _check_kind(cut: _Cut) -> _Found:
    (x, y), (u, v) = cut.given.start, cut.given.end
    is_cross, is_rip = abs(x - u) <= TOUCH_MM, abs(y - v) <= TOUCH_MM
    true = "cross-cut" if is_cross else "rip" if is_rip else "oblique cut"
    if cut.given.kind != true:
        yield "break-down cut", f"c{cut.number} is called {cut.given.kind}, it is a {true}"


BELOW_MM, DEEPEST = 3.0, 0.36
"""So far below the wood a blade is set (common practice, no source), and no deeper than this share
of its diameter (from memory)."""


def _runs_on(thickness_mm: float, blade_mm: float) -> float:
    """Return how much further a round blade cuts on the face sawn from than on the other.

    Without end where the blade does not reach through.
    """
    radius, depth = blade_mm / 2, thickness_mm + BELOW_MM
    if depth > DEEPEST * blade_mm:
        return math.inf
    on_top = math.sqrt(radius**2 - (radius - depth) ** 2)
    below = math.sqrt(radius**2 - (radius - BELOW_MM) ** 2)
    return on_top - below


def _sawn_into(cut: _Cut, piece: Polygon, nest: Nest, rules: Rules) -> BaseGeometry:
    """Return all wood that a blade goes into, also where it stops and runs on above."""
    on = _runs_on(nest.board.thickness_mm, rules.saw_blade_mm)
    return _kerf(cut, piece, rules, 0.0 if cut.given.by_hand else on)


def _check_by_hand(cut: _Cut, nest: Nest, rules: Rules) -> _Found:
    """Yield that a cut whose stops are left to a handsaw is sawn through nowhere."""
    left = _runs_on(nest.board.thickness_mm, rules.saw_blade_mm) * sum(cut.given.stops)
    if cut.given.by_hand and not any(cut.given.stops):
        yield "break-down cut", f"c{cut.number} is finished by hand and stops nowhere"
    elif cut.given.by_hand and cut.line.length <= left:
        said = (
            f"c{cut.number} is {cut.line.length:.1f} mm long, its stops leave {left:.1f} mm below"
        )
        yield "break-down cut", said


def _kerf(cut: _Cut, piece: Polygon, rules: Rules, runs_on_mm: float = 0.0) -> BaseGeometry:
    """Return the wood of a piece that a cut takes: right across it, or up to its stops and on."""
    (x, y), (u, v) = cut.given.start, cut.given.end
    low_x, low_y, high_x, high_y = piece.bounds
    across = (high_x - low_x) + (high_y - low_y) + rules.kerf_mm
    size = math.hypot(u - x, v - y)
    dx, dy = (u - x) / size, (v - y) / size
    before, after = (min(runs_on_mm, across) if stop else across for stop in cut.given.stops)
    line = LineString([(x - dx * before, y - dy * before), (u + dx * after, v + dy * after)])
    # A saw that takes nothing still cuts.
    half = max(rules.kerf_mm, TOUCH_MM) / 2
    met = polygons_of(shared(line.buffer(half, cap_style="flat"), piece))
    # Beyond a gap in the wood there may be more in the same line, which is not sawn with it.
    return MultiPolygon([one for one in met if one.distance(cut.line) <= TOUCH_MM])


def _check_ends(cut: _Cut, piece: Polygon) -> _Found:
    for place, is_stop in zip((cut.given.start, cut.given.end), cut.given.stops, strict=True):
        if is_stop:
            continue
        off = piece.boundary.distance(Point(place))
        if off > ENDS_MM:
            said = f"c{cut.number} ends {off:.4f} mm off the edge of its piece"
            yield "break-down cut from edge to edge", said


def _check_apart(cut: _Cut, others: Sequence[Polygon]) -> _Found:
    """Yield that a line runs on over pieces that are parted from its own already."""
    for other in others:
        over = cut.line.intersection(other.buffer(-TOUCH_MM)).length
        if over > ENDS_MM:
            said = f"c{cut.number} runs {over:.4f} mm over a piece that is parted from its own"
            yield "break-down cut from edge to edge", said


def _check_wood(
    cut: _Cut, kerf: BaseGeometry, offcuts: Sequence[Polygon], nest: Nest, rules: Rules
) -> _Found:
    """Yield what a cut comes too near to: parts with their trim, and what is kept."""
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


def _check_metal(cut: _Cut, kerf: BaseGeometry, metal: Sequence[KeepOut], rules: Rules) -> _Found:
    """Yield each piece of metal that a blade comes too near to."""
    for keep_out in metal:
        gap = float(keep_out.core.distance(kerf)) - keep_out.reach_mm
        if gap < rules.blade_clearance_mm - TOUCH_MM:
            x, y, _ = keep_out.bounding_circle
            yield (
                "break-down cut clear of metal",
                f"c{cut.number} is {gap:.6f} mm from the one at ({x:.1f}, {y:.1f}) mm, "
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
    """Return whether a thing lies in a piece, but for a strip one touch wide.

    Well inside or well outside is sure as corners come, and mostly all that is asked: what one
    leaves of another takes long where both have thousands of corners.
    """
    strip = float(thing.length) * TOUCH_MM
    if shapely.contains_properly(piece, thing):
        return True
    if shapely.disjoint(piece, thing):
        return bool(thing.area <= strip)
    return bool(without(thing, piece).area <= strip)
