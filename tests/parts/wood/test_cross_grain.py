import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import PartError
from parts.wood.cross_grain import CURVES, hankinson, strength_left

# US Forest Products Laboratory, Wood Handbook, FPL-GTR-282 (2021), Table 5-12: per cent of the
# strength of straight-grained wood in bending, impact, and compression along the grain.
TABLE_5_12 = {
    25: (96, 95, 100),
    20: (93, 90, 100),
    15: (89, 81, 100),
    10: (81, 62, 99),
    5: (55, 36, 93),
}


@pytest.mark.parametrize("run", TABLE_5_12)
def test_strength_left_is_as_printed_in_the_wood_handbook_table_5_12(run):
    left = strength_left(run)
    assert (left.bending, left.impact, left.compression) == pytest.approx(
        [share / 100 for share in TABLE_5_12[run]]
    )


def test_straight_grain_keeps_everything():
    left = strength_left(math.inf)
    assert (left.bending, left.impact, left.compression) == (1, 1, 1)


def test_hankinson_at_45_degrees():
    # N = P Q / (P / 2 + Q / 2) for n = 2: the formula itself (Wood Handbook, eq. 5-2).
    assert hankinson(50, 10, 45) == pytest.approx(2 * 50 * 10 / 60)


@given(st.floats(1, 200), st.floats(0.1, 50), st.floats(1, 3))
def test_hankinson_gives_both_strengths_at_its_ends(along, across, exponent):
    assert hankinson(along, across, 0, exponent) == pytest.approx(along)
    assert hankinson(along, across, 90, exponent) == pytest.approx(across)


# Wood Handbook, FPL-GTR-282, p. 5-30, names these curves for Table 5-12; computed from there,
# they leave the table by at most 4.5 points in bending and 3.9 in compression.
@pytest.mark.parametrize(("name", "most", "column"), [("bending", 4.5, 0), ("compression", 3.9, 2)])
def test_curves_of_the_handbook_lie_near_its_table(name, most, column):
    ratio, exponent = CURVES[name]
    for run, printed in TABLE_5_12.items():
        angle = math.degrees(math.atan(1 / run))
        apart = printed[column] - 100 * hankinson(1, ratio, angle, exponent)
        assert -1.0 < apart < most + 0.06


@given(st.floats(0.3, 60), st.floats(1.0, 2.0))
def test_steeper_grain_never_leaves_more(run, times):
    steep, flat = strength_left(run), strength_left(run * times)
    assert steep.bending <= flat.bending + 1e-12
    assert steep.impact <= flat.impact + 1e-12
    assert steep.compression <= flat.compression + 1e-12


def test_slope_of_nothing_and_angle_past_square_are_refused():
    with pytest.raises(PartError, match="1 in 0"):
        strength_left(0)
    with pytest.raises(PartError, match="95 degrees"):
        hankinson(50, 10, 95)
    with pytest.raises(PartError, match="must be over 0"):
        hankinson(50, 0, 45)


def test_grain_at_45_degrees_leaves_what_the_handbook_s_curves_say():
    # Wood Handbook, FPL-GTR-282, eq. 5-2 with P = 1: Q / (s^n + Q s^n), s the sine of 45 degrees;
    # p. 5-30: bending 0.10 and 1.5, impact 0.05 and 1.5, compression 0.10 and 2.5.
    left, s = strength_left(1), math.sqrt(0.5)
    assert left.bending == pytest.approx(0.10 / (1.10 * s**1.5))
    assert left.impact == pytest.approx(0.05 / (1.05 * s**1.5))
    assert left.compression == pytest.approx(0.10 / (1.10 * s**2.5))


def test_past_the_table_no_formula_leaves_more_than_its_last_row():
    # At 1 in 4.9 the formula for impact says 36.3 %, more than the 36 % printed for 1 in 5.
    left = strength_left(4.9)
    printed = [share / 100 for share in TABLE_5_12[5]]
    shares = (left.bending, left.impact, left.compression)
    assert all(0 < share <= last for share, last in zip(shares, printed, strict=True))
    assert left.impact == 0.36


def test_strengths_and_angles_at_the_very_edge():
    assert hankinson(50, 10, 90) == pytest.approx(10)
    with pytest.raises(PartError, match=r"90\.5 degrees"):
        hankinson(50, 10, 90.5)
    with pytest.raises(PartError, match="strengths of 0 and 10"):
        hankinson(0, 10, 45)
