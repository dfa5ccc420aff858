"""Jostling: what places cost, slides, relaxing, shifts, and layouts that come out legal."""

import os
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scenes import SQUARE, lying, opened, plain_depth, random_places, random_polygons, scene_of
from shapely.geometry import Point

from nesting.engine.jostle.compaction import shortened
from nesting.engine.jostle.field import cost_at
from nesting.engine.jostle.jostling import DONE, jostle, total_depth
from nesting.engine.jostle.layout import field_for, near_for, scratch_block
from nesting.engine.jostle.near_pairs import edges_near
from nesting.engine.jostle.relax import relax, squares
from nesting.engine.jostle.slide import MOST_TOUCHED, room_around, slide

seeds = st.integers(0, 10**6)


def random_scene(seed, count=5, **given):
    rng = np.random.default_rng(seed)
    polygons = random_polygons(rng, count)
    return polygons, scene_of(polygons, random_places(rng, 100.0, count), **given)


@given(seed=seeds, gap=st.sampled_from([0.0, 3.0]), is_tabled=st.booleans())
@example(seed=18933, gap=3.0, is_tabled=False)
@settings(max_examples=30, deadline=None)
def test_cost_is_the_weighted_depth_of_separating_axes(seed, gap, is_tabled):
    """The plain twin: convex pieces of shapely polygons, axis by axis."""
    polygons, scene = random_scene(seed, gap=gap, is_tabled=is_tabled)
    place = scene.layout.place
    field, scratch = opened(scene, 0)
    cost, _, _ = cost_at(field, scratch, 0, place[0, 0], place[0, 1], np.inf, scene)
    flat = [lying(p, at) for p, at in zip(polygons, place, strict=True)]
    weights = scene.layout.weight[0]
    depths = [plain_depth(flat[0], other, gap, is_tabled=is_tabled) for other in flat[1:]]
    assert cost == pytest.approx(float(np.dot(weights[1:], depths)), abs=1e-6)
    if not gap:
        assert (cost > 1e-9) == any(plain_depth(flat[0], other) > 1e-9 for other in flat[1:])


@given(seed=seeds, gap=st.sampled_from([0.0, 3.0]))
@settings(max_examples=30, deadline=None)
def test_free_places_keep_the_gap_that_shapely_measures(seed, gap):
    polygons, scene = random_scene(seed, count=2, gap=gap)
    place = scene.layout.place
    field, scratch = opened(scene, 0)
    cost, _, _ = cost_at(field, scratch, 0, place[0, 0], place[0, 1], np.inf, scene)
    first, second = (lying(p, at) for p, at in zip(polygons, place, strict=True))
    if cost <= 0.0:
        assert first.distance(second) >= gap - 1e-9
    elif gap == 0.0 and cost > 1e-6:
        assert first.intersection(second).area > 0


@given(seed=seeds)
@settings(max_examples=30, deadline=None)
def test_round_clearance_of_a_hole_is_kept_and_little_is_given_away(seed):
    """Sixteen directions bound the circle: at most 2 % of its radius is lost (1 / cos 11.25)."""
    rng = np.random.default_rng(seed)
    hole = rng.uniform(20, 80, (1, 2))
    polygons = random_polygons(rng, 1)
    scene = scene_of(polygons, random_places(rng, 100.0, 1), obstacles=[(hole, 8.0)])
    place = scene.layout.place[0]
    field, scratch = opened(scene, 0)
    cost, _, _ = cost_at(field, scratch, 0, place[0], place[1], np.inf, scene)
    distance = lying(polygons[0], place).distance(Point(hole[0]))
    if cost <= 0.0:
        assert distance >= 8.0 - 1e-9
    else:
        assert distance <= 8.0 / np.cos(np.pi / 16) + 1e-9


