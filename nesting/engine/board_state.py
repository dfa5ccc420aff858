"""One board during the search: what lies on it, and where one more part would go.

States never change; adding or taking off a part makes a new one. What was asked of a state is
remembered with it, so that boards left alone by a step of the search cost nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from nesting.engine.accept import is_acceptable, needs_second_look
from nesting.engine.kernels_numba import lowest_spots
from nesting.engine.no_fit import Region, joined
from nesting.engine.problem import Problem
from nesting.engine.turned import Turned

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
    """What lies on one board, with remembered answers."""

    board: int
    laid: tuple[Laid, ...] = ()
    used_mm2: float = 0.0
    spots: dict[tuple[int, Weights], Laid] = field(default_factory=dict)
    failed: set[int] = field(default_factory=set)

    def with_part(self, laid: Laid) -> BoardState:
        """Return the state with one more part; what failed before fails still."""
        area = laid.figure.shape.area
        return BoardState(
            self.board, (*self.laid, laid), self.used_mm2 + area, failed=set(self.failed)
        )

    def without(self, taken: set[int]) -> BoardState:
        """Return the state without the parts at some indices of ``laid``."""
        left = tuple(laid for i, laid in enumerate(self.laid) if i not in taken)
        return BoardState(self.board, left, sum(laid.figure.shape.area for laid in left))

    def spot(self, need: int, problem: Problem, weights: Weights = TOWARD_LEFT) -> Laid | None:
        """Return the best place for one more part, or None."""
        if need in self.failed:
            return None
        key = (need, weights)
        if key not in self.spots:
            found = self._find(need, problem, weights)
            if found is None:
                self.failed.add(need)
                return None
            self.spots[key] = found
        return self.spots[key]

    def _find(self, need: int, problem: Problem, weights: Weights) -> Laid | None:
        if self.used_mm2 + problem.needs[need].outline.area_mm2 > self._room(problem):
            return None
        for is_leaning in (False, True):
            figures = problem.open_turnings(need, self.board, is_leaning=is_leaning)
            found = [self._lowest(need, figure, problem, weights) for figure in figures]
            best = min((spot for spot in found if spot is not None), default=None, key=_score)
            if best is not None:
                return best[1]
        return None

    def _room(self, problem: Problem) -> float:
        return problem.boards[self.board].area_mm2 + 1e-3

    def _lowest(
        self, need: int, figure: Turned, problem: Problem, weights: Weights
    ) -> tuple[float, Laid] | None:
        """Return the best position of one figure, scored by where its far corner comes."""
        limit = problem.grounds[self.board].limit(figure)
        if limit is None:
            return None
        region = self._region(figure, problem)
        is_open = needs_second_look(figure, self.board, problem)
        spots = np.full((PROPOSALS if is_open else 1, 3), np.inf)
        lowest_spots(
            region.edges, region.first, region.boxes, region.segments,
            np.array(limit), np.array(weights), spots,
        )  # fmt: skip
        offset = weights[0] * figure.box[2] + weights[1] * figure.box[3]
        for score, x, y in spots:
            if np.isfinite(score) and (
                not is_open or is_acceptable(figure, float(x), float(y), self.board, problem)
            ):
                return float(score) + offset, Laid(need, figure, float(x), float(y))
        return None

    def _region(self, figure: Turned, problem: Problem) -> Region:
        neighbours = [
            problem.between(laid.figure, figure).moved(laid.x_mm, laid.y_mm) for laid in self.laid
        ]
        return joined([problem.grounds[self.board].region(figure), *neighbours])


def _score(found: tuple[float, Laid]) -> float:
    return found[0]
