"""Ruin and recreate: take parts off a few boards and place them anew, keeping what is better.

References
----------
Schrimpf, Schneider, Stamm-Wilbrandt, Dueck 2000, Record breaking optimization results using
the ruin and recreate principle, J. Comput. Phys. 159:139-171 (the principle); Christiaens,
Vanden Berghe 2020, Slack induction by string removals, Transp. Sci. 54:417-433 (blinks). Both
cited from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from nesting.engine.search.construct import Manner, Order, insert_all, ordered
from nesting.engine.search.crowd import Crowder
from nesting.engine.search.fill import Filler
from nesting.engine.search.homes import sent_home, without_homes
from nesting.engine.state.board_state import DRIFTS, BoardState
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never

NOISE = 0.4
"""Spread of the logarithm of a part's key when it is placed anew."""

BLINK = 0.06
"""Chance that a board is passed over for one part."""

CROWD = 0.3
"""Share of rounds in which parts that find no room are crowded in: dear rounds."""

FILL = 0.7
"""Share of rounds in which emptied boards are filled with many beginnings: dear rounds."""

CHAIN = 0.25
"""Share of rounds in which a chain of ejections takes the place of ruin."""

SQUEEZE = 0.03
"""Share of rounds in which missing parts that some board may have room for are squeezed in."""

LEAST_ATTEMPTS, MOST_ATTEMPTS, LONGER = 16, 64, 0.5
"""Attempts without headway after which squeezing ends, at least and most, and the chance of each
doubling."""

ANEW = 0.25
"""How often all that is to lie on the board begins anywhere, what lies there too: dear, but where
parts are in the way of one another as they lie, no patience helps."""

ALL = 0.5
"""How often all that a board has the area for are squeezed in together, and not one alone."""

LEAST_BEGINNINGS, MOST_BEGINNINGS, WIDER = 128, 2048, 0.5
"""Beginnings kept at a time: least, but never more than the most for all boards together; and the
chance of each doubling."""

HOMING = 0.8
"""Chance that parts taken off go back where the last plan had them, if nothing lies there now."""

FEWEST_BEGINNINGS = 4
"""Beginnings kept at a time however many boards there are."""

LEAST_UNUSED = 0.05
"""Share of a board that counts as unused at least, however dear what lies on it."""

MORE, MOST_BESIDE = 0.25, 2
"""Where boards are cleared to be filled anew: chance that no further one is, and closed boards
that are filled beside them at most."""

ORDERS = (Order.AREA, Order.LENGTH, Order.FEW_BOARDS, Order.WORTH)


def ruined(
    plan: PlanState, prices: Sequence[float] | None, problem: Problem, rng: np.random.Generator
) -> PlanState:
    """Return the plan with some parts taken off: whole boards, or some parts of several."""
    opened = plan.opened
    if not opened:
        return plan
    first = badly_filled(plan, prices, problem, rng)
    taken: dict[int, set[int]] = {first: set(range(len(plan.states[first].laid)))}
    for board in _partners(first, plan, opened, problem, rng):
        size = len(plan.states[board].laid)
        count = size if rng.random() < 0.4 else int(rng.integers(1, size + 1))
        taken[board] = set(map(int, rng.choice(size, count, replace=False)))
    return plan.without(taken)


def cleared(
    plan: PlanState, prices: Sequence[float] | None, problem: Problem, rng: np.random.Generator
) -> tuple[PlanState, list[int]]:
    """Return the plan with some boards emptied, and boards to fill: these and a few closed ones."""
    if not plan.opened:
        return plan, []
    first = badly_filled(plan, prices, problem, rng)
    needs = {laid.need for laid in plan.states[first].laid}
    kin = [
        state.board
        for state in plan.states
        if state.board != first and any(state.board in problem.suit_sets[need] for need in needs)
    ]
    opened = [board for board in kin if plan.states[board].laid]
    closed = [board for board in kin if not plan.states[board].laid]
    count = min(len(opened), int(rng.geometric(MORE)) - 1)
    emptied = [first, *map(int, rng.permutation(opened)[:count])]
    beside = map(int, rng.permutation(closed)[: int(rng.integers(MOST_BESIDE + 1))])
    boards = [*emptied, *beside]
    plan = plan.without({board: set(range(len(plan.states[board].laid))) for board in emptied})
    return plan, [boards[i] for i in rng.permutation(len(boards))]


