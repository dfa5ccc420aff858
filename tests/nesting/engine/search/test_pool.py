import pytest
from shapely.geometry import box

from nesting.engine.search.pool import Fillings
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plain_numbers import parts_of, plan_of, written
from nesting.engine.state.plan_state import board_outlay, cost, empty_plan, outlay
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def problem_of(quantities, lengths, boards=(1000.0, 1000.0, 600.0)):
    needs = [
        Need(f"P{i}", "any", Outline(box(0, 0, length, 100), 20), ("teak",), quantity)
        for i, (quantity, length) in enumerate(zip(quantities, lengths, strict=True))
    ]
    stock = [Board(f"B{i}", box(0, 0, long, 100), 20, "teak") for i, long in enumerate(boards)]
    return Problem(needs, stock, NO_SAW)


def laid_in_a_row(problem, board, needs):
    """Return a board with parts one after another from its left end."""
    state, x = BoardState(board), 0.0
    for need in needs:
        figure = problem.figure(need, 0.0, is_over=False)
        state = state.with_part(Laid(need, figure, x, 0.0))
        x += problem.needs[need].outline.length_mm
    return state


def plan_with(problem, *states):
    plan = empty_plan(problem)
    for state in states:
        plan = plan.with_state(state)
    return plan


def pool_of(problem, *plans):
    pool = Fillings(problem)
    for plan in plans:
        pool.add((state.board, parts_of(state)) for state in plan.states)
    return pool


def needs_on(plan):
    return [sorted(laid.need for laid in state.laid) for state in plan.states]


def test_good_boards_of_two_plans_make_one_better_than_either():
    problem = problem_of([1, 1, 1], [600, 400, 600])
    full, short = laid_in_a_row(problem, 0, [0, 1]), laid_in_a_row(problem, 2, [2])
    first = plan_with(problem, full, laid_in_a_row(problem, 1, [2]))
    second = plan_with(
        problem, laid_in_a_row(problem, 0, [0]), laid_in_a_row(problem, 1, [1]), short
    )
    found = pool_of(problem, first, second).recombined(first)
    assert needs_on(found) == [[0, 1], [], [2]]
    assert outlay(found, problem) < min(outlay(first, problem), outlay(second, problem))


def test_a_smaller_filling_of_other_parts_is_not_passed_over_for_a_larger():
    """The larger board is needed for the long part, though more parts lay on it before."""
    problem = problem_of([2, 1], [300, 900], boards=(1000.0, 600.0))
    known = plan_with(problem, laid_in_a_row(problem, 0, [0, 0]))
    other = plan_with(problem, laid_in_a_row(problem, 1, [0, 0]), laid_in_a_row(problem, 0, [1]))
    pool = pool_of(problem, known, other)
    assert needs_on(pool.recombined(known)) == [[1], [0, 0]]


def test_prices_stay_as_they_are_when_nothing_new_came():
    problem = problem_of([1, 1], [600, 400])
    pool = pool_of(problem, plan_with(problem, laid_in_a_row(problem, 0, [0, 1])))
    pool.recombined(empty_plan(problem))
    first = pool.prices
    assert sum(first) > 0
    pool.recombined(empty_plan(problem))
    assert pool.prices == pytest.approx(first)


def test_prices_are_the_wood_that_the_parts_take():
    problem = problem_of([1, 1], [600, 400], boards=(1000.0, 1000.0))
    boards = (laid_in_a_row(problem, board, [0, 1]) for board in (0, 1))
    pool = pool_of(problem, *(plan_with(problem, board) for board in boards))
    pool.recombined(empty_plan(problem))
    assert sum(pool.prices) == pytest.approx(1000 * 100)


def test_a_plan_that_leaves_one_part_over_beats_one_that_leaves_two():
    problem = problem_of([1, 1], [600, 700], boards=(1000.0,))
    pool = pool_of(problem, plan_with(problem, laid_in_a_row(problem, 0, [1])))
    assert needs_on(pool.recombined(empty_plan(problem))) == [[1]]


def test_what_is_placed_twice_too_often_is_taken_off_twice():
    problem = problem_of([1, 1, 1, 1], [300, 400, 500, 600], boards=(1000.0, 950.0, 930.0))
    pool = pool_of(
        problem,
        *(plan_with(problem, laid_in_a_row(problem, b, [0, b + 1])) for b in range(3)),
    )
    found = pool.recombined(empty_plan(problem))
    assert found.missing == (0, 0, 0, 0)
    assert sorted(need for needs in needs_on(found) for need in needs) == [0, 1, 2, 3]


