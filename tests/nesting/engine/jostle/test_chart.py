"""Charts: what every place of an item costs, from sampled depths."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from scenes import opened, random_places, random_polygons, scene_of

from nesting.engine.jostle.chart import draw, is_hollow
from nesting.engine.jostle.field import cost_at


@njit
def drawn(i, way, field, scene):
    return draw(i, way, field, scene)


@njit
def hollows(cells, columns, rows):
    return [cell for cell in range(columns * rows) if is_hollow(cells, cell, columns, rows)]


OBSTACLES = [
    (np.array([[40.0, 30.0], [60.0, 35.0], [45.0, 50.0]]), 0.5),
    (np.array([[20.0, 80.0]]), 6.0),
]


def charted(seed, count=5):
    """Return a scene, the opened field of its first item, and that item's chart (rows, columns)."""
    rng = np.random.default_rng(seed)
    polygons, obstacles = random_polygons(rng, count), OBSTACLES[: int(rng.integers(3))]
    places = random_places(rng, 100.0, count)
    scene = scene_of(polygons, places, is_tabled=True, obstacles=obstacles)
    field, scratch = opened(scene, 0)
    columns, rows = drawn(0, int(scene.layout.place[0, 4]), field, scene)
    cells = scene.chart.cells[: columns * rows].reshape(rows, columns).copy()
    return scene, field, scratch, cells


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_a_chart_gives_what_places_cost_within_its_step(seed):
    """A depth changes no faster than the place, so each sum is off by half a cell at most."""
    scene, field, scratch, cells = charted(seed)
    step, way = scene.chart.step[0], int(scene.layout.place[0, 4])
    sums = [int(np.ptp(scene.table.pairs[way, int(w)])) for w in scene.layout.place[1:, 4]]
    pairs = scene.table.pairs
    met = sum(int(np.ptp(pairs[way, k])) for k in range(len(pairs), pairs.shape[1]))
    slack = float(np.dot(sums, scene.layout.weight[0, 1:])) + met * scene.layout.weight[0, 0]
    slack *= step * np.sqrt(0.5)
    rng = np.random.default_rng(seed)
    for row, column in rng.integers(0, cells.shape, (40, 2)):
        x, y = field.limit[0] + column * step, field.limit[1] + row * step
        cost, _, _ = cost_at(field, scratch, 0, x, y, np.inf, scene)
        assert cells[row, column] == pytest.approx(cost, abs=slack + 1e-3)


def test_a_chart_of_aligned_items_is_exact():
    """Where the other item lies a whole number of steps away, cells hold sampled depths."""
    rng = np.random.default_rng(3)
    polygons = random_polygons(rng, 2)
    scene = scene_of(polygons, random_places(rng, 100.0, 2), is_tabled=True)
    field, scratch = opened(scene, 0)
    step, (mine, theirs) = scene.chart.step[0], scene.layout.place[:, 4].astype(int)
    low = scene.chart.lows[mine, theirs]
    scene.layout.place[1, :2] = field.limit[:2] - low + step * np.array([7, 9])
    field, scratch = opened(scene, 0)
    columns, rows = drawn(0, mine, field, scene)
    cells = scene.chart.cells[: columns * rows].reshape(rows, columns)
    assert cells.max() > 1.0
    for row in range(rows):
        for column in range(columns):
            x, y = field.limit[0] + column * step, field.limit[1] + row * step
            cost, _, _ = cost_at(field, scratch, 0, x, y, np.inf, scene)
            assert cells[row, column] == pytest.approx(cost, abs=1e-4)


def test_the_cheapest_cell_is_a_hollow_and_one_of_a_flat_is():
    cells = np.array([[3, 2, 3, 3], [2, 1, 3, 0], [3, 3, 3, 0]], np.float32)
    assert hollows(cells.reshape(-1), 4, 3) == [5, 7]
    assert hollows(np.zeros(6, np.float32), 3, 2) == [0]
