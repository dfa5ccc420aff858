"""The quick look never says no where there is room, and its kernels do what they say."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need, star
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from nesting.engine.geometry.no_fit import joined, legal_spots
from nesting.engine.state.board_state import TOWARD_LEFT, BoardState
from nesting.engine.state.problem import Problem
from nesting.engine.wood.runs import (
    SLACK_MM,
    STEP_MM,
    Runs,
    nearly_holds,
    runs_of,
    windows,
    wood_of,
)
from nesting.engine.wood.runs_numba import MOST, standing
from nesting.rules import Rules

seeds = st.integers(0, 10**6)


def looked(free, shape):
    """Windows for a shape whose origin is its box's lower left corner."""
    x0, y0, x1, y1 = free.bounds
    a, b, c, d = shape.bounds
    limit = (x0 - a, y0 - b, x1 - c, y1 - d)
    return windows(runs_of(free, x0, x1), wood_of(shape), a, limit) if limit[0] <= limit[2] else []


def test_rectangle_stands_between_its_edges_and_no_higher_one_does():
    free = box(0, 0, 1000, 100)
    assert looked(free, box(0, 0, 1000, 100)) == [(0, 0, 0, 0)]
    assert looked(free, box(0, 0, 1000, 101)) == []
    assert looked(free, box(0, 0, 1050, 20)) == []


def test_gap_too_short_for_a_part_is_seen():
    free = box(0, 0, 400, 100).union(box(400, 0, 600, 30)).union(box(600, 0, 900, 100))
    assert looked(free, box(0, 0, 500, 100)) == []
    found = looked(free, box(0, 0, 200, 100))
    assert min(window[0] for window in found) == 0
    assert all(window[2] <= 200 + STEP_MM or window[0] >= 600 - STEP_MM for window in found)


def test_passages_that_do_not_meet_hold_no_strip():
    free = box(0, 0, 500, 40).union(box(500, 60, 1000, 100)).union(box(495, 0, 505, 100))
    assert looked(free, box(0, 0, 600, 30)) == []


def test_window_is_as_high_as_the_free_stretch_allows():
    (window,) = looked(box(0, 0, 500, 100), box(0, 0, 200, 70))
    assert window[1] == pytest.approx(0, abs=2 * SLACK_MM)
    assert window[3] == pytest.approx(30, abs=2 * SLACK_MM)


def test_wood_of_a_fork_is_its_handle_then_its_lower_prong():
    fork = box(0, 0, 100, 100).difference(box(25, 45, 100, 60))
    wood = wood_of(fork)
    assert wood[:2] == pytest.approx(np.array([[0, 100]] * 2))
    assert wood[2:] == pytest.approx(np.array([[0, 45]] * 6))


def test_wedge_has_its_lesser_height_at_every_step():
    wood = wood_of(Polygon([(0, 0), (50, 0), (50, 40)]))
    assert wood[:, 1] - wood[:, 0] == pytest.approx([0, 10, 20, 30])


def test_what_is_shorter_than_a_step_is_never_turned_away():
    free = box(0, 0, 90, 90)
    assert looked(free, box(0, 0, STEP_MM - 1, 90)) == [(0, 0, 90 - STEP_MM + 1, 0)]


def test_board_that_is_all_taken_holds_nothing():
    assert looked(box(0, 0, 5, 50), box(0, 0, 5, 60)) == []
    nothing = runs_of(Polygon(), 0, 100)
    assert windows(nothing, wood_of(box(0, 0, 30, 10)), 0, (0, 0, 70, 90)) == []
    assert not nearly_holds(nothing, wood_of(box(0, 0, 60, 10)), 0.9)


@given(seed=seeds)
@settings(max_examples=60)
def test_free_stretches_are_those_that_shapely_finds(seed):
    rng = np.random.default_rng(seed)
    free = box(0, 0, 300, 200).difference(affinity.translate(star(rng, 90, 9), 150, 100))
    runs = runs_of(free, 0, 300)
    for k in range(len(runs.first) - 1):
        x = (k + 0.5) * STEP_MM
        line = free.intersection(LineString([(x, -1), (x, 201)]))
        lengths = runs.y[runs.first[k] : runs.first[k + 1]].reshape(-1, 2)
        assert (lengths[:, 1] - lengths[:, 0]).sum() == pytest.approx(line.length, abs=1e-6)
        longest = max((part.length for part in shapely.get_parts(line)), default=0)
        assert runs.longest[k] == pytest.approx(longest, abs=1e-6)


