"""Time: when a search ends, what is left for what follows it, what is left out. Clocks are fake."""

import math
import time
from concurrent.futures import Future
from dataclasses import replace
from itertools import count

import numpy as np
import pytest
from puzzles import random_board, random_need
from shapely.geometry import Point, box

from nesting.engine import pack as packing
from nesting.engine.proof.bounds import LOADING_SECONDS, Bounds
from nesting.engine.search import meetings
from nesting.engine.search.crew import _given_up, _in_time
from nesting.engine.search.gather import gathered_plan
from nesting.engine.search.lanes import Searcher, Stretch
from nesting.engine.search.reasons import unplaced
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import (
    NO_HURRY,
    Finish,
    FirstOf,
    MaxRounds,
    MaxSeconds,
    Spell,
    kept_back,
    over_in,
)
from nesting.engine.wood import room_bounds
from nesting.engine.wood.room_bounds import Possible, free_region, free_wood
from nesting.foretold import MOST_SHARE, seconds_after, seconds_kept
from nesting.ideal import Limit
from nesting.left_over import NOT_LOOKED_AT, Outlook
from nesting.need import Holes, Misfit, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

RULES = Rules(kerf_mm=2, trim_mm=1, cleaning_loss_mm=0)


class Clock:
    """A clock that stands still until it is set, or goes on by so much whenever it is read."""

    def __init__(self, now=0.0, step=0.0):
        self.now, self.step = now, step

    def __call__(self):
        self.now += self.step
        return self.now


def plank(name="A", length=1000.0, width=100.0, keep_outs=()):
    return Board(name, box(0, 0, length, width), 30, "oak", keep_outs=tuple(keep_outs))


def strip(part="P", length=300.0, width=90.0, quantity=1, **given):
    return Need(part, "any", Outline(box(0, 0, length, width), 20), ("oak",), quantity, **given)


def over_after(looks):
    """Return what says that time is over once it was asked so often."""
    asked = count(1)
    return lambda: next(asked) > looks


# --- Finish and the share that a search leaves -------------------------------------------------


def test_run_counts_its_time_from_its_beginning():
    clock = Clock(107.0)
    finish = Finish.of(10.0, 100.0, clock)
    assert (finish.seconds, finish.seconds_left()) == (10.0, 3.0)
    assert not finish.is_late()
    clock.now = 110.0
    assert finish.is_late()
    clock.now = 130.0
    assert finish.seconds_left() == 0.0


def test_half_of_what_is_left_ends_half_way_and_none_of_it_at_once():
    clock = Clock(106.0)
    half = Finish.of(10.0, 100.0, clock).half_way()
    assert half.seconds_left() == 2.0
    clock.now = 108.0
    assert half.is_late()
    assert Finish.of(10.0, 100.0, clock).half_way().seconds_left() == 1.0
    clock.now = 120.0
    assert Finish.of(10.0, 100.0, clock).half_way().is_late()


def test_no_hurry_is_never_late_however_often_it_is_halved():
    assert NO_HURRY.seconds_left() == math.inf
    assert not NO_HURRY.is_late()
    assert NO_HURRY.half_way() is NO_HURRY


def test_clock_is_no_part_of_what_a_finish_is():
    assert Finish(5.0, 1.0, Clock()) == Finish(5.0, 1.0, Clock(9.0))


@pytest.mark.parametrize("seconds", [0.0, 1.0, 10.0, 60.0, 3600.0])
def test_share_kept_back_is_small_and_has_a_limit(seconds):
    assert 0.0 <= kept_back(seconds) <= min(0.1 * seconds, 5.0)


def test_over_in_goes_by_its_clock_or_by_what_else_ends_it():
    clock, asked = Clock(), []
    is_over = over_in(2.0, lambda: bool(asked), clock)
    assert not is_over()
    clock.now = 2.0
    assert is_over()
    clock.now = 1.0
    asked.append(True)
    assert is_over()
    assert not over_in(None)()


def test_spell_is_spent_in_parts_and_only_while_it_is_begun():
    clock = Clock()
    spell = Spell(3.0, clock)
    for used, left in ((1.0, 3.0), (1.5, 2.0)):
        with spell.begun():
            assert spell.seconds_left == left
            clock.now += used
        clock.now += 100.0
    with spell.begun(most=0.2):
        assert spell.seconds_left == pytest.approx(0.2)
        clock.now += 0.5
        assert spell.is_over()
    with spell.begun():
        assert spell.is_over()
        assert spell.seconds_left == 0.0


def test_spell_without_limit_is_never_over():
    spell = Spell()
    with spell.begun():
        assert not spell.is_over()
        assert spell.seconds_left == math.inf


# --- what the referee and the account will take ------------------------------------------------


