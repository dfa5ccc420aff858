import math

import numpy as np
import pytest
from shapely.geometry import LineString

from nesting.bend import bend_of
from nesting.grain import GrainPath
from nesting.outline import Outline


def swept(radius, turn_deg, depth, ends=0.0):
    """Return a piece of constant depth round an arc, its ends run on straight."""
    turns = np.radians(np.linspace(0, turn_deg, 90))
    arc = np.column_stack([radius * np.sin(turns), radius * (1 - np.cos(turns))])
    way = np.array([math.cos(turns[-1]), math.sin(turns[-1])])
    line = np.vstack([[-ends, 0.0], arc, arc[-1] + ends * way]) if ends else arc
    shape = LineString(line).buffer(depth / 2, cap_style="flat", quad_segs=64)
    return Outline(shape, 40.0, grain=GrainPath(tuple(map(tuple, line.tolist()))))


def test_sweep_of_an_arc_is_what_geometry_says():
    bend = bend_of(swept(3000, 20, 80))
    assert not bend.has_arms
    assert bend.length_mm == pytest.approx(3000 * math.radians(20), rel=1e-3)
    assert bend.depth_mm == pytest.approx(80, abs=0.2)
    assert bend.turn_deg == pytest.approx(20, abs=0.5)
    assert bend.sweep_mm == pytest.approx(3000 * (1 - math.cos(math.radians(10))), rel=0.01)
    assert bend.inner_radius_mm == pytest.approx(3000 - 40, rel=0.02)


def test_arms_of_a_bend_run_to_where_they_would_meet():
    bend = bend_of(swept(200, 90, 60, ends=300))
    assert bend.has_arms
    assert bend.angle_deg == pytest.approx(90, abs=0.5)
    assert bend.arms_mm == pytest.approx((500, 500), abs=1.0)
    assert bend.length_mm == pytest.approx(600 + 200 * math.pi / 2, rel=1e-3)
    assert bend.inner_radius_mm == pytest.approx(170, rel=0.1)


def test_wood_beyond_the_ends_of_the_grain_line_counts():
    whole = swept(3000, 20, 80)
    points = whole.grain.points
    short = Outline(whole.shape, 40.0, grain=GrainPath(points[10:-10]))
    assert bend_of(short).length_mm == pytest.approx(bend_of(whole).length_mm, rel=0.01)


def test_outer_edge_of_a_bend_is_longer_than_its_middle_by_half_its_depth_round_the_turn():
    bend = bend_of(swept(300, 90, 60))
    assert bend.outer_length_mm == pytest.approx(330 * math.pi / 2, abs=0.5)