def slid(seed, is_tabled):
    """Return by how much the best of sixteen small steps beats the end of a slide."""
    _, scene = random_scene(seed, is_tabled=is_tabled)
    x, y = scene.layout.place[0, :2]
    field, scratch = opened(scene, 0)
    cost, _, _ = cost_at(field, scratch, 0, x, y, np.inf, scene)
    around, lines = np.empty((room_around(field, scene), 4)), np.empty((MOST_TOUCHED, 4))
    for _ in range(8):  # a slide may run out of steps
        end, x, y = slide(field, scratch, 0, x, y, 15.0, 1e-8, around, lines, scene)
        assert end <= cost + 1e-9
        cost, _, _ = cost_at(field, scratch, 0, x, y, np.inf, scene)
        assert cost == pytest.approx(end, abs=1e-9)
    angles = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    steps = np.clip(
        [x, y] + 1e-6 * np.column_stack([np.cos(angles), np.sin(angles)]),
        field.limit[:2],
        field.limit[2:],
    )
    return cost - min(cost_at(field, scratch, 0, *step, np.inf, scene)[0] for step in steps)


@pytest.mark.parametrize("is_tabled", [False, True])
def test_slides_end_where_no_small_step_is_cheaper(is_tabled):
    """All but a few: on the ridge of a sum the slide knows one of the two ways down."""
    gains = [slid(seed, is_tabled) for seed in range(100)]
    assert sum(gain > 1e-9 for gain in gains) <= 3
    assert max(gains) < 2e-6


@given(seed=seeds, is_tabled=st.booleans())
@settings(max_examples=20, deadline=None)
def test_gradient_of_squares_is_that_of_differences(seed, is_tabled):
    _, scene = random_scene(seed, is_tabled=is_tabled)
    near = near_for(scene)
    rows = edges_near(10.0, near, scene)
    at = scene.layout.place[:, :2].copy().reshape(-1)
    grad, spare, step = np.zeros(10), np.zeros(10), 1e-6
    squares(at, grad, rows, near.sums, scene)
    for k in range(10):
        up, down = at.copy(), at.copy()
        up[k] += step
        down[k] -= step
        change = squares(up, spare, rows, near.sums, scene)
        change -= squares(down, spare, rows, near.sums, scene)
        assert grad[k] == pytest.approx(change / (2 * step), rel=1e-3, abs=1e-3)


@given(seed=seeds, is_tabled=st.booleans())
@settings(max_examples=20, deadline=None)
def test_no_shift_brings_items_into_a_sum_that_was_not_near(seed, is_tabled):
    """The squares of what is near are those of all, as far as items may go."""
    _, scene = random_scene(seed, is_tabled=is_tabled)
    far, near, spare = 4.0, near_for(scene), np.zeros(10)
    rows = edges_near(far, near, scene)
    shift = np.random.default_rng(seed).uniform(-far, far, 10)
    at = scene.layout.place[:, :2].copy().reshape(-1) + shift
    some = squares(at, spare, rows, near.sums, scene)
    every = squares(at, spare, edges_near(200.0, near, scene), near.sums, scene)
    assert some == pytest.approx(every, rel=1e-12)


def test_relaxing_makes_overlaps_shallower_and_none_deeper():
    squared = []

    @given(seed=seeds)
    @settings(max_examples=20, deadline=None)
    def relaxed(seed):
        _, scene = random_scene(seed)
        near, spare = near_for(scene), np.zeros(10)
        rows, first = edges_near(200.0, near, scene), scene.layout.place.copy()
        before = squares(first[:, :2].copy().reshape(-1), spare, rows, near.sums, scene)
        relax(60, 10.0, near, scene)
        rows, shifts = edges_near(200.0, near, scene), scene.layout.place - first
        after = squares(scene.layout.place[:, :2].copy().reshape(-1), spare, rows, near.sums, scene)
        assert after <= before + 1e-9
        assert abs(shifts).max() <= 10.0
        squared.append((before, after))

    relaxed()
    before, after = np.sum(squared, axis=0)
    assert after < 0.9 * before


