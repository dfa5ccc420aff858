"""What the search works on: needs, boards, and the no-fit data between them, made when asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from nesting.engine.ground import Ground, LocalRegions
from nesting.engine.no_fit import Region, between
from nesting.engine.turned import Turned, angles, figure_key, search_pieces, turned
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board


@dataclass(frozen=True)
class Turnings:
    """The ways a need may lie on a board: true to the grain first, then leaning within limits."""

    true: tuple[Turned, ...]
    leaning: tuple[Turned, ...]


class Problem:
    """Needs and boards of one project, with every region computed at most once."""

    def __init__(self, needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> None:
        self.needs = tuple(needs)
        self.boards = tuple(boards)
        self.rules = rules
        local = LocalRegions(rules)
        self.grounds = tuple(Ground(board, rules, local) for board in boards)
        self._pieces = [search_pieces(need.outline) for need in needs]
        self._figures: dict[tuple[int, float, bool], Turned] = {}
        self._turnings: dict[tuple[int, object], Turnings] = {}
        self._between: dict[tuple[int, int], Region] = {}

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
        ways = self.turnings(need, board)
        ground = self.grounds[board]
        return any(ground.limit(way) is not None for way in (*ways.true, *ways.leaning))

    def turnings(self, need: int, board: int) -> Turnings:
        """Return the ways a need may lie on a board; like figures are listed once."""
        ground = self.boards[board]
        key = (need, (ground.grain, ground.shape if len(ground.shape.exterior.coords) > 5 else 0))
        if key not in self._turnings:
            self._turnings[key] = self._list_turnings(need, board)
        return self._turnings[key]

    def _list_turnings(self, need: int, board: int) -> Turnings:
        seen: set[object] = set()
        ways: dict[bool, list[Turned]] = {True: [], False: []}
        outline = self.needs[need].outline
        for angle, is_over, is_true in angles(outline, self.boards[board]):
            way = self._figure(need, round(angle, 6) % 360.0, is_over)
            zones = tuple(
                figure_key(way.placed_zone(zone.region)) for zone in outline.bearing_zones
            )
            sign = (figure_key(way.shape), zones)
            if sign not in seen:
                seen.add(sign)
                ways[is_true].append(way)
        return Turnings(tuple(ways[True]), tuple(ways[False]))

    def _figure(self, need: int, angle_deg: float, is_over: bool) -> Turned:
        key = (need, angle_deg, is_over)
        if key not in self._figures:
            self._figures[key] = turned(
                len(self._figures), self.needs[need], self._pieces[need], angle_deg, is_over
            )
        return self._figures[key]

    def between(self, fixed: Turned, moving: Turned) -> Region:
        """Return where ``moving`` may not lie because ``fixed`` lies at the origin."""
        key = (fixed.number, moving.number)
        if key not in self._between:
            self._between[key] = between(fixed, moving, self.rules.part_gap_mm)
        return self._between[key]
