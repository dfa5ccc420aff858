import math

import numpy as np
import pytest

from nesting.grain import GrainPath, straight_grain
from nesting.outline import STRAIGHT
from parts.run_out import run_out


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
