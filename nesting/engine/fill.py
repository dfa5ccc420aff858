"""Fill one board from one end, keeping many beginnings at a time.

What is placed first decides what still fits, and the best next part is seldom the largest: so
every part that is wanted is tried next on each beginning, and of all that come of it those are
kept which lose the least wood behind their front.

References
----------
Lowerre 1976, The HARPY speech recognition system (beam search; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.engine.board_state import BoardState, Laid
from nesting.engine.front import Front, FrontLines
from nesting.engine.no_fit import is_outside
from nesting.engine.problem import Problem
from nesting.engine.stop import never
from nesting.engine.turned import Turned

ALLOWANCES = (0.02, 0.2)
"""Wood that a beginning may lose for each area of part in it, beside one with fewer parts: least
and most, drawn anew each time."""

NOISE = 0.1
"""Spread of what a next part is thought to lose, so that the search does not repeat itself."""

EDGES = (0.02, -0.02)
"""How much a place near one long edge of the board counts beside one near its end."""

MOST_PLACES = 2
"""Places of a figure tried by each edge, one or so many as chance has it: a part notched for
a keep-out rests there, though it could go nearer to the end; but more places take longer."""

MOST_TRIED = 16
"""Needs tried next on one beginning."""


@dataclass(frozen=True, eq=False)
class Beginning:
    """Some parts on the board, what is still wanted, and the wood lost so far, mm2.

    ``spots`` holds the best places of each figure that was asked for: for each edge, or none.
    """

    state: BoardState
    left: tuple[int, ...]
    front: Front
    lost: float
    spots: dict[int, list[Laid]]


Grown = tuple[float, Beginning, Laid, Front, float]
"""A beginning and its next part, not yet made: score, beginning, part, front, wood lost."""


class Filler:
    """Fills boards of a problem; keeps what it knows of them."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._areas = [need.outline.area_mm2 for need in problem.needs]
        self._lines: dict[tuple[int, int], FrontLines] = {}

    def filled(
        self,
        board: int,
        wanted: Sequence[int],
        width: int,
        rng: np.random.Generator,
        is_over: Callable[[], bool] = never,
    ) -> BoardState:
        """Return the board with the most part area found.

        Parameters
        ----------
        wanted
            How many of each need may be placed.
        width
            Beginnings kept at a time.
        """
        side = 1 if rng.random() < 0.5 else -1
        allowance = float(np.exp(rng.uniform(*np.log(ALLOWANCES))))
        places = int(rng.integers(1, MOST_PLACES + 1))
        suited = [n for n, count in enumerate(wanted) if count and board in self.problem.suits[n]]
        if not suited:
            return BoardState(board)
        lines = self._lines_of(board, side, suited)
        left = tuple(count if n in suited else 0 for n, count in enumerate(wanted))
        kept = [Beginning(BoardState(board), left, lines.empty, 0.0, {})]
        best = kept[0].state
        while kept and not is_over():
            grown: list[Grown] = []
            for one in kept:
                if not is_over():
                    grown += self._grown(one, lines, side, places, allowance, rng)
            kept = [self._settled(new) for new in _best_few(grown, width)]
            best = max([best, *(one.state for one in kept)], key=lambda state: state.used_mm2)
        return best

    def _lines_of(self, board: int, side: int, suited: Sequence[int]) -> FrontLines:
        if (board, side) not in self._lines:
            free = self.problem.free(board, suited[0])
            self._lines[board, side] = FrontLines(free, side, self.problem.rules.part_gap_mm)
        return self._lines[board, side]

    def _grown(
        self,
        one: Beginning,
        lines: FrontLines,
        side: int,
        places: int,
        allowance: float,
        rng: np.random.Generator,
    ) -> Iterator[Grown]:
        """Yield what each next part makes of a beginning, its score first."""
        room = one.state.unused_mm2(self.problem)
        tried = [n for n, count in enumerate(one.left) if count and self._areas[n] <= room]
        if len(tried) > MOST_TRIED:
            tried = sorted(map(int, rng.choice(tried, MOST_TRIED, replace=False)))
        for need in tried:
            for laid in self._spots(one, need, side, places):
                front = lines.with_part(one.front, laid.figure, laid.x_mm, laid.y_mm)
                used = one.state.used_mm2 + laid.figure.shape.area
                lost = lines.lost_mm2(front)
                lost += NOISE * rng.standard_normal() * (lost - one.lost)
                yield lost - allowance * used, one, laid, front, lost

    def _spots(self, one: Beginning, need: int, side: int, most: int) -> Iterator[Laid]:
        """Yield the places of a need nearest to the end, by either long edge, all ways."""
        for figure in self.problem.turnings(need, one.state.board, is_leaning=False):
            if self.problem.is_closed(figure, one.state.board):
                continue
            if figure.number not in one.spots:
                one.spots[figure.number] = self._asked(one.state, need, figure, side, most)
            yield from one.spots[figure.number]

    def _asked(
        self, state: BoardState, need: int, figure: Turned, side: int, most: int
    ) -> list[Laid]:
        found: list[Laid] = []
        for edge in EDGES:
            places = state.resting(need, figure, self.problem, (float(side), edge), most)
            if not places:
                break
            found += places
        return found

    def _settled(self, grown: Grown) -> Beginning:
        """Return a beginning with its next part, and the answers that stay good."""
        _, one, laid, front, lost = grown
        left = tuple(count - (n == laid.need) for n, count in enumerate(one.left))
        spots = {
            number: known
            for number, known in one.spots.items()
            if all(self._is_clear(spot, laid) for spot in known)
        }
        return Beginning(one.state.with_part(laid), left, front, lost, spots)

    def _is_clear(self, spot: Laid, laid: Laid) -> bool:
        region = self.problem.between(laid.figure, spot.figure)
        return is_outside(region, spot.x_mm - laid.x_mm, spot.y_mm - laid.y_mm)


def _best_few(grown: list[Grown], width: int) -> list[Grown]:
    """Return the best, those that use the same parts and lose the same wood but once."""
    kept: dict[object, Grown] = {}
    for new in sorted(grown, key=lambda new: new[0]):
        _, one, laid, front, _ = new
        left = list(one.left)
        left[laid.need] -= 1
        kept.setdefault((tuple(left), round(float(front.ends.sum()))), new)
        if len(kept) == width:
            break
    return list(kept.values())
