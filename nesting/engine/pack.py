"""Boards and needs in, placements out: the door of the engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.engine.construct import Order, insert_all, ordered
from nesting.engine.crowd import Crowder
from nesting.engine.plan_state import PlanState, cost, empty_plan
from nesting.engine.problem import Problem
from nesting.engine.reasons import unplaced
from nesting.engine.ruin import recreated, ruined
from nesting.engine.stop import Stop
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest
from nesting.rules import Rules
from nesting.stock.board import Board

WARMTH = 0.15
"""At the start a plan is accepted if it is dearer than the best by this share of a board of
middling size; the share falls to 0 as the allowance is used."""


CROWDING_SECONDS = 40.0
"""With less time left parts are not crowded in: on a machine's first run the kernels for it take
most of that to compile."""


@dataclass(frozen=True)
class Progress:
    """Where the search stands."""

    rounds: int
    placed: int
    wanted: int
    opened_mm2: float
    parts_mm2: float
    share_used: float
    seconds_left: float | None

    @property
    def yield_percent(self) -> float:
        """Share of the opened wood that became parts."""
        return 100.0 * self.parts_mm2 / self.opened_mm2 if self.opened_mm2 else 0.0


def pack(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    *,
    stop: Stop,
    seed: int = 0,
    on_progress: Callable[[Progress], None] | None = None,
) -> CuttingPlan:
    """Return a cutting plan: the most value placed, then the least wood opened.

    The same seed and a limit in rounds give the same plan. Ctrl-C ends the search with the
    best plan so far.
    """
    problem = Problem(needs, boards, rules)
    best = empty_plan(problem)
    rounds = 0
    try:
        for best, rounds in _improving(problem, stop, seed):
            if on_progress is not None:
                on_progress(_progress(best, problem, rounds, stop))
    except KeyboardInterrupt:
        pass
    return _cutting_plan(best, problem)


def _improving(problem: Problem, stop: Stop, seed: int) -> Iterator[tuple[PlanState, int]]:
    rng = np.random.default_rng(seed)
    best = empty_plan(problem)
    best_cost = cost(best, problem)
    for order in Order:
        plan = _constructed(problem, order)
        if cost(plan, problem) < best_cost:
            best, best_cost = plan, cost(plan, problem)
        yield best, 0
        if stop.share_used(0) >= 1.0:
            return
    current, rounds, crowder = best, 0, Crowder(problem)
    middling = float(np.median([board.area_mm2 for board in problem.boards] or [0.0]))
    while (used := stop.share_used(rounds)) < 1.0:
        rounds += 1
        plan = recreated(ruined(current, problem, rng), problem, rng, _allowed(crowder, stop))
        plan_cost = cost(plan, problem)
        if plan_cost < best_cost + WARMTH * (1.0 - used) ** 2 * middling * rng.random():
            current = plan
        if plan_cost < best_cost - 1e-9:
            best, best_cost = plan, plan_cost
        yield best, rounds


def _allowed(crowder: Crowder, stop: Stop) -> Crowder | None:
    """Return the crowder unless time is too short for what a first use may have to compile."""
    left = stop.seconds_left()
    return crowder if left is None or left > CROWDING_SECONDS else None


def _constructed(problem: Problem, order: Order) -> PlanState:
    plan = empty_plan(problem)
    copies = [n for n, count in enumerate(plan.missing) for _ in range(count)]
    return insert_all(plan, ordered(copies, problem, order), problem)


def _progress(plan: PlanState, problem: Problem, rounds: int, stop: Stop) -> Progress:
    wanted = sum(need.quantity for need in problem.needs)
    opened = [state for state in plan.states if state.laid]
    return Progress(
        rounds,
        wanted - sum(plan.missing),
        wanted,
        sum(problem.boards[state.board].area_mm2 for state in opened),
        sum(state.used_mm2 for state in opened),
        min(1.0, stop.share_used(rounds)),
        stop.seconds_left(),
    )


def _cutting_plan(plan: PlanState, problem: Problem) -> CuttingPlan:
    numbers: Counter[int] = Counter()
    nests = []
    for state in plan.states:
        placements = []
        for laid in state.laid:
            numbers[laid.need] += 1
            placement = laid.figure.at(laid.x_mm, laid.y_mm)
            placements.append(replace(placement, copy=numbers[laid.need]))
        if placements:
            nests.append(Nest(problem.boards[state.board], tuple(placements)))
    return CuttingPlan(tuple(nests), unplaced(plan, problem))
