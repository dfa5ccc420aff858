"""Boards taped from a string: hollow edges follow a batten, others run straight between points."""

import numpy as np
import pytest
from shapely.geometry import Polygon

from nesting.project.board_entry import StringSpec
from nesting.project.hollow_edges import string_outline


def band(at, lower, upper):
    """Return the shape between two edges that run straight from point to point."""
    return Polygon(np.vstack([np.column_stack([at, lower]), np.column_stack([at, upper])[::-1]]))


def test_a_sprung_plank_has_no_wood_beyond_its_hollow_edge():
    """Edges are true arcs: what is taken for wood lies in it, but for a batten's free ends."""
    radius, at = 6000.0, np.linspace(0.0, 3000.0, 7)

    def arc(x):
        return np.sqrt(radius**2 - (x - 1500.0) ** 2) - radius

    fine = np.linspace(0.0, 3000.0, 601)
    wood = band(fine, arc(fine), arc(fine) + 150.0)
    found = Polygon(string_outline(at, arc(at), arc(at) + 150.0))
    straight = band(at, arc(at), arc(at) + 150.0)
    air, as_measured = found.difference(wood).area, straight.difference(wood).area
    assert as_measured > 10_000
    # What is left is at the ends, which a batten leaves straight.
    assert air < 0.3 * as_measured
    assert found.area > 0.96 * wood.area


def test_straight_and_hollowless_edges_are_taken_point_by_point():
    at, lower, upper = [0.0, 500.0, 1000.0], [0.0, 0.0, 0.0], [100.0, 130.0, 110.0]
    found = string_outline(at, lower, upper)
    assert found.tolist() == [[0, 0], [500, 0], [1000, 0], [1000, 110], [500, 130], [0, 100]]


@pytest.mark.parametrize("lower", [(0.0, 80.0, 0.0), (-40.0, 60.0, -40.0)])
def test_board_is_never_larger_than_its_points_say(lower):
    spec = StringSpec(at=(0.0, 500.0, 1000.0), lower=lower, upper=tuple(y + 120 for y in lower))
    assert band(spec.at, spec.lower, spec.upper).buffer(1e-6).covers(spec.outline())
