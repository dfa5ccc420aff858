"""Fillings of single boards that all lanes met, and the best plan that they make together.

A search meets many good fillings of a board and keeps only those of its best plan. Here all are
kept, and now and then the best choice among them becomes a plan from which the lanes go on.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

import numpy as np

from nesting.engine.search.covering import Columns, Wanted, best_cover
from nesting.engine.state.plain_numbers import Parts, state_of
from nesting.engine.state.plan_state import PlanState, board_outlay, empty_plan, outlay
from nesting.engine.state.problem import Problem
from nesting.engine.stop import over_in

Filling = tuple[int, Parts]
"""A board, and what lies on it."""

Kind = tuple[int, tuple[tuple[int, int], ...]]
"""A board, and how often which needs lie on it."""

Prices = tuple[float, ...]
"""What a copy of each need takes, mm2 of wood."""

GROWN = 0.04
"""The pool is looked through again when it has grown by this share."""

REST = 2.0
"""Where time is limited, a look through the pool is followed by so many times its time without."""

SMOOTH = 0.5
"""Share of the former price of a need in its next: by fractions prices leap."""

SQUARE_METRE = 1e6


class Fillings:
    """A pool of fillings: one way to lay each choice of parts on each board.

    Attributes
    ----------
    prices
        Of the needs, None until the pool was looked through.
    """

    def __init__(self, problem: Problem) -> None:
        self.prices: Prices | None = None
        self._problem = problem
        self._kept: dict[Kind, Parts] = {}
        self._looked_through = 0
        self._is_rested = over_in(0.0)

    def __len__(self) -> int:
        return len(self._kept)

    def add(self, met: Iterable[Filling]) -> None:
        """Keep those fillings that are new."""
        for board, parts in met:
            if parts:
                self._kept.setdefault((board, _counts(parts)), parts)

    @property
    def is_worth_a_look(self) -> bool:
        """Whether there is enough that is new since the pool was last looked through."""
        return len(self._kept) > self._looked_through * (1 + GROWN) and self._is_rested()

    def recombined(self, known: PlanState, seconds: float | None = None) -> PlanState | None:
        """Return the best plan found of fillings in the pool, or None if none beats the known.

        Parameters
        ----------
        seconds
            To be spent at most, None: time is no limit.
        """
        self._looked_through, begin = len(self._kept), time.monotonic()
        plan = self._recombined(known, seconds)
        if seconds is not None:
            self._is_rested = over_in(REST * (time.monotonic() - begin))
        return plan

    def _recombined(self, known: PlanState, seconds: float | None) -> PlanState | None:
        problem, kinds = self._problem, _largest(self._kept)
        known_cost = outlay(known, problem) / SQUARE_METRE
        columns = _columns(kinds, problem, self._kept)
        cover = best_cover(columns, _wanted(problem), known_cost, seconds)
        if cover is None:
            return None
        self._learn(cover.prices * SQUARE_METRE)
        if cover.chosen is None:
            return None
        plan = empty_plan(problem)
        for kind in (kinds[i] for i in cover.chosen):
            plan = plan.with_state(state_of(kind[0], self._kept[kind], problem))
        return _without_surplus(plan)

    def _learn(self, prices: np.ndarray[tuple[int], np.dtype[np.float64]]) -> None:
        if self.prices is not None:
            prices = (1 - SMOOTH) * prices + SMOOTH * np.array(self.prices)
        self.prices = tuple(float(price) for price in prices)


def _columns(kinds: Sequence[Kind], problem: Problem, kept: Mapping[Kind, Parts]) -> Columns:
    counts = np.zeros((len(kinds), len(problem.needs)), np.int64)
    for row, (_, needs) in zip(counts, kinds, strict=True):
        for need, count in needs:
            row[need] = count
    cost = [
        board_outlay(kind[0], dict(kind[1]), problem, kept[kind]) / SQUARE_METRE for kind in kinds
    ]
    return Columns(np.array([board for board, _ in kinds], np.int64), counts, np.array(cost))


def _wanted(problem: Problem) -> Wanted:
    worth = np.array([need.worth for need in problem.needs])
    copies = np.array([float(need.quantity) for need in problem.needs])
    return Wanted(copies, worth * problem.dearness / SQUARE_METRE)


def _counts(parts: Parts) -> tuple[tuple[int, int], ...]:
    return tuple(sorted(Counter(row[0] for row in parts).items()))


def _largest(kept: Collection[Kind]) -> list[Kind]:
    """Return the fillings of which no other on their board places all and more."""
    by_board: dict[int, list[Kind]] = {}
    for kind in sorted(kept, key=lambda kind: -sum(count for _, count in kind[1])):
        larger = by_board.setdefault(kind[0], [])
        needs = dict(kind[1])
        if not any(_holds(dict(other[1]), needs) for other in larger):
            larger.append(kind)
    return [kind for board in sorted(by_board) for kind in by_board[board]]


def _holds(other: Mapping[int, int], needs: Mapping[int, int]) -> bool:
    return all(other.get(need, 0) >= count for need, count in needs.items())


def _without_surplus(plan: PlanState) -> PlanState:
    """Return the plan without the copies placed beyond those wanted: off the emptiest boards."""
    taken: dict[int, set[int]] = {}
    surplus = {need: -count for need, count in enumerate(plan.missing) if count < 0}
    for state in sorted(plan.states, key=lambda state: (state.used_mm2, state.board)):
        for i, laid in enumerate(state.laid):
            if surplus.get(laid.need, 0) > 0:
                surplus[laid.need] -= 1
                taken.setdefault(state.board, set()).add(i)
    return plan.without(taken)
