"""Boards laid anew so that more comes free by straight cuts; the same parts stay on them."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import box

from nesting.break_down.cutting_order import broken_down
from nesting.engine.pack import pack
from nesting.engine.search.tidy import tidied_plan
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import MaxRounds
from nesting.need import Need
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board

RULES = Rules(break_down="preferred")
LATHS = [(200, 80), (80, 200), (200, 80), (80, 200)]


def needs():
    return [
        Need(f"lath {n}", "", Outline(box(0, 0, *size), 20, slope_of_grain=1), ("teak",))
        for n, size in enumerate(LATHS)
    ]


def pinwheel(length):
    """Four laths around a hole in their middle: no straight cut parts them."""
    gap = RULES.part_gap_mm
    far = 5 + 280 + gap
    board = Board.rectangle("B", length, 800, 30, "teak")
    problem = Problem(needs(), [board], RULES)
    corners = [(5, 5), (5 + 200 + gap, 5), (far - 200, 5 + 200 + gap), (5, 5 + 80 + gap)]
    state = BoardState(0)
    for number, (x, y) in enumerate(corners):
        state = state.with_part(Laid(number, problem.figure(number, 0.0, is_over=False), x, y))
    return problem, PlanState((state,), (0,) * 4)


def test_pinwheel_is_laid_so_that_it_comes_free():
    problem, plan = pinwheel(1200)
    tidy, eased = tidied_plan(plan, problem)
    assert (eased.freed_without, eased.freed) == (0, 4)
    assert sorted(laid.need for laid in tidy.states[0].laid) == [0, 1, 2, 3]
    assert tidy.missing == plan.missing


def test_board_on_which_all_comes_free_is_left_alone():
    problem, plan = pinwheel(1200)
    once, _ = tidied_plan(plan, problem)
    again, eased = tidied_plan(once, problem)
    assert again.states[0] is once.states[0]
    assert eased.price_mm2 == 0


def test_nothing_is_tried_when_time_is_over():
    problem, plan = pinwheel(1200)
    tidy, eased = tidied_plan(plan, problem, lambda: True)
    assert tidy.states == plan.states
    assert eased.freed == eased.freed_without == 0


def test_preferred_plan_is_sound_and_opens_no_more_and_says_its_price():
    wanted = [replace(need, quantity=3) for need in needs()]
    boards = [Board.rectangle(f"B{n}", 700, 400, 30, "teak") for n in range(3)]
    plain = pack(wanted, boards, Rules(), stop=MaxRounds(3), seed=1)
    eased = pack(wanted, boards, RULES, stop=MaxRounds(3), seed=1)
    assert plain.eased is None
    assert eased.opened_mm2 == plain.opened_mm2
    assert not check_plan(eased, wanted, RULES)
    freed = sum(broken_down(nest, (), RULES).parts_freed for nest in plain.nests)
    assert eased.eased.freed >= eased.eased.freed_without
    assert freed >= eased.eased.freed_without
