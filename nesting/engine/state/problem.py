"""What the search works on: needs, boards, and the no-fit data between them, made when asked."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.engine.geometry.memory_budget import Store
from nesting.engine.geometry.no_fit import Region, between
from nesting.engine.geometry.turned import Turned, angles, search_pieces, turned
from nesting.engine.state.steered import Steered
from nesting.engine.wood.berths import Berths, GrownWood
from nesting.engine.wood.board_region import ROUNDING_MM, Ground, LocalRegions
from nesting.engine.wood.crossing_lines import free_lines
from nesting.engine.wood.extents import extents_needed, slantwise
from nesting.engine.wood.room_bounds import free_region, wood_of_board
from nesting.engine.wood.runs import Box, Floats, Ints, Runs, wood_of
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board

GROUND_BYTES = 160_000_000
"""Regions of figures on boards that are kept, in each process."""

PAIR_BYTES = 100_000_000
"""Regions between two figures that are kept, in each process."""

NEARLY = 0.9
"""Share of a figure's heights, its ends apart, that must find free stretches if it is to be
tried leaning from the grain: leaning changes heights by less."""


def shared(one: Box, other: Box) -> Box | None:
    """Return what two boxes share, or None."""
    low_x, low_y = max(one[0], other[0]), max(one[1], other[1])
    high_x, high_y = min(one[2], other[2]), min(one[3], other[3])
    return (low_x, low_y, high_x, high_y) if low_x <= high_x and low_y <= high_y else None


class Problem:
    """Needs and boards of one project, with every region computed at most once."""

    def __init__(
        self,
        needs: Sequence[Need],
        boards: Sequence[Board],
        rules: Rules,
        steered: Steered | None = None,
    ) -> None:
        self.needs = tuple(needs)
        self.boards = tuple(boards)
        self.rules = rules
        self.steered = steered
        local = LocalRegions(rules)
        grounds: Store[Region] = Store(GROUND_BYTES)
        self.grounds = tuple(Ground(board, rules, local, grounds) for board in boards)
        self.pieces = [search_pieces(need.outline) for need in needs]
        self._figures: dict[tuple[int, float, bool], Turned] = {}
        self._turnings: dict[object, tuple[Turned, ...]] = {}
        self._open: dict[tuple[int, int], bool] = {}
        self._free: dict[tuple[int, Holes], BaseGeometry] = {}
        self._lines: dict[tuple[int, Holes], Runs] = {}
        self._looks: dict[int, tuple[BaseGeometry, Floats]] = {}
        self._between: Store[Region] = Store(PAIR_BYTES)
        self._least: dict[tuple[int, float | GrainPath], tuple[float, float]] = {}
        self._numbers = {id(need): n for n, need in enumerate(self.needs)}
        self._grown: dict[tuple[bytes, GrainPath], GrownWood] = {}
        self._berths: dict[tuple[int, tuple[bytes, GrainPath]], list[Berths]] = {}
        self._limits: dict[tuple[int, int], Box | None] = {}

    def steered_by(self, steered: Steered) -> Problem:
        """Return the same problem with other wishes; all that is known of its figures is shared."""
        self.suited_arrays  # noqa: B018 -- found once, for every one of them
        other = copy(self)
        other.steered = steered
        for name in ("suits", "suit_sets", "suits_arrays", "dearness"):
            other.__dict__.pop(name, None)
        return other

    @cached_property
    def suits(self) -> tuple[tuple[int, ...], ...]:
        """For each need, the boards whose wood and box can give it."""
        return tuple(tuple(boards.tolist()) for boards in self.suits_arrays)

    @cached_property
    def suit_sets(self) -> tuple[frozenset[int], ...]:
        """The same as sets."""
        return tuple(map(frozenset, self.suits))

    @cached_property
    def suits_arrays(self) -> tuple[Ints, ...]:
        """The same as arrays."""
        if self.steered is None:
            return self.suited_arrays
        barred = self.steered.barred
        suited = enumerate(self.suited_arrays)
        return tuple(own[~np.isin(own, list(barred[n]))] for n, own in suited)

    @cached_property
    def suited_arrays(self) -> tuple[Ints, ...]:
        """The same were there no wishes."""
        woods, unlike = [wood_of_board(board) for board in self.boards], self.unlike
        numbers = {wood: number for number, wood in enumerate(unlike)}
        of = np.array([numbers[wood] for wood in woods], np.int64)
        found = []
        for n, need in enumerate(self.needs):
            suited = [need.misfit(board, self.rules) is None for board in unlike.values()]
            found.append(self._boxed(n, np.flatnonzero(np.array(suited, np.bool_)[of])))
        return tuple(found)

    def parts_beyond(self) -> frozenset[str]:
        """Return the parts that no board can give, by its wood and box, whatever is wished."""
        held = {
            need.part
            for need, boards in zip(self.needs, self.suited_arrays, strict=True)
            if len(boards)
        }
        return frozenset(need.part for need in self.needs) - held

    def opening_mm2(self, board: int) -> float:
        """Return what opening a board takes: its area, unless something is wished of it."""
        if self.steered is None:
            return self.boards[board].area_mm2
        return self.steered.opening_mm2[board]

    @cached_property
    def unlike(self) -> dict[tuple[object, ...], Board]:
        """One board of each wood that there is, by all that decides whether it suits a need."""
        return {wood_of_board(board): board for board in self.boards}

    @cached_property
    def thicknesses(self) -> Floats:
        """Of each board, mm."""
        return np.array([board.thickness_mm for board in self.boards])

    @cached_property
    def outline_areas(self) -> Floats:
        """Of each need, mm2."""
        return np.array([need.outline.area_mm2 for need in self.needs])

    @cached_property
    def dearness(self) -> float:
        """Area, mm2, that a unit of value stands for: so much that value always comes first."""
        least = min((need.worth for need in self.needs if need.worth > 0), default=1.0)
        wished = 0.0 if self.steered is None else self.steered.most_mm2
        return 2 * (sum(board.area_mm2 for board in self.boards) + wished) / least

    def fits_box(self, need: int, board: int) -> bool:
        """Return whether a need's box lies within a board's at an allowed turning."""
        return len(self._boxed(need, np.array([board]))) > 0

    def _boxed(self, need: int, boards: Ints) -> Ints:
        """Return those of some boards within whose box a need's lies at an allowed turning."""
        found: list[int] = []
        numbers, first = np.unique(self._grain_of[boards], return_index=True)
        for number in numbers[np.argsort(first)].tolist():
            own = boards[self._grain_of[boards] == number]
            grain = self.boards[own[0]].grain
            own = own[self._may_fit_box(need, own)]
            if not grain.is_straight:
                found += [board for board in own.tolist() if self._may_lie_on(need, board)]
                continue
            if not len(own):
                continue
            ways = self.turnings(need, int(own[0]), is_leaning=False)
            has_room = self._holds_box(own, ways)
            found += own[has_room].tolist()
            for board in own[~has_room]:
                ways = self.turnings(need, int(board), is_leaning=True)
                if self._holds_box(np.array([board]), ways)[0]:
                    found.append(int(board))
        return np.array(sorted(found), np.int64)

    def _may_lie_on(self, need: int, board: int) -> bool:
        """Return whether a need may be true to a board's grown grain, within its box."""
        return any(
            self.limit(way, board) is not None
            for is_leaning in (False, True)
            for way in self.turnings(need, board, is_leaning=is_leaning)
        )

    def _holds_box(self, boards: Ints, ways: Sequence[Turned]) -> NDArray[np.bool_]:
        """Return within the boxes of which boards (b,) some figure's box lies, trim and all."""
        low, high = self._boxes[boards, None, :2], self._boxes[boards, None, 2:]
        boxes, trim = np.array([way.box for way in ways]).reshape(-1, 4), self.rules.trim_mm
        lowest, highest = low + trim - boxes[:, :2], high - trim - boxes[:, 2:]
        return np.asarray((lowest <= highest + ROUNDING_MM).all(axis=2).any(axis=1))

    @cached_property
    def _boxes(self) -> Floats:
        return np.array([board.shape.bounds for board in self.boards]).reshape(-1, 4)

    @cached_property
    def _grains(self) -> dict[GrainPath, int]:
        grains = dict.fromkeys(board.grain for board in self.boards)
        return {grain: number for number, grain in enumerate(grains)}

    @cached_property
    def _grain_of(self) -> Ints:
        """The number of each board's grain."""
        return np.array([self._grains[board.grain] for board in self.boards], np.int64)

    def _may_fit_box(self, need: int, boards: Ints) -> NDArray[np.bool_]:
        """Return False where no turning is within a board (b,), without making any figure.

        All of them have the same grain; there is one at least.
        """
        wood, trim = self.boards[boards[0]], self.rules.trim_mm
        key = (need, wood.grain.angles_deg[0] if wood.grain.is_straight else wood.grain)
        if key not in self._least:
            self._least[key] = extents_needed(self.needs[need].outline, wood.grain)
        free = 2 * TOUCH_MM - 2 * trim
        room = self._boxes[boards, 2:] - self._boxes[boards, :2] + free
        return np.asarray((np.array(self._least[key]) <= room).all(axis=1))

    def turnings(self, need: int, board: int, *, is_leaning: bool) -> tuple[Turned, ...]:
        """Return the ways a need may lie on a board, each figure once.

        Those true to the grain, or those that lean from it within the limit on its slope.
        """
        wood = self.boards[board]
        is_straight = wood.grain.is_straight
        shape = wood.shape if is_leaning or not is_straight else None
        key = (need, is_leaning, wood.grain, shape)
        if key not in self._turnings:
            ways = angles(self.needs[need].outline, wood, is_leaning=is_leaning)
            figures = [
                self.figure(need, round(angle, 6) % 360.0, is_over=over)
                for angle, over in ways
                if is_straight or self._places(need, board, angle, over) is not None
            ]
            if is_leaning and is_straight:
                figures += self._slantwise(need, board, figures)
            self._turnings[key] = tuple({figure.sign: figure for figure in figures[::-1]}.values())
        return self._turnings[key]

    def _slantwise(self, need: int, board: int, leaning: Sequence[Turned]) -> list[Turned]:
        """Return the ways in which a need lies within a board's box where no other does."""
        wood, trim = self.boards[board], self.rules.trim_mm
        others = (*self.turnings(need, board, is_leaning=False), *leaning)
        if not self._may_fit_box(need, np.array([board]))[0] or self._in_box(others, board):
            return []
        room = wood.length_mm - 2 * trim, wood.width_mm - 2 * trim
        ways = slantwise(self.needs[need].outline, wood, room)
        return self._in_box([self.figure(need, a % 360.0, is_over=o) for a, o in ways], board)

    def _in_box(self, ways: Sequence[Turned], board: int) -> list[Turned]:
        """Return the ways whose box lies within a board's."""
        return [way for way in ways if self.grounds[board].limit(way) is not None]

    def limit(self, figure: Turned, board: int) -> Box | None:
        """Return the box of positions on a board that a figure's box and its grain allow."""
        key = (figure.number, board)
        if key not in self._limits:
            limit = self.grounds[board].limit(figure)
            if limit is not None and not self.boards[board].grain.is_straight:
                need = self._numbers[id(figure.need)]
                places = self._places(need, board, figure.angle_deg, figure.is_turned_over)
                limit = None if places is None else shared(limit, places)
            self._limits[key] = limit
        return self._limits[key]

    def _places(self, need: int, board: int, angle_deg: float, is_over: bool) -> Box | None:
        """Return the box of positions at which a need is true to grown grain, at one angle."""
        wood = self.boards[board]
        kind = (wood.shape.wkb, wood.grain)
        if kind not in self._grown:
            self._grown[kind] = GrownWood(wood.shape, wood.grain)
        key = (need, kind)
        if key not in self._berths:
            outline = self.needs[need].outline
            self._berths[key] = self._grown[kind].berths(outline, wood.shape, halvings=1)
        return self._berths[key][int(is_over)].box_of_places(angle_deg)

    def open_turnings(self, need: int, board: int, *, is_leaning: bool) -> tuple[Turned, ...]:
        """Return the turnings that leave a legal position on the board while it is empty.

        Rules that no region holds are not looked at; others never open again.
        """
        ways = self.turnings(need, board, is_leaning=is_leaning)
        return tuple(way for way in ways if self.has_room(way, board))

    def has_room(self, figure: Turned, board: int) -> bool:
        """Return whether a figure has a legal position on the board while it is empty."""
        key = (figure.number, board)
        if key not in self._open:
            self._open[key] = self.grounds[board].has_room(figure)
        return self._open[key]

    def is_closed(self, figure: Turned, board: int) -> bool:
        """Return whether a figure is known to have no legal position on the empty board."""
        return not self._open.get((figure.number, board), True)

    def learn_room(self, figure: Turned, board: int, *, is_there: bool) -> None:
        """Keep whether a figure has a legal position on the empty board."""
        self._open[figure.number, board] = is_there

    def free(self, board: int, need: int) -> BaseGeometry:
        """Return where parts that tolerate as much as a need may lie on an empty board."""
        key = (board, self.needs[need].holes)
        if key not in self._free:
            self._free[key] = free_region(self.boards[board], self.needs[need], self.rules)
        return self._free[key]

    def lines(self, board: int, need: int) -> Runs:
        """Return the free stretches on the lines of an empty board that is crowded."""
        key = (board, self.needs[need].holes)
        if key not in self._lines:
            self._lines[key] = free_lines(self.boards[board], self.needs[need], self.rules)
        return self._lines[key]

    def looks(self, figure: Turned) -> tuple[BaseGeometry, Floats]:
        """Return a figure grown by the gap to its neighbours, and its wood step by step."""
        if figure.number not in self._looks:
            grown = figure.inner.buffer(max(0.0, self.rules.part_gap_mm - TOUCH_MM))
            self._looks[figure.number] = (grown, wood_of(figure.inner))
        return self._looks[figure.number]

    def figure(self, need: int, angle_deg: float, *, is_over: bool) -> Turned:
        """Return a need's outline at an angle, one face up; the same figure for the same angle."""
        key = (need, angle_deg, is_over)
        if key not in self._figures:
            number = len(self._figures)
            shape = turned(number, self.needs[need], self.pieces[need], angle_deg, is_over)
            self._figures[key] = shape
        return self._figures[key]

    def between(self, fixed: Turned, moving: Turned) -> Region:
        """Return where ``moving`` may not lie because ``fixed`` lies at the origin."""
        return self._between.get(
            (fixed.number, moving.number), lambda: between(fixed, moving, self.rules.part_gap_mm)
        )
