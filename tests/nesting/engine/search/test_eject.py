"""Chains of ejections: exchanges that make room, and what is left when a chain breaks."""

import numpy as np
import pytest
from puzzles import nest_of, random_board, random_need
from shapely.geometry import box

from nesting.engine.search.construct import Order, insert_all, ordered
from nesting.engine.search.eject import chained
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import PlanState, empty_plan
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def problem_of(boards, parts):
    """Return a problem of boards and parts 100 mm wide, of these lengths."""
    wood = [Board(f"B{i}", box(0, 0, length, 100), 30, "oak") for i, length in enumerate(boards)]
    needs = [
        Need(f"P{i}", "any", Outline(box(0, 0, length, 100), 20), ("oak",))
        for i, length in enumerate(parts)
    ]
    return Problem(needs, wood, NO_SAW)


def laid_out(problem, boards):
    """Return the plan with the given needs on each board, and the others missing."""
    missing, states = [1] * len(problem.needs), []
    for board, needs in enumerate(boards):
        state = BoardState(board)
        for need in needs:
            state = state.with_part(state.spot(need, problem))
            missing[need] -= 1
        states.append(state)
    return PlanState(tuple(states), tuple(missing))


def is_legal(plan, problem):
    return all(check_nest(nest_of(state, problem), problem.rules) == () for state in plan.states)


def test_a_board_is_saved_by_an_exchange_that_no_straight_move_makes():
    """400 goes to the first board for 300, which the third has room for."""
    problem = problem_of([1000, 1000, 1000], [600, 300, 400, 650])
    plan = laid_out(problem, [[0, 1], [2], [3]])
    after = chained(plan, 1, problem, np.random.default_rng(1))
    assert after.missing == (0, 0, 0, 0)
    assert [sorted(laid.need for laid in state.laid) for state in after.states] == [
        [0, 2], [], [1, 3],
    ]  # fmt: skip
    assert is_legal(after, problem)


def test_a_missing_part_gets_in_for_two_that_lie_elsewhere_as_well():
    problem = problem_of([920, 460, 460], [450, 450, 900])
    plan = laid_out(problem, [[0, 1], [], []])
    found = [chained(plan, None, problem, np.random.default_rng(seed)) for seed in range(12)]
    assert any(after.missing == (0, 0, 0) for after in found)
    assert all(is_legal(after, problem) for after in found)


def test_a_chain_that_breaks_leaves_over_what_it_could_not_place():
    problem = problem_of([1000, 1000], [600, 700])
    plan = laid_out(problem, [[0], [1]])
    after = chained(plan, 0, problem, np.random.default_rng(1))
    assert sum(after.missing) == 1
    assert is_legal(after, problem)


def test_nothing_missing_leaves_the_plan_as_it_is():
    problem = problem_of([1000, 1000], [600])
    plan = laid_out(problem, [[0], []])
    assert chained(plan, None, problem, np.random.default_rng(1)).missing == (0,)


def test_a_closed_board_is_opened_in_place_of_one_only_if_it_is_smaller_and_suits():
    problem = problem_of([1000, 1000, 1200, 600, 300], [500])
    plan = laid_out(problem, [[0], [], [], [], []])
    found = [chained(plan, 0, problem, np.random.default_rng(seed)) for seed in range(12)]
    assert {tuple(after.opened) for after in found} == {(), (3,)}
    assert all(sum(after.missing) + len(after.opened) == 1 for after in found)


@pytest.mark.parametrize("seed", range(8))
def test_chains_satisfy_the_referee_and_lose_no_part(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(4)]
    needs = [random_need(rng, f"P{i}") for i in range(8)]
    problem = Problem(needs, boards, Rules())
    plan = empty_plan(problem)
    copies = [n for n, need in enumerate(needs) for _ in range(need.quantity)]
    plan = insert_all(plan, ordered(copies, problem, Order.AREA), problem)
    for emptied in [None, *plan.opened]:
        after = chained(plan, emptied, problem, rng)
        counts = np.array(after.missing)
        for state in after.states:
            for laid in state.laid:
                counts[laid.need] += 1
        assert counts.tolist() == [need.quantity for need in needs]
        assert is_legal(after, problem)