def badly_filled(
    plan: PlanState, prices: Sequence[float] | None, problem: Problem, rng: np.random.Generator
) -> int:
    """Return an opened board, more likely one with much wood unused.

    Parameters
    ----------
    prices
        What a copy of each need takes, mm2; where known, wood is unused that is more than the
        parts on the board are worth by them.
    """
    opened = plan.opened
    unused = [_unused_mm2(plan.states[b], prices, problem) for b in opened]
    chances = np.maximum(np.array(unused), 1.0)
    return int(rng.choice(opened, p=chances / chances.sum()))


def _unused_mm2(state: BoardState, prices: Sequence[float] | None, problem: Problem) -> float:
    if prices is None:
        return state.unused_mm2(problem)
    area = problem.boards[state.board].area_mm2
    return max(LEAST_UNUSED * area, area - sum(prices[laid.need] for laid in state.laid))


def _partners(
    first: int, plan: PlanState, opened: list[int], problem: Problem, rng: np.random.Generator
) -> list[int]:
    """Return up to three opened boards that could take some part of the first, or any."""
    needs = {laid.need for laid in plan.states[first].laid}
    kin = [b for b in opened if b != first and any(b in problem.suit_sets[n] for n in needs)]
    count = min(len(kin), int(rng.integers(0, 4)))
    return [int(b) for b in rng.choice(kin, count, replace=False)] if count else []


def refilled(
    plan: PlanState,
    emptied: Sequence[int],
    filler: Filler,
    rng: np.random.Generator,
    is_over: Callable[[], bool],
) -> PlanState:
    """Return the plan with boards that were emptied filled one after another, many ways at once.

    Mostly few beginnings are kept at a time, now and then many: how many a puzzle asks for is
    not known beforehand.
    """
    most = max(FEWEST_BEGINNINGS, MOST_BEGINNINGS // len(plan.states))
    for board in emptied:
        width = min(most, LEAST_BEGINNINGS * 2 ** int(rng.geometric(1 - WIDER) - 1))
        plan = plan.with_state(filler.filled(board, plan.missing, width, rng, is_over))
    return plan


def recreated(
    plan: PlanState,
    problem: Problem,
    rng: np.random.Generator,
    crowder: Crowder | None,
    is_over: Callable[[], bool] = never,
) -> PlanState:
    """Return the plan with all that is missing tried again, in a disturbed order.

    With a crowder, room is made for parts that find none.
    """
    is_homing = problem.steered is not None and problem.steered.has_homes
    if is_homing and rng.random() < HOMING:
        # What has no place of its own goes first, so that it may take those of others.
        homeless = without_homes(plan, problem)
        plan = _inserted(plan, homeless, problem, rng, crowder, is_over)
        plan = sent_home(plan, problem)
    copies = [n for n, count in enumerate(plan.missing) for _ in range(count)]
    plan = _inserted(plan, copies, problem, rng, crowder, is_over)
    return sent_home(plan, problem) if is_homing else plan


def _inserted(
    plan: PlanState,
    copies: Sequence[int],
    problem: Problem,
    rng: np.random.Generator,
    crowder: Crowder | None,
    is_over: Callable[[], bool],
) -> PlanState:
    """Return the plan with some parts placed, in a disturbed order."""
    order = ORDERS[int(rng.integers(len(ORDERS)))]
    sequence = ordered(copies, problem, order, rng, NOISE)
    drift = DRIFTS[int(rng.integers(len(DRIFTS)))]
    manner = Manner(rng, BLINK, drift, crowder)
    return insert_all(plan, sequence, problem, manner, is_over)


def squeezed(
    plan: PlanState,
    problem: Problem,
    rng: np.random.Generator,
    crowder: Crowder,
    is_over: Callable[[], bool] = never,
) -> PlanState | None:
    """Return the plan with some missing parts squeezed in on one board, or None."""
    copies = [n for n, count in enumerate(plan.missing) for _ in range(count) if problem.suits[n]]
    if not copies:
        return None
    copies = [copies[i] for i in rng.permutation(len(copies))]
    state = plan.states[int(rng.choice(problem.suits[copies[0]]))]
    chosen: list[int] = []
    for need in copies:
        if state.board in problem.suit_sets[need] and crowder.may_fit(state, [*chosen, need]):
            chosen.append(need)
    chosen = chosen[: len(chosen) if rng.random() < ALL else 1]
    if not chosen:
        return None
    stall = min(MOST_ATTEMPTS, LEAST_ATTEMPTS * 2 ** int(rng.geometric(1 - LONGER) - 1))
    if rng.random() < ANEW:
        chosen = [laid.need for laid in state.laid] + chosen
        state, stall = BoardState(state.board), MOST_ATTEMPTS
    more = crowder.squeezed(state, chosen, stall, rng, is_over)
    return None if more is None else plan.with_state(more)
