import math

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from nesting.grain import GrainPath, straight_grain
from nesting.outline import STRAIGHT
from parts.run_out import _cut_across, run_out


def test_edges_along_the_grain_have_no_run_out():
    edges = [np.array([[0, 0], [500, 0]]), np.array([[500.0, 90.0], [0.0, 90.0]])]
    assert run_out(edges, straight_grain()) == STRAIGHT


def test_run_out_is_the_slope_of_the_worst_edge():
    edges = [np.array([[0, 0], [1200, 100]]), np.array([[0, 90], [800, 190]])]
    assert run_out(edges, straight_grain()) == pytest.approx(8)


def test_edge_that_follows_grown_grain_has_no_run_out():
    bend = ((0.0, 0.0), (300.0, 0.0), (512.0, 212.0))
    edge = np.array(bend) + np.array([-20.0, 50.0])
    assert run_out([edge[:2], edge[1:]], GrainPath(bend)) == STRAIGHT


def test_edge_square_across_the_grain_has_a_run_of_nothing():
    assert run_out([np.array([[0, 0], [0, 9]])], straight_grain()) == pytest.approx(0, abs=1e-9)
    assert math.isinf(run_out([], straight_grain()))


@pytest.mark.parametrize("seed", range(6))
def test_a_shape_cut_everywhere_at_once_is_cut_as_place_by_place(seed):
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0, 2 * math.pi, 60))
    reach = rng.uniform(0.5, 1.0, 60)
    shape = Polygon(np.column_stack([300 * reach * np.cos(turns), 80 * reach * np.sin(turns)]))
    left, bottom, right, top = shape.bounds
    along = np.linspace(left + 1, right - 1, 41)
    lines = [LineString([(x, bottom - 1), (x, top + 1)]) for x in along]
    one_by_one = [shape.intersection(line).bounds[1::2] for line in lines]
    assert _cut_across(shape, along, (bottom - 1, top + 1)) == pytest.approx(np.array(one_by_one))
