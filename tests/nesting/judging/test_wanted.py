"""What of a parts list is worth pulling wood for: sizes with their trim, and what each saves."""

from dataclasses import replace

import pytest
from shapely.affinity import rotate
from shapely.geometry import box

from nesting.grain import GrainPath, straight_grain
from nesting.judging.old_boat import Rates
from nesting.judging.wanted import wanted_of
from nesting.need import Holes, Need
from nesting.new_timber_rules import NewTimberRules
from nesting.outline import Outline
from nesting.rules import Rules

NEW = NewTimberRules((25, 32, 50), planing_mm=3, edge_mm=4, end_mm=20, defects_percent=10)
RULES = Rules(trim_mm=1.5, cleaning_loss_mm=2.0, new_timber=NEW)
RATES = Rates(20.0, 8.0, {"teak": 40.0})
STRIP = Outline(box(100, 30, 1100, 78), 22)


def wanted(outline=STRIP, *woods, **how):
    need = Need("strip", "any", outline, woods or ("teak", "iroko"), 6, **how)
    return wanted_of([need], RULES, RATES)


@pytest.mark.parametrize("turn", [0.0, 90.0, 25.0])
def test_size_is_along_the_grain_and_across_with_trim_on_all_sides(turn):
    outline = replace(STRIP, shape=rotate(STRIP.shape, turn), grain=straight_grain(turn))
    (one,) = wanted(outline)
    assert (one.length_mm, one.width_mm) == pytest.approx((1003, 51))
    assert one.rough_mm == 22 + 2 * 2
    assert (one.part, one.species, one.count) == ("strip", ("teak", "iroko"), 6)


@pytest.mark.parametrize(("wood", "price"), [("teak", 40.0), ("iroko", 8.0)])
def test_part_is_worth_the_rough_board_of_its_first_wood(wood, price):
    """1040 x 56 of 32 mm, as 22 and 3 off each face want more than 25; a tenth more ordered."""
    (one,) = wanted(STRIP, wood)
    feet = 1040 * 56 * 32 / (144 * 25.4**3)
    assert one.worth == pytest.approx(feet * 1.10 * price)


def test_grown_parts_are_left_out_and_those_after_them_are_not():
    grown = replace(STRIP, grain=GrainPath(((100, 30), (600, 70), (1100, 30))))
    needs = [Need(n, "any", o, ("teak",), 1) for n, o in (("knee", grown), ("strip", STRIP))]
    assert [one.part for one in wanted_of(needs, RULES, RATES)] == ["strip"]


def test_part_takes_its_woods_thick_enough_and_from_no_member_that_it_refuses():
    (one,) = wanted(not_from=("bulwark",))
    assert one.takes("iroko", "decking", 26.0)
    assert not one.takes("iroko", "decking", 25.9)
    assert not one.takes("oak", "decking", 30.0)
    assert not one.takes("teak", "bulwark", 30.0)


@pytest.mark.parametrize("holes", list(Holes))
def test_part_for_clear_wood_takes_no_holes_and_others_do(holes):
    assert wanted(holes=holes)[0].takes_holes is (holes is not Holes.CLEAR)
