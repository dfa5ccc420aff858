import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import ShapeError
from nesting.grain import GrainPath, angle_between, straight_grain

CROOK = GrainPath(((0, 0), (100, 0), (200, 100)))


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
