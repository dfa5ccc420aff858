"""What each board could give at the very best, from areas and sizes alone: never too little.

Every rounding goes the same way: free wood is measured a little too large, parts a little too
small. What is ruled out here, no cutting plan can hold.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.stop import unlimited
from nesting.engine.wood.board_region import MANY
from nesting.engine.wood.extents import extents_needed, least_extents
from nesting.engine.wood.runs import free_beside
from nesting.flat_geometry.overlay import polygons_of
from nesting.flat_geometry.thinned import thinned_inward
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut

ARC_STEPS = 16
"""Chords in a quarter of a rounded corner."""

A_KEEP_OUT = 0.00005
"""Seconds that uniting keep-outs on a board takes for each, about, for one tolerance of holes."""

FEW_STEPS = 4
"""The same on crowded boards: fewer chords are sooner united."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class FreeWood:
    """Where parts that tolerate as much may lie on one board.

    Attributes
    ----------
    areas
        (p,) mm2, of each connected piece.
    lengths, widths
        (p,) mm, the pieces' extents along x and y.
    rooms
        (p,) mm2, of the pieces grown by half the gap between parts: parts so grown never
        overlap in them.
    """

    areas: Floats
    lengths: Floats
    widths: Floats
    rooms: Floats


class Possible:
    """For each need and board whether the one may come out of the other, and rooms.

    Attributes
    ----------
    may : (n, b) bool
        Whether a board may give a need; False is proof that it cannot.
    areas : (n,) float
        Area of each outline grown by half the gap between parts, mm2.
    """

    def __init__(
        self,
        needs: Sequence[Need],
        boards: Sequence[Board],
        rules: Rules,
        seconds_left: Callable[[], float] = unlimited,
    ) -> None:
        """Measure the boards' free wood; all of those for which there is no time is free."""
        self.needs, self.boards, self.rules = tuple(needs), tuple(boards), rules
        self.levels = np.array([list(Holes).index(need.holes) for need in needs], np.int64)
        half = (rules.part_gap_mm - TOUCH_MM) / 2
        shapes = [thinned_inward(need.outline.shape) for need in needs]
        grown = [shape.buffer(max(0.0, half), quad_segs=ARC_STEPS) for shape in shapes]
        self.areas = np.array([shape.area for shape in grown])
        self._bare = np.array([need.outline.area_mm2 for need in needs])
        self._extents: dict[float | GrainPath, Floats] = {}
        self._free = [
            [
                free_wood(board, level, rules, needs)
                if _has_time(board, level, needs, seconds_left())
                else _whole_wood(board, rules)
                for level in Holes
            ]
            for board in boards
        ]

    @cached_property
    def may(self) -> NDArray[np.bool_]:
        """Whether each board (column) may give each need (row)."""
        may = np.zeros((len(self.needs), len(self.boards)), np.bool_)
        suited: dict[object, NDArray[np.bool_]] = {}
        for b, board in enumerate(self.boards):
            wood = wood_of_board(board)
            if wood not in suited:
                suited[wood] = self._suiting(board)
            may[:, b] = suited[wood] & self._fitting(b)
        return may

    def _suiting(self, board: Board) -> NDArray[np.bool_]:
        """Return which needs (n,) a board's wood suits, whatever its room."""
        woods = [_wood(need) for need in self.needs]
        misfits = {
            w: need.misfit(board, self.rules) for w, need in zip(woods, self.needs, strict=True)
        }
        return np.array([misfits[wood] is None for wood in woods], np.bool_)

    def room(self, board: int, level: int) -> float:
        """Return the room, mm2, for parts that tolerate no more than a level on a board.

        A piece of free wood in which no part lies that the board may give does not count.
        """
        free = self._free[board][level]
        users = np.flatnonzero(self.may[:, board] & (self.levels <= level))
        is_used = self._fits(board, free, users).any(axis=0)
        return float(free.rooms[is_used].sum())

    def widths(self, board: int) -> list[float]:
        """Return the extents across a board, mm, of all its pieces of free wood, and 0."""
        return [0.0, *(float(wide) for free in self._free[board] for wide in free.widths)]

    def _fitting(self, board: int) -> NDArray[np.bool_]:
        fits = np.zeros(len(self.needs), np.bool_)
        for level, free in enumerate(self._free[board]):
            users = np.flatnonzero(self.levels == level)
            fits[users] = self._fits(board, free, users).any(axis=1)
        return fits

    def _fits(self, board: int, free: FreeWood, users: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return which needs (u) may lie in which pieces (p) of free wood, (u, p)."""
        least = self._least_extents(self.boards[board].grain)[users]
        return np.asarray(
            (self._bare[users, None] <= free.areas * (1 + 1e-9))
            & (least[:, 0, None] <= free.lengths + TOUCH_MM)
            & (least[:, 1, None] <= free.widths + TOUCH_MM)
        )

    def _least_extents(self, grain: GrainPath) -> Floats:
        key = grain.angles_deg[0] if grain.is_straight else grain
        if key not in self._extents:
            rows = [extents_needed(need.outline, grain) for need in self.needs]
            self._extents[key] = np.array(rows).reshape(-1, 2)
        return self._extents[key]


def _wood(need: Need) -> tuple[object, ...]:
    """Return what decides whether a board's wood suits a need, its room apart."""
    own = need.part if need.outline.run_out_limit is not None else ""
    siding = need.outline.siding_mm
    return (need.species, siding, need.moisture_percent, need.heartwood_only, need.not_from, own)


def wood_of_board(board: Board) -> tuple[object, ...]:
    """Return all that decides whether a board's wood suits a need, whatever its room."""
    return (
        board.species, board.thickness_mm, board.grain.is_straight,
        board.member, board.moisture_percent, board.heartwood,
    )  # fmt: skip


def _has_time(board: Board, level: Holes, needs: Sequence[Need], seconds_left: float) -> bool:
    """Return whether free wood is measured: where time is limited, none that nothing goes by."""
    if seconds_left == math.inf:
        return True
    is_wanted = any(need.holes is level for need in needs)
    return is_wanted and seconds_left > A_KEEP_OUT * len(board.keep_outs)


def free_wood(board: Board, level: Holes, rules: Rules, needs: Sequence[Need]) -> FreeWood:
    """Return where parts of a level of tolerance may lie on a board, a little too large."""
    judge = next((need for need in needs if need.holes is level), None)
    pieces = polygons_of(free_region(board, judge, rules))
    return _free_wood(pieces, rules, is_quick=len(board.keep_outs) > MANY)


def _whole_wood(board: Board, rules: Rules) -> FreeWood:
    """Return all of a board as if nothing were in the way."""
    return _free_wood([board.shape], rules, is_quick=True)


def _free_wood(pieces: Sequence[Polygon], rules: Rules, *, is_quick: bool) -> FreeWood:
    grow = max(0.0, rules.part_gap_mm / 2) / math.cos(math.pi / 4 / ARC_STEPS)
    boxes = np.array([piece.bounds for piece in pieces]).reshape(-1, 4)
    areas = np.array([piece.area for piece in pieces])
    if is_quick:
        # Never less: a strip so wide along all edges, and a circle for the corners (Sz.-Nagy
        # 1959, Ueber Parallelmengen nichtkonvexer ebener Bereiche; from memory).
        lengths = np.array([piece.length for piece in pieces])
        rooms = areas + grow * lengths + math.pi * grow * grow
    else:
        rooms = np.array([piece.buffer(grow, quad_segs=ARC_STEPS).area for piece in pieces])
    return FreeWood(areas, boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1], rooms)