def test_more_of_anything_is_foretold_to_take_longer():
    needs, boards = [strip(quantity=5)], [plank("A"), plank("B")]
    base = seconds_after(needs, boards)
    holed = [plank("A", keep_outs=[circle(KeepOutKind.HOLE, 50, 50, 6)] * 500), boards[1]]
    disc = Need("D", "any", Outline(Point(0, 0).buffer(50, quad_segs=2000), 20), ("oak",), 5)
    for more in (
        seconds_after([strip(quantity=900)], boards),
        seconds_after([strip(quantity=90)], [plank(str(n)) for n in range(90)]),
        seconds_after(needs, holed),
        seconds_after([disc], boards),
    ):
        assert more > base
    assert seconds_after(needs, []) < base


def test_round_pieces_that_share_a_board_are_foretold_what_straight_cuts_between_them_take():
    """200 lids on boards of 3000 x 260 mm took 3.7 s of processor time, and 1.3 s were foretold."""
    lid = Need("D", "any", Outline(Point(0, 0).buffer(50, quad_segs=64), 20), ("oak",), 200)
    boards = [plank(str(n), 3000, 260) for n in range(12)]
    assert 3.0 < seconds_after([lid], boards) < 6.0
    assert seconds_after([], boards) < 0.2


def test_boards_that_parts_do_not_fill_are_not_counted_and_many_go_side_by_side():
    needs = [strip(quantity=3)]
    few, more = [plank(str(n)) for n in range(20)], [plank(str(n)) for n in range(2000)]
    assert seconds_after(needs, more) == pytest.approx(seconds_after(needs, few))
    needs = [strip(quantity=5000)]
    assert seconds_after(needs, more, cores=4) < seconds_after(needs, more, cores=1)


@pytest.mark.parametrize("seconds", [0.0, 0.5, 2.0, 60.0])
def test_search_keeps_its_share_however_much_follows(seconds):
    boards = [plank(keep_outs=[circle(KeepOutKind.HOLE, 50, 50, 6)] * 3000)]
    kept = seconds_kept(seconds, [strip(quantity=2000)], boards)
    assert kept <= MOST_SHARE * seconds


# --- other processes ---------------------------------------------------------------------------


def limits(seconds, kept, now, begun=0.0):
    clock = Clock(now)
    stop = FirstOf([MaxSeconds(seconds - kept, clock, begun)])
    return stop, Finish.of(seconds, begun, clock)


def test_processes_are_started_only_where_they_can_still_take_part():
    assert meetings.may_load(*limits(60.0, 5.0, now=3.0))
    assert meetings.may_load(*limits(10.0, 1.0, now=5.0))
    assert not meetings.may_load(*limits(3.0, 0.2, now=1.5))
    assert not meetings.may_load(*limits(3.0, 0.2, now=5.0))
    assert meetings.may_load(MaxRounds(5), NO_HURRY)
    assert meetings.may_load(MaxSeconds(0.1, Clock(), 0.0), NO_HURRY)


def test_others_are_waited_for_no_longer_than_what_was_kept_for_it():
    for seconds, kept in ((2.0, 0.1), (60.0, 4.0), (1000.0, 500.0)):
        stop, finish = limits(seconds, kept, now=0.5)
        assert meetings.patience(stop, finish) == pytest.approx(
            min(meetings.PATIENCE_SECONDS, meetings.PATIENT * kept)
        )
    assert meetings.patience(MaxRounds(3), NO_HURRY) == meetings.PATIENCE_SECONDS


def test_answer_is_given_up_so_long_after_the_end_and_not_before():
    clock, ended = Clock(), []
    is_given_up = _given_up(lambda: bool(ended), 0.5, clock)
    clock.now = 1000.0
    assert not is_given_up()
    ended.append(True)
    assert not is_given_up()
    clock.now = 1000.4
    assert not is_given_up()
    clock.now = 1000.5
    assert is_given_up()


def test_answer_that_is_there_is_taken_even_when_it_is_late():
    done, never_done = Future(), Future()
    done.set_result(7)
    assert _in_time(done, lambda: True) == 7
    assert _in_time(never_done, lambda: True) is None


def test_stretch_begun_later_is_over_at_the_same_time():
    stretch = Stretch(0, (), (), 5, 0, (0.0, 1.0), False, 0, seconds=3.0, seconds_left=9.0)
    later = stretch.later_by(2.0)
    assert (later.seconds, later.seconds_left) == (1.0, 7.0)
    by_rounds = Stretch(0, (), (), 5, 0, (0.0, 1.0), False, 0)
    assert by_rounds.later_by(2.0) is by_rounds


# --- bounds ------------------------------------------------------------------------------------


