"""The quick look never says no where there is room."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need, star
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.board_state import BoardState
from nesting.engine.problem import Problem
from nesting.engine.runs import STEP_MM, least_heights, longest_runs, may_hold
from nesting.rules import Rules


def runs_of(free):
    return longest_runs(free, free.bounds[0], free.bounds[2])


def test_rectangle_fits_between_its_runs_and_no_higher_one_does():
    free = box(0, 0, 1000, 100)
    assert may_hold(runs_of(free), least_heights(box(0, 0, 1000, 100)))
    assert not may_hold(runs_of(free), least_heights(box(0, 0, 1000, 101)))
    assert not may_hold(runs_of(free), least_heights(box(0, 0, 1050, 20)))


def test_gap_too_short_for_a_part_is_seen():
    free = box(0, 0, 400, 100).union(box(400, 0, 600, 30)).union(box(600, 0, 900, 100))
    assert may_hold(runs_of(free), least_heights(box(0, 0, 400, 100)))
    assert not may_hold(runs_of(free), least_heights(box(0, 0, 500, 100)))


def test_heights_are_of_one_stretch_of_wood():
    fork = box(0, 0, 100, 100).difference(box(25, 40, 100, 60))
    assert least_heights(fork) == pytest.approx([100, 40, 40, 40])


def test_wedge_has_its_lesser_height_at_every_step():
    wedge = Polygon([(0, 0), (100, 0), (100, 50)])
    assert least_heights(wedge) == pytest.approx([0, 12.5, 25, 37.5])


def test_what_is_shorter_than_a_step_is_never_turned_away():
    assert may_hold(np.zeros(5), least_heights(box(0, 0, STEP_MM - 1, 90)))


@given(seed=st.integers(0, 10**6), x=st.floats(0, 40), y=st.floats(0, 5))
@settings(max_examples=80)
def test_figure_always_fits_where_it_was_cut_out(seed, x, y):
    rng = np.random.default_rng(seed)
    shape = affinity.translate(star(rng, 120.0, 9), 200 + x, 150 + y)
    free = box(0, 0, 500, 300).difference(box(0, 0, 500, 300).difference(shape).buffer(-1e-4))
    runs = longest_runs(free, 0, 500)
    assert may_hold(runs, least_heights(shape))


@given(seed=st.integers(0, 10**6))
@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])
def test_answers_of_a_board_are_those_without_the_quick_look(seed):
    rng = np.random.default_rng(seed)
    problem = Problem(
        [random_need(rng, f"P{i}") for i in range(5)], [random_board(rng, "B")], Rules()
    )
    state = BoardState(0)
    for need in (0, 1, 2, 3, 4, 0, 1):
        laid = state.spot(need, problem)
        if laid is not None:
            state = state.with_part(laid)
            continue
        for figure in problem.turnings(need, 0, is_leaning=False):
            proposals = state._proposals(need, figure, problem, (1.0, 0.02))
            assert state._first_good(need, figure, problem, proposals) is None