def free_region(board: Board, need: Need | None, rules: Rules) -> BaseGeometry:
    """Return where parts that tolerate as much as a need may lie, a little too large."""
    free = board.shape.buffer(TOUCH_MM - rules.trim_mm, quad_segs=ARC_STEPS)
    steps = ARC_STEPS if len(board.keep_outs) <= MANY else FEW_STEPS
    keep_outs = [] if need is None else list(in_way(board, need, rules))
    if not keep_outs:
        return free
    reaches = [_reach(keep_out, rules) for keep_out in keep_outs]
    taken = shapely.buffer([keep_out.core for keep_out in keep_outs], reaches, quad_segs=steps)
    return free_beside(free, list(taken))


def in_way(board: Board, need: Need, rules: Rules) -> Iterator[KeepOut]:
    """Yield the keep-outs that a part may neither touch nor hold."""
    for keep_out in board.keep_outs:
        if not need.ignores(keep_out, rules) and not need.may_plug(keep_out, rules):
            yield keep_out


def taken_by(keep_out: KeepOut, rules: Rules) -> BaseGeometry:
    """Return what a keep-out takes with its clearance; chords cut its corners, inside."""
    return keep_out.core.buffer(_reach(keep_out, rules), quad_segs=ARC_STEPS)


def _reach(keep_out: KeepOut, rules: Rules) -> float:
    return max(0.0, keep_out.reach_mm + rules.kept_off_mm(keep_out) - TOUCH_MM)


def least_strip_length(
    outlines: Sequence[tuple[Outline, int]], width_mm: float, gap_mm: float
) -> float:
    """Return a length, mm, that no layout on a strip of clear wood beats, grain along it.

    The longest part sets it, or the area: outlines grown by half the gap do not overlap, and
    lie on the strip grown likewise, its corners rounded.

    Parameters
    ----------
    outlines
        Each with how many are wanted.
    """
    half = gap_mm / 2
    grown = sum(
        count * outline.shape.buffer(half, quad_segs=ARC_STEPS).area for outline, count in outlines
    )
    by_area = (grown + (4 - math.pi) * half * half) / (width_mm + gap_mm) - gap_mm
    return max(by_area, *(least_extents(outline, 0.0)[0] for outline, _ in outlines))