def test_shifts_bring_loose_squares_together_to_the_exact_length():
    places = np.array([[1.0, 5.0, 0, 0, 0], [30.0, 8.0, 0, 0, 4], [55.0, 6.0, 0, 0, 8]])
    scene = scene_of([SQUARE] * 3, places, is_tabled=True)
    field = field_for(scene.layout, scene.wood, scene.figures, scene.table)
    length = shortened(60.0, 100.0, field, near_for(scene), scratch_block(scene.figures), scene)
    assert length == pytest.approx(60.0, abs=1e-5)
    flat = [lying(SQUARE, place) for place in scene.layout.place]
    assert all(a.intersection(b).area < 1e-6 for a, b in combinations(flat, 2))
    assert max(f.bounds[2] for f in flat) <= length + 1e-9


def test_shifts_part_squares_that_overlap_a_little():
    places = np.array([[0.0, 0.0, 0, 0, 0], [19.0, 3.0, 0, 0, 4]])
    scene = scene_of([SQUARE] * 2, places, is_tabled=True)
    field, scratch = opened(scene, 0)
    assert total_depth(field, scratch, scene) > 0.5
    length = shortened(5.0, 50.0, field, near_for(scene), scratch, scene)
    assert length == pytest.approx(40.0, abs=1e-5)
    assert total_depth(field, scratch, scene) < DONE


def jostled(seed, passes=40, is_tabled=False):
    polygons, scene = random_scene(seed, count=6, is_tabled=is_tabled)
    best = np.empty((6, 5))
    least, used = jostle(
        seed, passes, 200, DONE, 25.0,
        field_for(scene.layout, scene.wood, scene.figures, scene.table),
        near_for(scene), scratch_block(scene.figures), scene, best,
    )  # fmt: skip
    return polygons, best, least, used


@given(seed=seeds, is_tabled=st.booleans())
@settings(max_examples=25, deadline=None)
def test_jostled_items_are_apart_and_inside_for_shapely(seed, is_tabled):
    polygons, best, least, _ = jostled(seed, is_tabled=is_tabled)
    if least >= DONE:
        return
    flat = [lying(p, place) for p, place in zip(polygons, best, strict=True)]
    for i, first in enumerate(flat):
        x0, y0, x1, y1 = first.bounds
        assert min(x0, y0) >= -1e-6
        assert max(x1, y1) <= 100 + 1e-6
        assert all(first.intersection(other).area < 1e-4 for other in flat[:i])


def test_most_loose_scenes_come_clear():
    assert sum(jostled(seed)[2] < DONE for seed in range(12)) >= 9


PLAIN = """
import sys; sys.path[:0] = {path!r}
import numpy as np
from test_jostling import jostled
_, best, least, used = jostled(5, passes=3)
print(repr(best.tolist()), float(least), int(used))
"""


CHECKED = pytest.param(
    "NUMBA_BOUNDSCHECK",
    marks=pytest.mark.skipif(
        "REFEREE_CASES" not in os.environ, reason="a minute of compiling: with REFEREE_CASES=..."
    ),
)


@pytest.mark.parametrize("setting", ["NUMBA_DISABLE_JIT", CHECKED])
def test_plain_and_bounds_checked_runs_give_the_compiled_layout(setting, tmp_path):
    """The plain run checks indices too, as numpy does."""
    environment = os.environ | {setting: "1", "NUMBA_CACHE_DIR": str(tmp_path)}
    here = Path(__file__).parent
    code = PLAIN.format(path=[str(here), str(here.parent)])
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=True
    )
    _, best, least, used = jostled(5, passes=3)
    places, rest = run.stdout.rsplit("] ", 1)
    assert np.array(eval(places + "]")) == pytest.approx(best, abs=1e-6)
    assert float(rest.split()[0]) == pytest.approx(least, abs=1e-6)
    assert int(rest.split()[1]) == used