@given(seed=seeds)
@settings(max_examples=60)
def test_wood_of_a_step_lies_in_the_figure(seed):
    shape = star(np.random.default_rng(seed), 100.0, 9)
    low = shape.bounds[0]
    for k, (from_y, to_y) in enumerate(wood_of(shape)):
        if to_y - from_y > 1e-3:
            left, right = low + k * STEP_MM + 1e-6, low + (k + 1) * STEP_MM - 1e-6
            held = box(left, from_y + 1e-4, right, to_y - 1e-4)
            assert shape.buffer(1e-6).contains(held)


def plainly_standing(runs, wood, low, high):
    """The kernel's meaning: try every combination of stretches."""
    found = []
    for start in range(max(0, len(runs.first) - len(wood))):
        kept = [(low, high)]
        for k, (below, above) in enumerate(wood):
            if below > above:
                continue
            ends = runs.y[runs.first[start + k] : runs.first[start + k + 1]].reshape(-1, 2)
            kept = [
                (max(a, p - below - SLACK_MM), min(b, q - above + SLACK_MM))
                for p, q in ends
                if p - below - SLACK_MM <= q - above + SLACK_MM
                for a, b in kept
            ]
            kept = [(a, b) for a, b in kept if a <= b]
        found.append(
            (
                min((a for a, _ in kept), default=math.inf),
                max((b for _, b in kept), default=-math.inf),
            )
        )
    return found


@given(seed=seeds)
@settings(max_examples=60)
def test_standing_agrees_with_its_plain_twin(seed):
    rng = np.random.default_rng(seed)
    free = box(0, 0, 300, 200).difference(
        shapely.union_all([affinity.translate(star(rng, 60, 7), x, 90) for x in (60, 170, 240)])
    )
    runs, wood = runs_of(free, 0, 300), wood_of(star(rng, 45.0, 7))
    found = standing(runs.first, runs.y, wood, -500.0, 500.0, SLACK_MM)
    assert found == pytest.approx(np.array(plainly_standing(runs, wood, -500, 500)))


def test_line_with_more_stretches_than_are_kept_loses_none():
    y = np.arange(4.0 * MOST)
    runs = Runs(0.0, np.array([0, len(y)]), y)
    stands = standing(runs.first, runs.y, np.array([[0.0, 0.5]]), -10.0, 5000.0, 0.0)
    assert stands.tolist() == [[0.0, 4.0 * MOST - 1.5]]


@given(seed=seeds, x=st.floats(0, 40), y=st.floats(0, 5))
@settings(max_examples=80)
def test_figure_always_fits_where_it_was_cut_out(seed, x, y):
    rng = np.random.default_rng(seed)
    shape = star(rng, 120.0, 9)
    hole = affinity.translate(shape, 200 + x, 150 + y)
    found = windows(
        runs_of(hole, 0, 500), wood_of(shape), shape.bounds[0], (0.0, 0.0, 400.0, 300.0)
    )
    at = [w for w in found if w[0] <= 200 + x <= w[2] and w[1] <= 150 + y <= w[3]]
    assert at


@given(seed=seeds)
@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])
def test_windows_leave_the_best_place_where_it_was(seed):
    rng = np.random.default_rng(seed)
    problem = Problem(
        [random_need(rng, f"P{i}") for i in range(5)], [random_board(rng, "B")], Rules()
    )
    state = BoardState(0)
    for need in (0, 1, 2, 3, 4, 0, 1):
        for figure in problem.turnings(need, 0, is_leaning=False):
            limit = problem.grounds[0].limit(figure)
            if limit is None:
                continue
            near = [problem.between(p.figure, figure).moved(p.x_mm, p.y_mm) for p in state.laid]
            whole = joined([problem.grounds[0].region(figure), *near])
            best = legal_spots(whole, limit, TOWARD_LEFT)
            found = state._proposals(need, figure, problem, TOWARD_LEFT, lambda: False)
            assert bool(found) == (len(best) > 0)
            if found:
                assert found[0][1:] == pytest.approx(best[0][1:], abs=1e-6)
        laid = state.spot(need, problem)
        state = state if laid is None else state.with_part(laid)


@pytest.mark.parametrize(("high", "share", "holds"), [(46, 0.9, True), (44, 0.9, False)])
def test_nearly_held_is_a_share_of_the_wood_between_its_ends(high, share, holds):
    runs, wood = runs_of(box(30, 10, 530, 10 + high), 30, 530), wood_of(box(0, 0, 300, 50))
    assert nearly_holds(runs, wood, share) == holds
    assert len(runs.first) - 1 == 40
    assert nearly_holds(runs, wood_of(box(0, 0, 20, 90)), share)  # nothing between its ends
