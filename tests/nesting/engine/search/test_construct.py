"""Which part comes next, which board it tries first, and what is left when none has room."""

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.search import construct
from nesting.engine.search.construct import Manner, Order, insert_all, ordered
from nesting.engine.state.board_state import TOWARD_LEFT, BoardState
from nesting.engine.state.plan_state import PlanState, empty_plan
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def part(name, length, width=100.0, **given):
    outline = Outline(box(0, 0, length, width), given.pop("siding", 20))
    return Need(name, "any", outline, given.pop("species", ("oak",)), **given)


def wood(name, length, width=100.0, *, thickness=30.0, species="oak"):
    return Board(name, box(0, 0, length, width), thickness, species)


def problem_of(lengths, boards, **given):
    needs = [part(f"P{i}", length, **given) for i, length in enumerate(lengths)]
    return Problem(needs, [wood(f"B{i}", long) for i, long in enumerate(boards)], NO_SAW)


def boards_of(plan):
    return [[laid.need for laid in state.laid] for state in plan.states]


def test_each_order_puts_first_what_its_name_says():
    needs = [
        part("cheap", 500, 60, value=1.0),
        part("long", 900, 20, value=2.0),
        part("dear", 100, 20, value=9.0),
        part("rare", 300, 60, value=1.5, species=("teak",)),
    ]
    boards = [wood("A", 1000), wood("B", 1000), wood("T", 1000, species="teak")]
    problem = Problem(needs, boards, NO_SAW)
    first = {order: ordered(range(4), problem, order) for order in Order}
    assert first[Order.WORTH] == [2, 1, 3, 0]
    assert first[Order.AREA] == [0, 1, 3, 2]
    assert first[Order.LENGTH] == [1, 0, 3, 2]
    # Area by the square of one more than its boards: 30000/9, 18000/9, 2000/9, 18000/4.
    assert first[Order.FEW_BOARDS] == [3, 0, 1, 2]
    upright = Problem([part("A", 50, 90), part("B", 80, 20)], [wood("A", 1000)], NO_SAW)
    assert ordered([1, 0], upright, Order.LENGTH) == [0, 1]


def test_copies_stay_together_and_equal_parts_come_by_number():
    problem = problem_of([200, 300, 200], [1000])
    assert ordered([2, 0, 1, 2, 0], problem, Order.AREA) == [1, 0, 0, 2, 2]


def test_noise_mixes_parts_of_like_size_and_leaves_unlike_ones():
    problem = problem_of([300, 310, 20], [1000])
    rng = np.random.default_rng(1)
    seen = {tuple(ordered(range(3), problem, Order.AREA, rng, 0.4)) for _ in range(40)}
    assert seen == {(1, 0, 2), (0, 1, 2)}
    assert ordered(range(3), problem, Order.AREA, rng, 0.0) == [1, 0, 2]
    assert ordered(range(3), problem, Order.AREA, None, 0.4) == [1, 0, 2]


def test_opened_boards_come_first_then_thin_ones_then_full_ones():
    boards = [
        wood("closed", 600), wood("emptier", 1000), wood("fuller", 1000),
        wood("thick", 900, thickness=40), wood("full", 400), wood("small", 250),
    ]  # fmt: skip
    problem = Problem([part("P", 300), part("Q", 400), part("R", 500)], boards, NO_SAW)
    plan = empty_plan(problem)
    for board, need in ((1, 1), (2, 2), (3, 1), (4, 0)):
        plan = plan.with_state(plan.states[board].with_part(plan.states[board].spot(need, problem)))
    known = construct._Boards(plan.states, problem)
    # The full one has no area left, the small one is too short; 300 mm go on the fuller at last.
    assert known.for_need(0) == [2, 1, 3, 0]
    known.take(plan.states[2].with_part(plan.states[2].spot(0, problem)))
    assert known.for_need(0) == [1, 3, 0]
    known.take(BoardState(1))
    assert known.for_need(0) == [3, 0, 1]


def test_quick_plan_on_very_many_boards_asks_a_few_with_length_then_a_few_with_area(monkeypatch):
    monkeypatch.setattr(construct, "MANY_BOARDS", 6)
    monkeypatch.setattr(construct, "FEW_OPENED", 2)
    needs = [
        part("P", 300), part("Q", 500), part("half", 695, 50), part("L", 640), part("N", 645),
        part("exact", 690, 50), part("thin", 480, 5),
    ]  # fmt: skip
    rules = Rules(kerf_mm=10, trim_mm=0, cleaning_loss_mm=0)
    problem = Problem(needs, [wood(f"B{i}", 1000) for i in range(9)], rules)
    plan = empty_plan(problem)
    for board, need in enumerate([1, 1, 5, 2, 2, 2, 3, 4]):
        plan = plan.with_state(plan.states[board].with_part(plan.states[board].spot(need, problem)))
    known = construct._Boards(plan.states, problem)
    # 640 mm leave 360 for 300 and the saw, 1.2 times the area, 645 leave less area; 695 of half a
    # board leave area enough, but no length, and 690 just so much. Board 8 is closed.
    every = [7, 6, 0, 1, 3, 4, 5, 2, 8]
    assert known.for_need(0, is_quick=True) == [6, 0, 3, 4, 8]
    assert known.for_need(0) == every
    monkeypatch.setattr(construct, "FEW_OPENED", 4)
    assert known.for_need(0, is_quick=True) == [6, 0, 1, 2, 3, 4, 5, 8]
    known.take(plan.states[0].with_part(plan.states[0].spot(6, problem)))
    assert known.for_need(0, is_quick=True) == [6, 1, 2, 0, 3, 4, 5, 8]  # no length left on 0
    monkeypatch.setattr(construct, "MANY_BOARDS", 9)
    assert construct._Boards(plan.states, problem).for_need(0, is_quick=True) == every


