import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import ShapeError
from nesting.grain import GrainPath, angle_between, straight_grain

CROOK = GrainPath(((0, 0), (100, 0), (200, 100)))
COS_20, SIN_20 = math.cos(math.radians(20)), math.sin(math.radians(20))


@settings(deadline=None)
@given(angle=st.floats(-180, 180))
def test_straight_grain_has_its_angle_everywhere(angle):
    grain = straight_grain(angle)
    assert grain.is_straight
    assert angle_between(grain.angle_at(123, -45), angle) == pytest.approx(0, abs=1e-6)


def test_grain_of_a_crook_is_that_of_its_nearest_segment():
    assert CROOK.angles_deg == pytest.approx((0, 45))
    assert CROOK.angle_at(20, 30) == 0
    assert CROOK.angle_at(180, 70) == pytest.approx(45)


SWEEP = GrainPath(((0, 0), (100, 0), (100 + 60 * COS_20, 60 * SIN_20)))


@pytest.mark.parametrize(
    ("along", "way"), [(0, 0), (70, 0), (85, 5), (100, 10), (115, 15), (130, 20), (160, 20)]
)
def test_grain_goes_round_a_fair_turn_as_an_arc(along, way):
    """It turns by 20 degrees at 100; half of the shorter piece, 30 mm, either side is the arc."""
    on = max(0, along - 100)
    place = (min(along, 100) + on * COS_20, on * SIN_20)
    assert SWEEP.angle_at(*place) == pytest.approx(way, abs=1e-9)


def test_outside_of_a_fair_turn_has_the_direction_of_its_middle():
    assert SWEEP.angle_at(102, -20) == pytest.approx(10)


@pytest.mark.parametrize(("turn", "at_corner"), [(30, 15), (30.1, 0)])
def test_turn_past_thirty_degrees_is_as_sharp_as_it_is_recorded(turn, at_corner):
    way = math.radians(turn)
    path = GrainPath(((0, 0), (100, 0), (100 + 60 * math.cos(way), 60 * math.sin(way))))
    assert path.angle_at(99.999, 0) == pytest.approx(at_corner, abs=0.01)
    assert path.covered_deg[1].max() == pytest.approx(at_corner / 2)


def test_grain_has_no_direction_forth_or_back():
    assert GrainPath(CROOK.points[::-1]).angles_deg == pytest.approx((45, 0), abs=1e-12)


@pytest.mark.parametrize(
    ("points", "message"),
    [(((0, 0),), "two points or more"), (((0, 0), (0, 0)), "same point twice in a row")],
)
def test_path_that_has_no_direction_is_refused(points, message):
    with pytest.raises(ShapeError, match=message):
        GrainPath(points)


@pytest.mark.parametrize(
    ("first", "second", "apart"),
    [(0, 10, 10), (170, 10, 20), (0, 180, 0), (-45, 45, 90), (0, 90, 90)],
)
def test_angle_between_undirected_lines(first, second, apart):
    assert angle_between(first, second) == apart


@settings(deadline=None)
@given(a=st.floats(-720, 720), b=st.floats(-720, 720))
def test_angle_between_is_the_same_both_ways_and_at_most_square(a, b):
    assert 0 <= angle_between(a, b) <= 90
    assert angle_between(a, b) == pytest.approx(angle_between(b, a), abs=1e-9)
