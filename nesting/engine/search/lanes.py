"""Search in several lanes, sharing the best now and then; a ``crew`` runs them.

A lane is a search of its own with its own chance; how many there are does not depend on the
machine. Between stretches of rounds all lanes are brought together and those far behind go on
from the best, so that the same seed and round limit give the same plan on any number of
processes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.engine.search.construct import Order, insert_all, ordered
from nesting.engine.search.crowd import Crowder
from nesting.engine.search.eject import chained
from nesting.engine.search.fill import Filler
from nesting.engine.search.homes import forced_home
from nesting.engine.search.pool import Filling, Prices
from nesting.engine.search.ruin import (
    CHAIN,
    CROWD,
    FILL,
    SQUEEZE,
    badly_filled,
    cleared,
    recreated,
    refilled,
    ruined,
    squeezed,
)
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plain_numbers import Written, parts_of, plan_of, written
from nesting.engine.state.plan_state import PlanState, cost, empty_plan, outlay
from nesting.engine.state.problem import Problem
from nesting.engine.state.steered import Steered
from nesting.engine.stop import never, over_in
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board

WARMTH = 0.15
"""At the start a plan is accepted if it is dearer than the best by this share of a board of
middling size; the share falls to 0 as the allowance is used."""

FORCED = 0.3
"""Share of rounds that send a part back where the last plan had it, where there is one."""

GAINING = 0.5
"""Share of chains that are to place a missing part, where there is one, and not to save a board."""

MOST_LATE = 2
"""Where filling boards anew leaves over more parts than this, nobody looks for room for them: the
plan will not do, and what lies on its boards is kept in the pool all the same."""

LEAST_GAIN_MM2 = 1e-3
"""Less than this comes from rounding."""


@dataclass(frozen=True)
class Stretch:
    """Some rounds of one lane: where it stands, and how warm it is at either end.

    Attributes
    ----------
    rounds
        At most so many.
    seconds
        Begin no round after so many, and end any when ``seconds_left`` have passed; None where
        time is no limit.
    prices
        What a copy of each need takes, mm2, so far as the pool of fillings knows.
    """

    lane: int
    current: Written
    best: Written
    rounds: int
    first_round: int
    used: tuple[float, float]
    may_crowd: bool
    seed: int
    seconds: float | None = None
    seconds_left: float | None = None
    prices: Prices | None = None

    def later_by(self, seconds: float) -> Stretch:
        """Return the same to be begun so many seconds later, over at the same time."""
        if self.seconds is None or self.seconds_left is None:
            return self
        return replace(
            self, seconds=self.seconds - seconds, seconds_left=self.seconds_left - seconds
        )


@dataclass(frozen=True)
class Reached:
    """Where a lane stands after some rounds, and the fillings of boards that it met on the way."""

    current: Written
    best: Written
    best_outlay: float
    met: tuple[Filling, ...] = ()
    rounds: int = 0


class Searcher:
    """One process's share of the work: the problem, and what it has computed of it."""

    def __init__(
        self,
        needs: Sequence[Need],
        boards: Sequence[Board],
        rules: Rules,
        steered: Steered | None = None,
        *,
        problem: Problem | None = None,
    ) -> None:
        """Take a problem; as it is if something is known of it already."""
        self.problem = problem or Problem(needs, boards, rules, steered)
        self._crowder = Crowder(self.problem)
        self._filler = Filler(self.problem)
        areas = [board.area_mm2 for board in self.problem.boards]
        self._known: dict[object, BoardState] = {}
        self._middling = float(np.median(areas)) if areas else 0.0

    def construct(
        self,
        *,
        is_quick: bool,
        is_over: Callable[[], bool] = never,
        begin: PlanState | None = None,
    ) -> Reached:
        """Return a first plan: dear parts first; if quick, each the first way that has room.

        What is not placed when the time is over is left over. ``begin`` is what lies there.
        """
        plan = begin or empty_plan(self.problem)
        copies = [n for n, count in enumerate(plan.missing) for _ in range(count)]
        sequence = ordered(copies, self.problem, Order.WORTH)
        plan = insert_all(plan, sequence, self.problem, is_over=is_over, is_quick=is_quick)
        return reached(plan, self.problem)

    def search(self, stretch: Stretch, is_ended: Callable[[], bool] = never) -> Reached:
        """Return where some rounds of ruin and recreate lead, fewer if they are ended."""
        problem = self.problem
        rng = np.random.default_rng([stretch.seed, stretch.lane, stretch.first_round])
        current = plan_of(stretch.current, problem, self._known)
        best = plan_of(stretch.best, problem, self._known)
        least_cost, best_outlay = cost(best, problem), outlay(best, problem)
        met: list[PlanState] = []
        self._filler.met.clear()
        crowder = self._crowder if stretch.may_crowd else None
        is_over = over_in(stretch.seconds, is_ended)
        is_out = over_in(stretch.seconds_left, is_ended)
        for used in np.linspace(*stretch.used, stretch.rounds, endpoint=False):
            if is_over():
                break
            plan = self._another(current, stretch.prices, rng, crowder, is_out)
            plan_cost, plan_outlay = cost(plan, problem), outlay(plan, problem)
            met.append(plan)
            warm = WARMTH * (1.0 - min(1.0, float(used))) ** 2 * self._middling
            if plan_cost < least_cost + warm * rng.random():
                current = plan
            least_cost = min(least_cost, plan_cost)
            if plan_outlay < best_outlay - LEAST_GAIN_MM2:
                best, best_outlay = plan, plan_outlay
        rows = written(current), written(best)
        self._known = _by_rows(current, rows[0]) | _by_rows(best, rows[1])
        return Reached(*rows, best_outlay, _fillings_of(met, self._filler.met), len(met))

    def _another(
        self,
        current: PlanState,
        prices: Prices | None,
        rng: np.random.Generator,
        crowder: Crowder | None,
        is_over: Callable[[], bool],
    ) -> PlanState:
        """Return the plan with some of it taken off and placed anew."""
        steered = self.problem.steered
        if steered is not None and steered.has_homes and rng.random() < FORCED:
            plan = forced_home(current, self.problem, rng)
            return recreated(plan, self.problem, rng, None, is_over)
        if crowder and any(current.missing) and rng.random() < SQUEEZE:
            squeezed_in = squeezed(current, self.problem, rng, crowder, is_over)
            if squeezed_in is not None:
                return squeezed_in
        if current.opened and rng.random() < CHAIN:
            plan = self._chained(current, prices, rng, is_over)
            return recreated(plan, self.problem, rng, None, is_over)
        is_filling, is_crowding = rng.random() < FILL, rng.random() < CROWD
        if is_filling:
            plan, order = cleared(current, prices, self.problem, rng)
            plan = refilled(plan, order, self._filler, rng, is_over)
            if sum(plan.missing) > sum(current.missing) + MOST_LATE:
                return plan
        else:
            plan = ruined(current, prices, self.problem, rng)
        is_crowding = is_crowding or is_filling
        return recreated(plan, self.problem, rng, crowder if is_crowding else None, is_over)

    def _chained(
        self,
        current: PlanState,
        prices: Prices | None,
        rng: np.random.Generator,
        is_over: Callable[[], bool],
    ) -> PlanState:
        """Return the plan with a board saved or a part gained by a chain, or with parts missing."""
        is_gaining = any(current.missing) and rng.random() < GAINING
        emptied = None if is_gaining else badly_filled(current, prices, self.problem, rng)
        return chained(current, emptied, self.problem, rng, is_over)


def reached(plan: PlanState, problem: Problem) -> Reached:
    """Return a plan as the place where a lane stands."""
    rows = written(plan)
    return Reached(rows, rows, outlay(plan, problem), _fillings_of([plan]))


def _fillings_of(
    plans: Iterable[PlanState], beside: Iterable[BoardState] = ()
) -> tuple[Filling, ...]:
    """Return what lies on the boards of some plans, and on some beside, each filling once."""
    states = {id(state): state for plan in plans for state in plan.states if state.laid}
    states |= {id(state): state for state in beside}
    return tuple({(state.board, parts_of(state)): None for state in states.values()})


def _by_rows(plan: PlanState, rows: Written) -> dict[object, BoardState]:
    """Return a plan's states by what lies on each board: their answers stay good."""
    return {(state.board, parts): state for state, parts in zip(plan.states, rows, strict=True)}