def random_wood(seed, boards=3, parts=4):
    rng = np.random.default_rng(seed)
    return (
        [random_need(rng, f"P{n}") for n in range(parts)],
        [random_board(rng, f"B{n}") for n in range(boards)],
    )


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("looks", [0, 2, 5])
def test_wood_for_which_there_was_no_time_counts_as_free(seed, looks):
    needs, boards = random_wood(seed)
    is_over = over_after(looks)
    whole, cut = (
        Possible(needs, boards, RULES),
        Possible(needs, boards, RULES, lambda: 0.0 if is_over() else 1.0),
    )
    assert (cut.may >= whole.may).all()
    for board in range(len(boards)):
        for level in range(len(Holes)):
            assert cut.room(board, level) >= whole.room(board, level) - 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_bounds_without_time_hold_and_say_less(seed):
    needs, boards = random_wood(seed)
    full = Bounds(needs, boards, RULES)
    value = full.most_value[0]
    none = Bounds(needs, boards, RULES, Spell(0.0, Clock()))
    found = none.ideal(value, 1e6)
    assert found.most_value == sum(need.worth * need.quantity for need in needs)
    assert found.limit is Limit.WANTED
    assert found.least_opened_mm2 == 0.0
    # A clock that goes on stops it at some stage, whichever.
    for step in (0.01, 0.1, 1.0):
        some = Bounds(needs, boards, RULES, Spell(2.0 + LOADING_SECONDS, Clock(step=step)))
        part = some.ideal(value, 1e6)
        assert part.most_value >= value * (1 - 1e-9)
        assert part.least_opened_mm2 <= full.ideal(value, 1e6).least_opened_mm2 + 1e-6


def test_parts_that_no_board_gives_count_for_nothing_even_where_no_time_is_left():
    needs = [strip("short"), strip("long", length=1500.0), strip("thick")]
    needs[2] = replace(needs[2], outline=replace(needs[2].outline, siding_mm=90))
    plan = packing.pack(needs, [plank()], RULES, **over_before_it_began(1e-3))
    assert plan.ideal.most_value == needs[0].worth
    assert plan.ideal.limit is Limit.NO_BOARD
    assert plan.ideal.least_opened_mm2 == 0.0
    assert {(left.need.part, left.prospect.outlook) for left in plan.unplaced} == {
        ("long", Outlook.NEVER),
        ("thick", Outlook.NEVER),
    }


def test_bounds_with_time_enough_are_those_without_limit():
    needs, boards = random_wood(2)
    full, limited = Bounds(needs, boards, RULES), Bounds(needs, boards, RULES, Spell(1e6, Clock()))
    value = full.most_value[0]
    found, wanted = limited.ideal(value, 1e6), full.ideal(value, 1e6)
    assert found.most_value == pytest.approx(wanted.most_value)
    assert found.least_opened_mm2 == pytest.approx(wanted.least_opened_mm2, rel=1e-5)


def test_what_less_value_needs_is_known_to_be_needed_by_more_when_time_is_over():
    needs, boards = [strip(length=480, quantity=8)], [plank(str(n)) for n in range(5)]
    clock = Clock()
    bounds = Bounds(needs, boards, RULES, Spell(10.0, clock))
    worth = needs[0].worth
    known = bounds.ideal(4 * worth, 5e5).least_opened_mm2
    assert known > 0
    clock.now = 100.0
    with bounds._spell.begun():
        clock.now = 200.0
    assert bounds.ideal(6 * worth, 5e5).least_opened_mm2 == known
    assert bounds.ideal(2 * worth, 5e5).least_opened_mm2 == 0.0


# --- boards with very many keep-outs -----------------------------------------------------------


