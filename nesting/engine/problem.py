"""What the search works on: needs, boards, and the no-fit data between them, made when asked."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from shapely.geometry.base import BaseGeometry

from nesting.engine.extents import least_extents
from nesting.engine.ground import Ground, LocalRegions
from nesting.engine.no_fit import Region, between
from nesting.engine.lines import free_lines
from nesting.engine.possible import free_region
from nesting.engine.runs import Floats, Runs, wood_of
from nesting.engine.store import Store
from nesting.engine.turned import Turned, angles, search_pieces, turned
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


class Problem:
    """Needs and boards of one project, with every region computed at most once."""

    def __init__(self, needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> None:
        self.needs = tuple(needs)
        self.boards = tuple(boards)
        self.rules = rules
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
        self._least: dict[tuple[int, float | None], tuple[float, float]] = {}

    @cached_property
    def suits(self) -> tuple[tuple[int, ...], ...]:
        """For each need, the boards whose wood and box can give it."""
        return tuple(
            tuple(
                b
                for b, board in enumerate(self.boards)
                if need.misfit(board, self.rules) is None and self.fits_box(n, b)
            )
            for n, need in enumerate(self.needs)
        )

    @cached_property
    def dearness(self) -> float:
        """Area, mm2, that a unit of value stands for: so much that value always comes first."""
        least = min((need.worth for need in self.needs if need.worth > 0), default=1.0)
        return 2 * sum(board.area_mm2 for board in self.boards) / least

    def fits_box(self, need: int, board: int) -> bool:
        """Return whether a need's box lies within a board's at an allowed turning."""
        if not self._may_fit_box(need, board):
            return False
        ground = self.grounds[board]
        return any(
            ground.limit(way) is not None
            for is_leaning in (False, True)
            for way in self.turnings(need, board, is_leaning=is_leaning)
        )

    def _may_fit_box(self, need: int, board: int) -> bool:
        """Return False where no turning is within the board, without making any figure."""
        wood, trim = self.boards[board], self.rules.trim_mm
        grain = wood.grain.angles_deg[0] if wood.grain.is_straight else None
        key = (need, grain)
        if key not in self._least:
            self._least[key] = least_extents(self.needs[need].outline, grain)
        long, wide = self._least[key]
        free = 2 * TOUCH_MM - 2 * trim
        return long <= wood.length_mm + free and wide <= wood.width_mm + free

    def turnings(self, need: int, board: int, *, is_leaning: bool) -> tuple[Turned, ...]:
        """Return the ways a need may lie on a board, each figure once.

        Those true to the grain, or those that lean from it within the limit on its slope.
        """
        wood = self.boards[board]
        key = (need, is_leaning, wood.grain, wood.shape if is_leaning else None)
        if key not in self._turnings:
            ways = angles(self.needs[need].outline, wood, is_leaning=is_leaning)
            figures = [
                self.figure(need, round(angle, 6) % 360.0, is_over=over) for angle, over in ways
            ]
            self._turnings[key] = tuple({figure.sign: figure for figure in figures[::-1]}.values())
        return self._turnings[key]

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
            grown = figure.shape.buffer(max(0.0, self.rules.part_gap_mm - TOUCH_MM))
            self._looks[figure.number] = (grown, wood_of(figure.shape))
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