def test_parts_go_on_the_fullest_opened_board_and_what_has_no_room_is_left():
    problem = problem_of([600, 500, 400, 950, 100], [1000, 1000])
    plan = insert_all(empty_plan(problem), range(5), problem)
    assert boards_of(plan) == [[0, 2], [1, 4]]
    assert plan.missing == (0, 0, 0, 1, 0)


class Crowding:
    """Stand in for a crowder that has room on one board only; knows what it was asked."""

    def __init__(self, board=None):
        self.board, self.asked = board, []

    def inserted(self, state, need, rng):
        self.asked.append(state.board)
        if state.board != self.board:
            return None
        return BoardState(state.board, (*state.laid, *state.laid[:1]), state.used_mm2)


def half_full(problem, boards):
    plan = empty_plan(problem)
    for board in boards:
        plan = plan.with_state(plan.states[board].with_part(plan.states[board].spot(0, problem)))
    return PlanState(plan.states, tuple(problem.needs[n].quantity for n in range(2)))


def test_room_is_made_on_two_opened_boards_at_most_for_what_finds_none():
    problem = problem_of([600, 500], [1000] * 5 + [400])
    plan = half_full(problem, range(5))
    seen = set()
    for seed in range(12):
        crowder = Crowding()
        manner = Manner(np.random.default_rng(seed), 0.0, TOWARD_LEFT, crowder)
        after = insert_all(plan, [1], problem, manner)
        assert after.missing == plan.missing
        assert len(set(crowder.asked)) == 2
        seen |= set(crowder.asked)
    assert seen == set(range(5))
    crowder = Crowding(board=crowder.asked[0])
    manner = Manner(np.random.default_rng(11), 0.0, TOWARD_LEFT, crowder)
    after = insert_all(plan, [1], problem, manner)
    assert after.missing == (1, 0)
    assert len(after.states[crowder.board].laid) == 2


def test_boards_are_passed_over_as_often_as_chance_says():
    problem = problem_of([600], [1000, 1000])
    plan = empty_plan(problem)
    rng = np.random.default_rng(0)
    placed = sum(
        not insert_all(plan, [0], problem, Manner(rng, 0.5, TOWARD_LEFT)).missing[0]
        for _ in range(200)
    )
    assert placed == pytest.approx(150, abs=25)
    drifted = insert_all(plan, [0], problem, Manner(rng, 0.0, (-1.0, 0.02)))
    assert drifted.states[0].laid[0].figure.box[0] + drifted.states[0].laid[0].x_mm == 400.0


def test_time_that_ends_on_the_way_leaves_the_rest_over():
    problem = problem_of([600, 300, 200], [1000, 1000])
    asked = iter([False] * 4 + [True] * 99)
    plan = insert_all(empty_plan(problem), [0, 1, 2], problem, None, lambda: next(asked))
    assert plan.missing[0] == 0
    assert plan.missing[2] == 1


def test_boards_are_known_as_they_are_after_each_part():
    """800 open the long board; 150 more go there and not on the shorter one, which is closed."""
    problem = problem_of([800, 150], [600, 1000])
    assert boards_of(insert_all(empty_plan(problem), [0, 1], problem)) == [[], [0, 1]]


def test_a_board_with_the_area_but_no_room_is_passed_over():
    needs = [part("half", 800, 50), part("P", 300)]
    problem = Problem(needs, [wood("A", 1000), wood("B", 1000)], NO_SAW)
    assert boards_of(insert_all(empty_plan(problem), [0, 1], problem)) == [[0], [1]]


@pytest.mark.parametrize(("rare_width", "first"), [(40, 0), (50, 1)])
def test_half_as_many_boards_make_up_for_less_than_half_the_area(rare_width, first):
    """30,000 mm2 on two boards are 30,000 / 9, and 12,000 or 15,000 on one are a quarter."""
    needs = [part("plenty", 300), part("rare", 300, rare_width, species=("teak",))]
    boards = [wood("A", 1000), wood("B", 1000), wood("T", 1000, species="teak")]
    assert ordered([0, 1], Problem(needs, boards, NO_SAW), Order.FEW_BOARDS)[0] == first
