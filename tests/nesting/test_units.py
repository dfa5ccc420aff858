import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LengthError
from nesting.units import LONGEST_MM, Unit, board_feet, parse_length, parse_slope, slope_angle
from nesting.written_measures import format_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2.4 m", 2400), ("35mm", 35), ("3.5 cm", 35), ("1 in", 25.4), ("1/2 in", 12.7),
        ("1 3/4 in", 44.45), ("7 ft 4 1/2 in", 2247.9), ("7' 4 1/2\"", 2247.9),
        ("7'-4 1/2\"", 2247.9), ("7 ft. 4 1/2 in.", 2247.9), ("7' 4\u00bd\"", 2247.9),
        ("\u00be in", 19.05), ("- 5\u00bc in", -133.35), ("2.5 in.", 63.5),
        ("7\u2019 4 1/2\u201d", 2247.9), ("7\u2032 4 1/2\u2033", 2247.9),
        ("2 ft", 609.6), ("12 inches", 304.8), ("-3/8 in", -9.525), (" 5 mm ", 5), (".5 in", 12.7),
        ("40", 40), ("1 1/2", 1.5),
    ],
)  # fmt: skip
def test_length_is_read_as_people_write_it(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "mm"),
    [("5-7-3", 1711.325), ("5-7-3+", 1712.9125), ("0-0-1-", 1.5875), ("-1-0-0", -304.8)],
)
def test_table_of_offsets_figure_is_feet_inches_eighths(text, mm):
    """5-7-3 is 67 3/8 in, with + a sixteenth more; 1 in = 25.4 mm exactly."""
    assert parse_length(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize("text", ["5-12-3", "5-7-8"])
def test_table_of_offsets_figure_out_of_range_says_how_far_it_goes(text):
    with pytest.raises(LengthError, match="inches go to 11 and eighths to 7"):
        parse_length(text)


@pytest.mark.parametrize(
    ("unit", "mm"),
    [(Unit.MM, 2), (Unit.CM, 20), (Unit.M, 2000), (Unit.INCH, 50.8), (Unit.FOOT, 609.6)],
)
def test_bare_number_is_in_the_declared_unit(unit, mm):
    assert parse_length(2, unit) == mm
    assert parse_length("2", unit) == mm


@pytest.mark.parametrize("unit", [Unit.INCH, Unit.FOOT])
def test_bare_number_is_the_very_length_that_the_same_in_words_is(unit):
    """96 and 8 ft are one length, to the last digit: what ends at one ends at the other."""
    for sixteenths in range(1, 16 * 120):
        bare = parse_length(sixteenths / 16, unit)
        whole, rest = divmod(sixteenths, 16)
        assert bare == parse_length(f"{whole} {rest}/16 {unit.value}")
    assert parse_length(96, Unit.INCH) == parse_length("8 ft")


@pytest.mark.parametrize(
    "given_text", ["", "abc", "3 yd", "1 in 2 ft", "3 4", "1e3", "1/0 in", "2 m 3", "--3", "1,5 m"]
)
def test_text_that_is_no_length_says_how_to_write_one(given_text):
    with pytest.raises(LengthError, match=r"write for example|fraction over zero"):
        parse_length(given_text)


@pytest.mark.parametrize("given_value", [True, None, [1], {}])
def test_what_is_neither_number_nor_text_is_no_length(given_value):
    with pytest.raises(LengthError, match="is no length"):
        parse_length(given_value)


def test_nan_is_no_length_and_no_unit_is_asked_for():
    with pytest.raises(LengthError, match=r"^nan is no length; write for example 2\.4 m"):
        parse_length(math.nan)


@pytest.mark.parametrize("given_value", [LONGEST_MM + 1, "41 m", math.inf, "900000 ft"])
def test_length_past_any_boat_asks_for_the_unit(given_value):
    with pytest.raises(LengthError, match="is the unit right"):
        parse_length(given_value)


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (44.45, Unit.INCH, "1 3/4 in"), (2247.9, Unit.FOOT, "7 ft 4 1/2 in"),
        (0, Unit.INCH, "0 in"), (609.6, Unit.FOOT, "2 ft"),
        (558.8, Unit.FOOT, "22 in"), (-9.525, Unit.INCH, "-3/8 in"),
        (1711.3, Unit.MM, "1711 mm"), (12.34, Unit.MM, "12.3 mm"), (12, Unit.MM, "12 mm"),
        (2400, Unit.M, "2.400 m"), (35, Unit.CM, "3.5 cm"), (25.39, Unit.INCH, "1 in"),
        (3.175, Unit.INCH, "1/8 in"),
    ],
)  # fmt: skip
def test_length_prints_as_a_shop_hand_writes_it(mm, unit, text):
    assert format_length(mm, unit) == text


@settings(deadline=None)
@given(sixteenths=st.integers(-8000, 8000), unit=st.sampled_from([Unit.INCH, Unit.FOOT]))
def test_whole_sixteenths_print_and_read_back_exactly(sixteenths, unit):
    mm = sixteenths * 25.4 / 16
    assert parse_length(format_length(mm, unit), unit) == pytest.approx(mm, abs=1e-9)


@settings(deadline=None)
@given(mm=st.floats(-LONGEST_MM, LONGEST_MM), unit=st.sampled_from(list(Unit)))
def test_printed_length_reads_back_to_its_rounding(mm, unit):
    step = {Unit.MM: 0.5, Unit.CM: 0.5, Unit.M: 0.5}.get(unit, 25.4 / 32)
    if abs(mm) < LONGEST_MM - 1:
        assert parse_length(format_length(mm, unit), unit) == pytest.approx(mm, abs=step + 1e-6)


@pytest.mark.parametrize(
    ("given_value", "run"), [("1 in 12", 12), ("1:8", 8), (15, 15), ("7.5", 7.5)]
)
def test_slope_is_read_as_its_run(given_value, run):
    assert parse_slope(given_value) == run


@pytest.mark.parametrize("given_value", ["steep", 0.5, "1 in 0", True, "2 in 12", "nan"])
def test_slope_that_is_none_says_how_to_write_one(given_value):
    with pytest.raises(LengthError, match=r"as 1 in 12|for example 1 in 12"):
        parse_slope(given_value)


def test_slope_angle_of_one_in_one_is_45_degrees():
    assert slope_angle(1) == pytest.approx(45)


def test_board_foot_is_144_cubic_inches():
    assert board_feet(12 * 12 * 25.4**2, 25.4) == pytest.approx(1)
    assert board_feet(1e6, 2.359737e0) == pytest.approx(1, rel=1e-6)