def test_what_is_placed_once_too_often_is_taken_off_the_emptiest_board():
    problem = problem_of([1, 1, 1], [600, 400, 500], boards=(1000.0, 950.0))
    one, other = laid_in_a_row(problem, 0, [0, 1]), laid_in_a_row(problem, 1, [1, 2])
    pool = pool_of(problem, plan_with(problem, one), plan_with(problem, other))
    found = pool.recombined(plan_with(problem, one))
    assert found.missing == (0, 0, 0)
    assert needs_on(found) == [[0, 1], [2]]


def test_nothing_comes_of_a_pool_that_beats_nothing():
    problem = problem_of([1], [600])
    plan = plan_with(problem, laid_in_a_row(problem, 2, [0]))
    pool = pool_of(problem, plan)
    assert pool.recombined(plan) is None
    assert len(pool.prices) == 1


def test_the_pool_keeps_each_choice_of_parts_once_and_says_when_it_is_worth_a_look():
    problem = problem_of([2, 1], [300, 400])
    pool = pool_of(problem, plan_with(problem, laid_in_a_row(problem, 0, [0, 1])))
    assert pool.is_worth_a_look
    pool.recombined(empty_plan(problem))
    pool.add([(0, parts_of(laid_in_a_row(problem, 0, [1, 0])))])
    assert len(pool) == 1
    assert not pool.is_worth_a_look
    pool.add([(0, parts_of(laid_in_a_row(problem, 0, [0, 0, 1])))])
    assert pool.is_worth_a_look


def test_a_plan_comes_back_from_its_numbers_as_it_was():
    problem = problem_of([1, 1], [600, 400])
    plan = plan_with(problem, laid_in_a_row(problem, 0, [0, 1]))
    again = plan_of(written(plan), problem)
    assert (needs_on(again), again.missing) == (needs_on(plan), plan.missing)
    assert outlay(again, problem) == outlay(plan, problem)


def test_what_lay_on_a_board_before_is_missing_when_something_else_lies_there():
    problem = problem_of([2, 1], [300, 400])
    plan = plan_with(problem, laid_in_a_row(problem, 0, [0, 0]), laid_in_a_row(problem, 1, [1]))
    assert plan.missing == (0, 0)
    other = plan.with_state(laid_in_a_row(problem, 0, [0]))
    assert (needs_on(other), other.missing) == ([[0], [1], []], (1, 0))


def test_parts_taken_off_are_missing_and_an_empty_board_is_not_opened():
    problem = problem_of([2, 1], [300, 400])
    both = laid_in_a_row(problem, 0, [0, 1, 0])
    plan = plan_with(problem, both, laid_in_a_row(problem, 1, [1]))
    fewer = plan.without({0: {0, 1}, 1: {0}})
    assert needs_on(fewer) == [[0], [], []]
    assert (plan.missing, fewer.missing) == ((0, -1), (1, 1))
    assert fewer.opened == [0]
    assert fewer.states[0].laid == both.laid[2:]
    assert fewer.states[0].used_mm2 == pytest.approx(300 * 100)
    assert (fewer.states[1].board, fewer.states[1].used_mm2) == (1, 0)


def test_value_that_is_missing_is_dearer_than_all_wood():
    problem = problem_of([2, 1], [300, 400])
    worth = [need.worth for need in problem.needs]
    nothing = outlay(empty_plan(problem), problem)
    assert nothing == pytest.approx((2 * worth[0] + worth[1]) * problem.dearness)
    one = plan_with(problem, laid_in_a_row(problem, 2, [0]))
    assert outlay(one, problem) == pytest.approx((worth[0] + worth[1]) * problem.dearness + 60_000)
    everywhere = plan_with(problem, *(laid_in_a_row(problem, b, [0]) for b in range(3)))
    assert outlay(everywhere, problem) < nothing


def test_search_likes_one_full_and_one_empty_board_better_than_two_half_full():
    problem = problem_of([2], [500])
    full = plan_with(problem, laid_in_a_row(problem, 0, [0, 0]))
    halves = plan_with(problem, laid_in_a_row(problem, 0, [0]), laid_in_a_row(problem, 1, [0]))
    assert cost(full, problem) == pytest.approx(outlay(full, problem) - 0.15 * 100_000)
    assert cost(halves, problem) == pytest.approx(outlay(halves, problem) - 0.15 * 2 * 25_000)


def test_planing_a_thick_board_away_counts_a_tenth_of_the_wood():
    problem = problem_of([1], [600])
    thick = Problem(problem.needs, [Board("T", box(0, 0, 600, 100), 40, "teak")], NO_SAW)
    assert board_outlay(0, {0: 1}, problem) == pytest.approx(100_000)
    assert board_outlay(0, {0: 1}, thick) == pytest.approx(60_000 + 0.1 * 30_000)
