"""Chains of ejections: place a part by putting others out, which find room elsewhere.

Where no board has room for a part as it lies there, a board takes it in exchange for a part or
two, those for the next board, and so on until nothing is left without a place. A board whose parts
all find room on others in this way is saved; a part that was left over gets in.

References
----------
Nagata, Braysy 2009, A powerful route minimization heuristic for the vehicle routing problem with
time windows, Oper. Res. Lett. 37:333-338 (a pool of what was put out, and counts of how often
each was hard to place; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np

from nesting.engine.state.board_state import DRIFTS, BoardState, Weights
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never

LINKS = 40
"""Parts placed in one chain at most."""

TRIES = 8
"""Exchanges tried for one part before the chain is given up."""

BESIDE = 0.5
"""How often a closed board, smaller than the one to be saved, may be opened in its place."""

MOST_OUT = 2
"""Parts put out for one at most."""


def chained(
    plan: PlanState,
    emptied: int | None,
    problem: Problem,
    rng: np.random.Generator,
    is_over: Callable[[], bool] = never,
) -> PlanState:
    """Return the plan that a chain makes: with a board emptied, or with one missing part placed.

    A chain that breaks leaves over what it could not place.

    Parameters
    ----------
    emptied
        The board whose parts are to find room on the other opened ones, and now and then on a
        smaller one; None to place a missing part on any.
    """
    return _Chain(plan, emptied, problem, rng).run(is_over)


def _smaller(plan: PlanState, emptied: int, problem: Problem, rng: np.random.Generator) -> set[int]:
    """Return a closed board with less wood than the emptied one, for some of its parts."""
    area = problem.boards[emptied].area_mm2
    needs = {laid.need for laid in plan.states[emptied].laid}
    closed = [
        state.board
        for state in plan.states
        if not state.laid
        and problem.boards[state.board].area_mm2 < area
        and any(state.board in problem.suit_sets[need] for need in needs)
    ]
    return {int(rng.choice(closed))} if closed else set()


class _Chain:
    def __init__(
        self, plan: PlanState, emptied: int | None, problem: Problem, rng: np.random.Generator
    ) -> None:
        self._problem, self._rng = problem, rng
        self._drift: Weights = DRIFTS[int(rng.integers(len(DRIFTS)))]
        self._trouble: Counter[int] = Counter()
        self._is_over: Callable[[], bool] = never
        if emptied is None:
            self._open = set(range(len(plan.states)))
            short = [n for n, count in enumerate(plan.missing) if count and problem.suits[n]]
            self._pool = [int(rng.choice(short))] if short else []
        else:
            self._open = set(plan.opened) - {emptied}
            if rng.random() < BESIDE:
                self._open |= _smaller(plan, emptied, problem, rng)
            parts = [laid.need for laid in plan.states[emptied].laid]
            self._pool = sorted(parts, key=self._area)
            plan = plan.without({emptied: set(range(len(parts)))})
        self._states, self._missing = list(plan.states), list(plan.missing)

    def run(self, is_over: Callable[[], bool]) -> PlanState:
        """Place what is in the pool, and what is put out for it, as long as there is a way."""
        self._is_over = is_over
        for _ in range(LINKS):
            if not self._pool or is_over():
                break
            need = self._pool.pop()
            if not (self._placed(need) or self._exchanged(need)):
                break
        return PlanState(tuple(self._states), tuple(self._missing))

    def _placed(self, need: int) -> bool:
        """Return whether a part found room, fullest boards first."""
        boards = self._boards_for(need)
        for board in sorted(boards, key=self._order):
            if self._is_over():
                break
            if self._is_put(need, self._states[board]):
                return True
        return False

    def _exchanged(self, need: int) -> bool:
        """Return whether some board took a part for others, which are in the pool now."""
        self._trouble[need] += 1
        for board, out in self._exchanges(need):
            laid = self._states[board].laid
            if self._is_put(need, self._states[board].without(out)):
                for i in out:
                    self._missing[laid[i].need] += 1
                    self._pool.append(laid[i].need)
                return True
        return False

    def _is_put(self, need: int, state: BoardState) -> bool:
        """Return whether a board as given has room for a part, and put it there if so."""
        laid = state.spot(need, self._problem, self._drift, is_over=self._is_over)
        if laid is None:
            return False
        self._states[state.board] = state.with_part(laid)
        self._missing[need] -= 1
        return True

    def _exchanges(self, need: int) -> Iterator[tuple[int, set[int]]]:
        """Yield boards and which of their parts to put out: those least trouble to place first."""
        found = []
        for board in self._boards_for(need):
            parts = self._states[board].laid
            for first in range(len(parts)):
                others = self._rng.choice(len(parts), int(self._rng.integers(MOST_OUT)))
                out = {first, *map(int, others)}
                if self._has_area(need, board, out):
                    needs = [parts[i].need for i in out]
                    key = sum(1 + self._trouble[n] for n in needs) + self._rng.random()
                    key += sum(self._area(n) for n in needs) / self._area(need)
                    found.append((key, board, out))
        for _, board, out in sorted(found, key=lambda one: one[0])[:TRIES]:
            yield board, out

    def _has_area(self, need: int, board: int, out: set[int]) -> bool:
        state = self._states[board]
        needs = [state.laid[i].need for i in out]
        free = state.unused_mm2(self._problem) + sum(self._area(n) for n in needs)
        return need not in needs and free >= self._area(need)

    def _boards_for(self, need: int) -> list[int]:
        return [board for board in self._problem.suits[need] if board in self._open]

    def _order(self, board: int) -> tuple[bool, float, int]:
        state = self._states[board]
        return not state.laid, state.unused_mm2(self._problem), board

    def _area(self, need: int) -> float:
        return self._problem.needs[need].outline.area_mm2