def test_free_wood_of_a_crowded_board_is_never_measured_too_small(monkeypatch):
    flaws = [
        circle(KeepOutKind.METAL, 12.0 + 9.7 * (n % 100), 10.0 + 7.9 * (n // 100 * 5 % 11), 4)
        for n in range(300)
    ]
    board, needs = plank(keep_outs=flaws), [strip(holes=Holes.PLUGGED)]
    crowded = free_wood(board, Holes.PLUGGED, RULES, needs)
    region = free_region(board, needs[0], RULES)
    monkeypatch.setattr(room_bounds, "MANY", 10**6)
    exact = free_wood(board, Holes.PLUGGED, RULES, needs)
    assert crowded.areas.sum() >= exact.areas.sum()
    assert crowded.areas.sum() == pytest.approx(exact.areas.sum(), rel=0.05)
    assert crowded.rooms.sum() >= exact.rooms.sum()
    assert region.buffer(1e-6).covers(free_region(board, needs[0], RULES))


# --- places and reasons ------------------------------------------------------------------------


def test_place_that_was_not_looked_for_to_the_end_is_not_remembered_as_none():
    problem = Problem([strip()], [plank()], RULES)
    state = BoardState(0)
    assert state.spot(0, problem, is_over=lambda: True) is None
    assert not state.spots
    assert not state.failed
    assert state.spot(0, problem) is not None


def over_before_it_began(seconds=1.0):
    """Return a run's limits on a machine so slow that reading the project took all its time."""
    begun = time.monotonic() - 100.0
    return {"stop": MaxSeconds(seconds, begun=begun), "finish": Finish.of(seconds, begun)}


@pytest.mark.parametrize("asked", [0.5, 1.0, 3.0])
def test_first_plan_is_made_to_its_end_however_slow_the_machine_is(asked):
    needs = [strip(f"P{n}", quantity=2) for n in range(3)]
    plan = packing.pack(needs, [plank("A"), plank("B")], RULES, **over_before_it_began(asked))
    assert sum(len(nest.placements) for nest in plan.nests) == 6


@pytest.mark.parametrize("seed", range(30))
def test_short_run_places_no_less_than_one_without_a_search(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, name) for name in "AB"]
    needs = [random_need(rng, f"P{n}") for n in range(4)]
    # It has room only where it leans, which a quick plan does not try.
    boards.append(plank("C"))
    needs.append(strip("long", length=1000.0, width=8.0))
    at_once = packing.pack(needs, boards, RULES, stop=MaxSeconds(0))
    short = packing.pack(needs, boards, RULES, **over_before_it_began())
    assert short.ideal.value >= at_once.ideal.value - 1e-9


def test_long_run_makes_no_second_first_plan(monkeypatch):
    made = []
    construct = Searcher.construct
    monkeypatch.setattr(
        Searcher,
        "construct",
        lambda self, **given: made.append(given["is_quick"]) or construct(self, **given),
    )
    begun = time.monotonic()
    limits = {"stop": FirstOf([MaxSeconds(60.0, begun=begun), MaxRounds(2)])}
    finish = Finish.of(70.0, begun)
    packing.pack([strip(quantity=9)], [plank()], RULES, finish=finish, **limits)
    assert made == [True]


@pytest.mark.parametrize("looks", [0, 1, 3, 6, 10])
def test_first_plan_that_is_cut_short_leaves_the_rest_over(looks):
    needs = [strip(f"P{n}", quantity=2) for n in range(3)]
    here = Searcher(needs, [plank("A"), plank("B")], RULES)
    plan = here.construct(is_quick=True, is_over=over_after(looks))
    placed = sum(len(parts) for parts in plan.best)
    assert placed <= 6
    assert placed <= looks
    assert sum(len(parts) for parts in here.construct(is_quick=True).best) == 6


@pytest.mark.parametrize("looks", [0, 1, 2, 4, 8, 16])
def test_reason_that_there_was_no_time_for_claims_nothing(looks):
    needs = [strip("P", quantity=4), strip("Q", length=1200.0)]
    problem = Problem(needs, [plank()], RULES)
    plan = PlanState((BoardState(0),), (4, 1))
    whole = {left.need.part: left for left in unplaced(plan, problem)}
    fresh = Problem(needs, [plank()], RULES)
    for left in unplaced(PlanState((BoardState(0),), (4, 1)), fresh, is_over=over_after(looks)):
        told = whole[left.need.part]
        assert left.prospect == NOT_LOOKED_AT or left.prospect.outlook is told.prospect.outlook
        assert left.reason in (told.reason, Misfit.NO_ROOM)
        assert set(left.prospect.remedies) <= set(told.prospect.remedies)


def test_boards_are_not_gathered_where_time_is_over_or_too_short_for_them():
    needs = [strip(length=200, width=40, quantity=1)]
    flaws = [circle(KeepOutKind.HOLE, 500 + n % 400, 80, 6) for n in range(300)]
    problem = Problem(needs, [plank(length=2000, keep_outs=flaws)], RULES)
    figure = problem.figure(0, 0.0, is_over=False)
    laid = BoardState(0).best_place(0, figure, problem, (1.0, 0.02), (600, 0, 900, 60))
    assert laid is not None
    plan = PlanState((BoardState(0).with_part(laid),), (0,))
    assert gathered_plan(plan, problem).states[0] is not plan.states[0]
    clock = Clock()
    for seconds in (0.0, 1e-3):
        finish = Finish.of(seconds, 0.0, clock)
        kept = gathered_plan(plan, problem, finish.is_late, finish.seconds_left)
        assert kept.states[0] is plan.states[0]
    finish = Finish.of(60.0, 0.0, clock)
    kept = gathered_plan(plan, problem, finish.is_late, finish.seconds_left)
    assert kept.states[0] is not plan.states[0]
