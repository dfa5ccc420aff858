"""Parts go back where the last plan had them, and nowhere that the referee would not pass."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.search.homes import forced_home, row_of, sent_home, without_homes
from nesting.engine.search.kept_places import still_sound, wanted_still
from nesting.engine.search.steering import steering_of
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import outlay
from nesting.need import Need
from nesting.nest import At, Placement
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.wishes import NO_WISHES, FromBoards, Use, Used, Wishes

RULES = Rules()
RAIL = Need("rail", "drawn", Outline(box(0, 0, 400, 50), 20), ("teak",), 2)
CLEAT = Need("cleat", "drawn", Outline(box(0, 0, 200, 50), 20), ("teak",))
A, B = (Board.rectangle(name, 1000, 200, 30, "teak") for name in "AB")
LAST = (At("A", Placement(RAIL, 10, 10)), At("A", Placement(RAIL, 500, 10, copy=2)))


def begun(wishes=NO_WISHES, price=5e4, needs=(RAIL, CLEAT), last=LAST):
    made = steering_of(needs, [A, B], RULES, wishes, last, price)
    return made.begin, made.searcher.problem


def elsewhere(plan, problem, board, x, y, which=0):
    """Return the plan with a part of its first board taken to another place."""
    laid = plan.states[0].laid[which]
    plan = plan.without({0: {which}})
    moved = Laid(laid.need, laid.figure, x, y)
    return plan.with_state(plan.states[board].with_part(moved))


def rows(plan):
    return sorted((state.board, row_of(laid)) for state in plan.states for laid in state.laid)


def test_part_goes_home_from_another_board_and_from_its_own():
    plan, problem = begun()
    for board, y in ((1, 10.0), (0, 120.0)):
        away = elsewhere(plan, problem, board, 10.0, y)
        assert rows(away) != rows(plan)
        assert outlay(away, problem) >= outlay(plan, problem) + 5e4 - 1e-6
        assert rows(sent_home(away, problem)) == rows(plan)


def test_missing_part_goes_home_and_is_not_homeless():
    plan, problem = begun()
    short = plan.without({0: {0}})
    assert without_homes(short, problem) == [1]  # The cleat, which never had a place.
    assert rows(sent_home(short, problem)) == rows(plan)


def test_part_whose_place_is_taken_stays_away_unless_it_is_forced():
    plan, problem = begun()
    away = elsewhere(plan, problem, 1, 10.0, 10.0)
    cleat = Laid(1, problem.figure(1, 0.0, is_over=False), 100.0, 20.0)
    blocked = away.with_state(away.states[0].with_part(cleat))
    assert rows(sent_home(blocked, problem)) == rows(blocked)
    found = forced_home(blocked, problem, np.random.default_rng(0))
    assert rows(found) == rows(plan)
    assert found.missing == (0, 1)


def test_missing_copy_without_a_place_of_its_own_is_homeless():
    plan, problem = begun(needs=(replace(RAIL, quantity=3), CLEAT))
    assert without_homes(plan, problem) == [0, 1]
    assert without_homes(plan.without({0: {1}}), problem) == [0, 1]


def test_part_goes_home_beside_one_that_is_there_already():
    plan, problem = begun()
    away = elsewhere(plan, problem, 1, 10.0, 10.0, which=1)
    assert rows(sent_home(away, problem)) == rows(plan)


def test_of_two_strays_the_one_in_the_way_goes_home_first():
    plan, problem = begun()
    away = elsewhere(plan, problem, 0, 10.0, 120.0)
    away = elsewhere(away, problem, 0, 300.0, 20.0)
    assert rows(sent_home(away, problem)) == rows(plan)


def test_no_closed_board_is_opened_to_send_a_part_home_unless_it_costs_nothing():
    one = {"needs": (replace(RAIL, quantity=1), CLEAT), "last": LAST[:1]}
    plan, problem = begun(**one)
    away = elsewhere(plan, problem, 1, 10.0, 10.0)
    assert rows(sent_home(away, problem)) == rows(away)
    plan, problem = begun(Wishes(used=(Used("w", ("A",), Use.FIRST),)), **one)
    assert rows(sent_home(away, problem)) == rows(plan)


@pytest.mark.parametrize("seed", range(6))
def test_part_that_is_forced_home_is_one_of_its_own_kind_and_nothing_else_moves(seed):
    plan, problem = begun()
    rng = np.random.default_rng(seed)
    assert rows(forced_home(plan, problem, rng)) == rows(plan)
    cleat = Laid(1, problem.figure(1, 0.0, is_over=False), 500.0, 100.0)
    away = elsewhere(plan, problem, 1, 10.0, 10.0)
    away = away.with_state(away.states[1].with_part(cleat))
    found = forced_home(away, problem, rng)
    assert rows(found) == rows(plan.with_state(BoardState(1).with_part(cleat)))


def test_place_that_a_must_forbids_is_no_home():
    kept_off = FromBoards("w", (("rail", 1), ("rail", 2)), ("A",), is_off=True)
    plan, problem = begun(Wishes(from_boards=(kept_off,)))
    assert not plan.opened and not problem.steered.has_homes


def test_only_what_a_nail_touches_is_not_sound_any_more():
    nailed = replace(A, keep_outs=(circle("metal", 100, 30, 5),))
    assert still_sound(LAST, [nailed, B], RULES) == LAST[1:]
    assert still_sound(LAST, [A, B], RULES) == LAST
    assert still_sound(LAST, [B], RULES) == ()


def test_of_two_in_each_others_way_one_stays():
    near = (LAST[0], At("A", replace(LAST[1].placement, x_mm=200)))
    assert len(still_sound(near, [A], RULES)) == 1
    assert still_sound(near[1:], [A], RULES, before=near[:1]) == ()


def test_pieces_no_longer_asked_for_are_left_out():
    assert wanted_still((*LAST, LAST[0]), [RAIL]) == LAST
    one = replace(RAIL, quantity=1)
    assert [(at.piece, at.placement.need) for at in wanted_still(LAST, [one])] == [
        (("rail", 1), one)
    ]
    assert wanted_still(LAST, []) == ()
