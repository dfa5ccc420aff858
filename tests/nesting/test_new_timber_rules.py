import pytest

from nesting.errors import ShapeError
from nesting.new_timber_rules import NewTimberRules, usual_in
from nesting.units import Unit

INCH = 25.4


@pytest.mark.parametrize(
    ("finished", "rough"),
    [(3 / 4, 1.0), (1.0, 5 / 4), (7 / 8, 5 / 4), (1 + 3 / 4, 2.0), (2.0, 2.5), (3.25, 4.0)],
)
def test_rough_thickness_in_quarters_leaves_the_finished_one(finished, rough):
    """First two as a sawmill's own account prints them: 4/4 gives 3/4 in, 5/4 gives 1 in."""
    assert usual_in(Unit.FOOT).rough_for(finished * INCH) == pytest.approx(rough * INCH)


@pytest.mark.parametrize(("finished", "rough"), [(9.0, 16.0), (25.0, 32.0), (43.0, 50.0)])
def test_rough_thickness_in_metric_sizes_leaves_the_finished_one(finished, rough):
    assert usual_in(Unit.MM).rough_for(finished) == rough


def test_thicker_than_any_in_stock_is_sawn_to_order_in_steps():
    usual = usual_in(Unit.INCH)
    assert usual.rough_for(4.1 * INCH) == pytest.approx(4.5 * INCH)
    assert not usual.is_stocked(usual.rough_for(4.1 * INCH))
    assert usual.is_stocked(2 * INCH)


def test_sizes_to_ask_for_are_rounded_up_and_never_down():
    usual = usual_in(Unit.INCH)
    assert usual.asked_width(5.01 * INCH) == pytest.approx(5.25 * INCH)
    assert usual.asked_width(5 * INCH) == pytest.approx(5 * INCH)
    assert usual.asked_length(30.2 * INCH) == pytest.approx(31 * INCH)
    assert (NewTimberRules().asked_width(51), NewTimberRules().asked_length(341)) == (55, 350)


def test_allowance_below_0_is_refused():
    with pytest.raises(ShapeError, match="edge_mm is -1, must be 0 or more"):
        NewTimberRules(edge_mm=-1)
