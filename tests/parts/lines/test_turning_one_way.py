"""Curves that turn one way where their points do, held against the formulas they are from."""

from itertools import pairwise

import numpy as np
import pytest
from shapely import LineString, distance, points

from parts.lines.plane_curve import PlaneCurve
from parts.lines.turning_one_way import Sprung

HALF_STEP_MM = 0.5


def forefoot(power):
    """Return a straight keel with a stem swept into it by a power, over x, mm."""
    return lambda x: 850.0 * np.clip(1.0 - x / 800.0, 0.0, 1.0) ** power + 130.0


def counter(x):
    """Return a rabbet with a straight run of three stations between forefoot and counter."""
    fore = 1900.0 * np.clip(1.0 - x / 2400.0, 0.0, 1.0) ** 2.4
    return fore + 1750.0 * np.clip((x - 4200.0) / 6800.0, 0.0, 1.0) ** 2.2


SKIFF = 0, 60, 160, 300, 700, 1200, 1700, 2300, 2900, 3300
YACHT = 0, 130, 300, 500, 1200, 2100, 3200, 4400, 5600, 6800, 7900, 8900, 9700, 10300, 10900, 11000


def drawn(formula, places):
    """Return the curve through a formula's points as a table has them, to the millimetre."""
    x = np.array(places, dtype=float)
    loose = np.full(len(x), HALF_STEP_MM)
    loose[[0, -1]] = 0.0
    return PlaneCurve(np.column_stack([x, np.round(formula(x))]), loose=loose)


def as_it_comes(curve):
    return PlaneCurve(curve.points, curve.corners, curve.straight)


def farthest(formula, curve):
    x = np.linspace(*curve.ends, 8001)
    return float(
        distance(LineString(np.column_stack([x, formula(x)])), points(curve.dense())).max()
    )


@pytest.mark.parametrize(
    ("formula", "places", "most"),
    [(forefoot(2.2), SKIFF, 2.0), (forefoot(2.8), SKIFF, 8.5), (counter, YACHT, 5.0)],
    ids=["swept forefoot", "quicker forefoot", "counter"],
)
def test_a_line_swept_into_a_straight_run_does_not_swing_along_it(formula, places, most):
    """They were 13 to 19 mm off between the last point of the sweep and the first of the run."""
    curve = drawn(formula, places)
    assert farthest(formula, as_it_comes(curve)) > 1.5 * most
    assert farthest(formula, curve) < most


def turning(curve):
    """Return the least and the most that a curve turns to its left, by the way."""
    way = np.linspace(0.0, curve.length, 5001)
    (x, z), (on, up) = curve.spline(way, nu=1).T, curve.spline(way, nu=2).T
    left = x * up - z * on
    return left.min(), left.max()


def test_it_turns_one_way_and_leaves_no_point_by_more_than_half_a_step():
    curve = drawn(forefoot(2.2), SKIFF)
    least, most = turning(as_it_comes(curve))
    assert least < -0.2 * most
    least, most = turning(curve)
    assert least > -0.01 * most
    off = distance(LineString(curve.dense()), points(curve.points))
    assert off.max() < HALF_STEP_MM + 0.01
    assert off[[0, -1]].max() < 1e-9


def test_what_is_drawn_anew_runs_on_into_the_rest_without_a_turn_or_a_change_of_bend():
    curve = drawn(counter, YACHT)
    assert len(curve.spline.x) > len(curve.points)
    for nu, near in ((0, 1e-6), (1, 1e-9), (2, 1e-9)):
        before, after = (curve.spline(curve.ways[1:-1] + step, nu=nu) for step in (-1e-7, 1e-7))
        assert np.abs(after - before).max() < near


def test_a_line_whose_points_turn_both_ways_is_drawn_as_it_comes():
    x = np.linspace(0.0, 9000.0, 12)
    given = np.column_stack([x, 600.0 + 300.0 * np.sin(x / 1400.0)])
    curve = PlaneCurve(given, loose=np.full(len(x), HALF_STEP_MM))
    assert np.array_equal(curve.dense(), PlaneCurve(given).dense())


def test_points_that_no_line_turning_one_way_passes_are_drawn_as_they_come():
    x = np.linspace(0.0, 6000.0, 7)
    given = np.column_stack([x, [400.0, 150.0, 40.0, 0.0, 0.9, 0.0, 60.0]])
    curve = PlaneCurve(given, loose=np.array([0.0, *[0.3] * 5, 0.0]))
    assert np.array_equal(curve.dense(), PlaneCurve(given).dense())


def test_a_curve_lies_in_the_triangle_of_its_chord_and_those_beside_it():
    given = np.array([[0.0, 300.0], [300.0, 0.0], [900.0, 0.0], [1200.0, 300.0]])
    sprung = Sprung(PlaneCurve(given).spline, given, np.zeros(4), (False, False))
    assert sprung.heights_mm[1] == pytest.approx(300.0)
    assert np.isinf(sprung.heights_mm[[0, 2]]).all()
    curve = drawn(counter, YACHT)
    for (low, high), height in zip(pairwise(curve.points), curve.heights_mm, strict=True):
        x = np.linspace(low[0], high[0], 101)
        chord = LineString([low, high])
        off = distance(chord, points(np.column_stack([x, counter(x)])))
        assert off.max() < height + 2 * HALF_STEP_MM
