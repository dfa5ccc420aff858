"""Place parts one after another: in an order, on the first board that takes each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from enum import Enum

import numpy as np

from nesting.engine.board_state import TOWARD_LEFT, BoardState, Weights
from nesting.engine.plan_state import PlanState
from nesting.engine.problem import Problem


class Order(Enum):
    """What makes a part come early."""

    WORTH = "worth"
    AREA = "area"
    LENGTH = "length"
    FEW_BOARDS = "few boards"


def ordered(
    copies: Sequence[int],
    problem: Problem,
    order: Order,
    rng: np.random.Generator | None = None,
    noise: float = 0.0,
) -> list[int]:
    """Return needs, one entry a copy, first to place first.

    ``noise`` is the spread of the logarithm by which each key is disturbed.
    """
    keys = np.array([_key(need, problem, order) for need in copies])
    if rng is not None and noise > 0:
        keys = keys * np.exp(noise * rng.standard_normal(len(keys)))
    return [copies[i] for i in sorted(range(len(copies)), key=lambda i: (-keys[i], copies[i]))]


def _key(need: int, problem: Problem, order: Order) -> float:
    wanted = problem.needs[need]
    if order is Order.WORTH:
        return wanted.worth
    if order is Order.AREA:
        return wanted.outline.area_mm2
    if order is Order.LENGTH:
        return max(wanted.outline.length_mm, wanted.outline.width_mm)
    return wanted.outline.area_mm2 / (1 + len(problem.suits[need])) ** 2


def insert_all(
    plan: PlanState,
    sequence: Sequence[int],
    problem: Problem,
    rng: np.random.Generator | None = None,
    blink: float = 0.0,
    drift: Weights = TOWARD_LEFT,
) -> PlanState:
    """Return the plan with each need of a sequence placed where there is room.

    Opened boards are tried first, fullest first; then closed ones, least wood first. With a
    ``blink`` each board is passed over with that chance, which keeps the search from
    repeating itself.
    """
    states, missing = list(plan.states), list(plan.missing)
    for need in sequence:
        for board in _boards_for(need, states, problem):
            if rng is not None and rng.random() < blink:
                continue
            laid = states[board].spot(need, problem, drift)
            if laid is not None:
                states[board] = states[board].with_part(laid)
                missing[need] -= 1
                break
    return PlanState(tuple(states), tuple(missing))


def _boards_for(need: int, states: Sequence[BoardState], problem: Problem) -> Iterator[int]:
    area = problem.needs[need].outline.area_mm2
    free = {b: problem.boards[b].area_mm2 - states[b].used_mm2 for b in problem.suits[need]}
    suited = [b for b in free if free[b] >= area]
    thickness = {b: problem.boards[b].thickness_mm for b in suited}
    yield from sorted(suited, key=lambda b: (not states[b].laid, thickness[b], free[b], b))
