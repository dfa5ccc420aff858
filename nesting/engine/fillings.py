"""Fillings of single boards that all lanes met, and the best plan that they make together.

A search meets many good fillings of a board and keeps only those of its best plan. Here all are
kept, and now and then the best choice among them becomes a plan from which the lanes go on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence, Set

import numpy as np

from nesting.engine.board_state import BoardState
from nesting.engine.covering import Columns, Cover, best_cover
from nesting.engine.plan_state import PlanState, board_outlay, empty_plan, outlay
from nesting.engine.problem import Problem
from nesting.engine.written import Parts, state_of

Filling = tuple[int, Parts]
"""A board, and what lies on it."""

Kind = tuple[int, tuple[tuple[int, int], ...]]
"""A board, and how often which needs lie on it."""

GROWN = 0.04
"""The pool is looked through again when it has grown by this share."""

SMOOTH = 0.5
"""Share of the former price of a need in its next: by fractions prices leap."""

SQUARE_METRE = 1e6


class Fillings:
    """A pool of fillings: one way to lay each choice of parts on each board."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._kept: dict[Kind, Parts] = {}
        self._looked_through = 0
        self.prices: tuple[float, ...] | None = None

    def __len__(self) -> int:
        return len(self._kept)

    def add(self, met: Iterable[Filling]) -> None:
        """Keep those fillings that are new."""
        for board, parts in met:
            if parts:
                self._kept.setdefault((board, _counts(parts)), parts)

    @property
    def has_grown(self) -> bool:
        """Whether there is enough that is new since the pool was last looked through."""
        return len(self._kept) > self._looked_through * (1 + GROWN)

    def recombined(self, known: PlanState) -> PlanState | None:
        """Return the best plan found of fillings in the pool, or None if none beats the known."""
        self._looked_through = len(self._kept)
        states = [
            state_of(kind[0], self._kept[kind], self._problem) for kind in _largest(self._kept)
        ]
        cover = _cover(
            empty_plan(self._problem), states, self._problem, outlay(known, self._problem)
        )
        if cover is None:
            return None
        new = cover.prices * SQUARE_METRE
        if self.prices is not None:
            new = (1 - SMOOTH) * new + SMOOTH * np.array(self.prices)
        self.prices = tuple(float(price) for price in new)
        return _put(empty_plan(self._problem), states, cover)


def _cover(
    plan: PlanState, states: Sequence[BoardState], problem: Problem, known: float
) -> Cover | None:
    counts = np.zeros((len(states), len(problem.needs)), np.int64)
    for row, state in zip(counts, states, strict=True):
        for laid in state.laid:
            row[laid.need] += 1
    columns = Columns(
        np.array([state.board for state in states], np.int64),
        counts,
        np.array([board_outlay(state, problem) for state in states]) / SQUARE_METRE,
    )
    missing = np.array([need.worth for need in problem.needs]) * problem.dearness
    return best_cover(columns, plan.missing, missing / SQUARE_METRE, known / SQUARE_METRE)


def _put(plan: PlanState, states: Sequence[BoardState], cover: Cover) -> PlanState | None:
    if cover.chosen is None:
        return None
    for i in cover.chosen:
        plan = plan.with_state(states[i])
    return _without_surplus(plan, {states[i].board for i in cover.chosen})


def _counts(parts: Parts) -> tuple[tuple[int, int], ...]:
    return tuple(sorted(Counter(row[0] for row in parts).items()))


def _largest(kept: Collection[Kind]) -> list[Kind]:
    """Return the fillings that place no less of anything than any other on their board."""
    by_board: dict[int, list[Kind]] = {}
    for kind in sorted(kept, key=lambda kind: -sum(count for _, count in kind[1])):
        larger = by_board.setdefault(kind[0], [])
        needs = dict(kind[1])
        if not any(_holds(dict(other[1]), needs) for other in larger):
            larger.append(kind)
    return [kind for board in sorted(by_board) for kind in by_board[board]]


def _holds(other: Mapping[int, int], needs: Mapping[int, int]) -> bool:
    return all(other.get(need, 0) >= count for need, count in needs.items())


def _without_surplus(plan: PlanState, boards: Set[int]) -> PlanState:
    """Return the plan without the copies placed beyond those wanted: off the emptiest boards."""
    taken: dict[int, set[int]] = {}
    surplus = {need: -count for need, count in enumerate(plan.missing) if count < 0}
    for state in sorted(plan.states, key=lambda state: (state.used_mm2, state.board)):
        for i, laid in enumerate(state.laid if state.board in boards else ()):
            if surplus.get(laid.need, 0) > 0:
                surplus[laid.need] -= 1
                taken.setdefault(state.board, set()).add(i)
    return plan.without(taken)
