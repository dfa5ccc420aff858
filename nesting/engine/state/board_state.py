"""One board during the search: what lies on it, and where one more part would go.

States never change; adding or taking off a part makes a new one. What was asked of a state is
remembered with it, so that boards left alone by a step of the search cost nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from shapely import affinity

from nesting.engine.geometry.no_fit import Region, joined, legal_spots
from nesting.engine.geometry.turned import Turned
from nesting.engine.state.placement_rules import along_grain, keeps_bung_rules, needs_second_look
from nesting.engine.state.problem import NEARLY, Problem, shared
from nesting.engine.stop import never
from nesting.engine.wood.board_region import cells_of
from nesting.engine.wood.runs import (
    Box,
    Runs,
    free_beside,
    nearly_holds,
    runs_beside,
    runs_of,
    windows,
)
from nesting.need import Holes
from nesting.rules import TOUCH_MM

PROPOSALS = 24
"""Positions looked at, best first, where the sums alone cannot decide."""

Weights = tuple[float, float]

TOWARD_LEFT: Weights = (1.0, 0.02)
"""Fill a board from its left end, lower edge first, so that the offcut is one long piece."""

DRIFTS: tuple[Weights, ...] = (TOWARD_LEFT, (1.0, -0.02), (-1.0, 0.02), (0.05, 1.0))
"""Ways of filling tried in turn by the search: from either end, from either edge."""


@dataclass(frozen=True, eq=False)
class Laid:
    """A turned figure of a need at a position."""

    need: int
    figure: Turned
    x_mm: float
    y_mm: float


@dataclass(eq=False)
class BoardState:
    """What lies on one board, with remembered answers.

    ``spots`` holds what was answered, ``failed`` the needs for which no region leaves a
    position, ``not_at_once`` those for which none does true to the grain: more parts leave none
    either. Answers depend on what lies on the board alone,
    never on what was asked before.
    """

    board: int
    laid: tuple[Laid, ...] = ()
    used_mm2: float = 0.0
    spots: dict[tuple[int, Weights, bool], Laid | None] = field(default_factory=dict)
    failed: set[int] = field(default_factory=set)
    not_at_once: set[int] = field(default_factory=set)
    runs: dict[Holes, Runs] = field(default_factory=dict)

    def with_part(self, laid: Laid) -> BoardState:
        """Return the state with one more part; what failed before fails still."""
        area = laid.figure.shape.area
        return BoardState(
            self.board,
            (*self.laid, laid),
            self.used_mm2 + area,
            failed=set(self.failed),
            not_at_once=set(self.not_at_once),
        )

    def without(self, taken: set[int]) -> BoardState:
        """Return the state without the parts at some indices of ``laid``."""
        left = tuple(laid for i, laid in enumerate(self.laid) if i not in taken)
        return BoardState(self.board, left, sum(laid.figure.shape.area for laid in left))

    def is_free_for(self, laid: Laid, problem: Problem) -> bool:
        """Return whether a part that may lie at a place of the empty board still may."""
        polygon = laid.figure.at(laid.x_mm, laid.y_mm).polygon
        least = problem.rules.part_gap_mm - TOUCH_MM / 2
        return all(
            other.figure.at(other.x_mm, other.y_mm).polygon.distance(polygon) >= least
            for other in self.laid
        )

    def unused_mm2(self, problem: Problem) -> float:
        """Return the board's area less that of what lies on it, mm2."""
        return problem.boards[self.board].area_mm2 - self.used_mm2

    def spot(
        self,
        need: int,
        problem: Problem,
        weights: Weights = TOWARD_LEFT,
        *,
        is_quick: bool = False,
        is_over: Callable[[], bool] = never,
    ) -> Laid | None:
        """Return the best place for one more part, or None.

        ``is_quick``: the first way true to the grain that finds one, which is not the last word.
        ``is_over``: when it says so the best found by then is returned, and not remembered.
        """
        if need in self.failed or (is_quick and need in self.not_at_once):
            return None
        key = (need, weights, is_quick)
        if key in self.spots:
            return self.spots[key]
        found = self._find(need, problem, weights, is_over, is_quick=is_quick)
        if not is_over():
            self.spots[key] = found
        return found

    def _find(
        self,
        need: int,
        problem: Problem,
        weights: Weights,
        is_over: Callable[[], bool],
        *,
        is_quick: bool,
    ) -> Laid | None:
        if self.used_mm2 + problem.needs[need].outline.area_mm2 > self._room(problem):
            self.failed.add(need)
            return None
        was_proposed = False
        for is_leaning in (False, True):
            if is_leaning and (is_quick or not self._may_lean(need, problem)):
                break
            best: tuple[float, Laid] | None = None
            for figure in problem.turnings(need, self.board, is_leaning=is_leaning):
                if problem.is_closed(figure, self.board):
                    continue
                if is_over():
                    return best[1] if best else None
                proposals = self._proposals(need, figure, problem, weights, is_over)
                was_proposed = was_proposed or bool(proposals)
                found = self._first_good(need, figure, problem, proposals)
                best = found if found and (best is None or found[0] < best[0]) else best
                if best is not None and is_quick:
                    break
            if best is not None:
                return best[1]
        if not was_proposed and not is_over():
            (self.not_at_once if is_quick else self.failed).add(need)
        return None

    def best_place(
        self,
        need: int,
        figure: Turned,
        problem: Problem,
        weights: Weights,
        window: Box | None = None,
    ) -> Laid | None:
        """Return the best place of one more part that lies one way, in a window if one is given."""
        limit = problem.limit(figure, self.board)
        if limit is not None and window is not None:
            limit = shared(limit, window)
        if limit is None:
            return None
        count = PROPOSALS if needs_second_look(need, self.board, problem) else 1
        windows = [(0.0, limit)]
        if problem.grounds[self.board].is_crowded:
            windows = self._windows(need, figure, problem, limit, weights)
        spots = self._best_spots(figure, problem, windows, weights, count)
        found = self._first_good(need, figure, problem, spots)
        return found[1] if found else None

    def _may_lean(self, need: int, problem: Problem) -> bool:
        """Return whether a part that finds no room true to the grain nearly does."""
        runs = self._runs(need, problem)
        ways = problem.turnings(need, self.board, is_leaning=False)
        return not ways or any(nearly_holds(runs, problem.looks(way)[1], NEARLY) for way in ways)

    def _runs(self, need: int, problem: Problem) -> Runs:
        """Return the free stretches across the board for parts that tolerate as much."""
        holes = problem.needs[need].holes
        if holes not in self.runs:
            grown = [
                affinity.translate(problem.looks(laid.figure)[0], laid.x_mm, laid.y_mm)
                for laid in self.laid
            ]
            if problem.grounds[self.board].is_crowded:
                self.runs[holes] = runs_beside(problem.lines(self.board, need), grown)
            else:
                low_x, _, high_x, _ = problem.boards[self.board].shape.bounds
                free = free_beside(problem.free(self.board, need), grown)
                self.runs[holes] = runs_of(free, low_x, high_x)
        return self.runs[holes]

    def _room(self, problem: Problem) -> float:
        return problem.boards[self.board].area_mm2 + 1e-3

    def _proposals(
        self,
        need: int,
        figure: Turned,
        problem: Problem,
        weights: Weights,
        is_over: Callable[[], bool],
    ) -> list[tuple[float, float, float]]:
        """Return score, x and y of legal positions, best first; scored by the far corner."""
        limit = problem.limit(figure, self.board)
        if limit is None:
            return []
        count = PROPOSALS if needs_second_look(need, self.board, problem) else 1
        windows = self._windows(need, figure, problem, limit, weights)
        spots = self._best_spots(figure, problem, windows, weights, count, is_over)
        if not self.laid and not is_over():
            problem.learn_room(figure, self.board, is_there=len(spots) > 0)
        offset = weights[0] * figure.box[2] + weights[1] * figure.box[3]
        return [(score + offset, x, y) for score, x, y in spots]

    def _best_spots(
        self,
        figure: Turned,
        problem: Problem,
        windows: Sequence[tuple[float, Box]],
        weights: Weights,
        count: int,
        is_over: Callable[[], bool] = never,
    ) -> list[tuple[float, float, float]]:
        """Return score, x and y of legal positions in windows, which come best first."""
        spots: list[tuple[float, float, float]] = []
        for least, window in windows:
            if (len(spots) == count and least >= spots[-1][0]) or is_over():
                break
            found = legal_spots(self.region(figure, problem, window), window, weights, count)
            spots = sorted([*spots, *((float(s), float(x), float(y)) for s, x, y in found)])[:count]
        return spots

    def _windows(
        self, need: int, figure: Turned, problem: Problem, limit: Box, weights: Weights
    ) -> list[tuple[float, Box]]:
        """Return the boxes in which alone the figure may lie, each with the least score in it."""
        wood, boxes = problem.looks(figure)[1], []
        found = windows(self._runs(need, problem), wood, figure.box[0], limit)
        if problem.grounds[self.board].is_crowded:
            found = [cell for box in found for cell in cells_of(box)]
        for box in found:
            x = box[0] if weights[0] > 0 else box[2]
            y = box[1] if weights[1] > 0 else box[3]
            boxes.append((weights[0] * x + weights[1] * y, box))
        return sorted(boxes)

    def _first_good(
        self,
        need: int,
        figure: Turned,
        problem: Problem,
        proposals: list[tuple[float, float, float]],
    ) -> tuple[float, Laid] | None:
        """Return the first position that keeps the rules which no region holds."""
        is_open = needs_second_look(need, self.board, problem)
        if is_open:
            proposals = along_grain(figure, proposals, problem.boards[self.board])
        for score, x, y in proposals:
            if not is_open or keeps_bung_rules(figure, x, y, self.board, problem):
                return score, Laid(need, figure, x, y)
        return None

    def region(self, figure: Turned, problem: Problem, window: Box) -> Region:
        """Return where a figure may not lie, so far as it matters for a window."""
        gap = problem.rules.part_gap_mm
        low, high = window[0] + figure.box[0] - gap, window[2] + figure.box[2] + gap
        neighbours = [
            problem.between(laid.figure, figure).moved(laid.x_mm, laid.y_mm)
            for laid in self.laid
            if laid.x_mm + laid.figure.box[0] <= high and laid.x_mm + laid.figure.box[2] >= low
        ]
        return joined([problem.grounds[self.board].region(figure, window), *neighbours])
