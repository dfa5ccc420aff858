from dataclasses import replace

from shapely.geometry import box

from nesting.accounts import buy_words
from nesting.accounts.buying import buy_list
from nesting.accounts.new_timber import TooWide
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import usual_in
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.units import Unit
from parts.families.knees import Knee

INCHES = Rules(new_timber=usual_in(Unit.INCH))
STRAKE = Outline(box(0, 0, 1000, 98), 19)
KNEE = Knee(
    kind="hanging", siding_mm=25, beam_arm_mm=260, side_arm_mm=340, throat_mm=110,
    tip_moulding_mm=45, grain="grown", bolt_mm=8,
).outline()  # fmt: skip


def one(outline, *woods, count=1, rules=INCHES):
    need = Need("piece", "any", outline, woods, count)
    (line,) = buy_list((Unplaced(need, count, Misfit.NO_ROOM),), rules)
    return line


def test_sawn_timber_is_named_by_its_quarters_with_volume_and_waste():
    line = one(STRAKE, "teak", "iroko", count=2)
    # 2 x 4 1/4 x 42 x 1 in and 15 % more, over 144; net 2 x 1000 x 98 x 19 mm.
    assert buy_words.heading(line, Unit.INCH) == (
        "teak (or iroko), sawn timber 4/4 (1 in): 2.9 board feet, 45 % of it waste"
    )
    assert buy_words.size(line.pieces[0], line.form, Unit.INCH) == "4 1/4 in x 42 in"


def test_metric_timber_is_in_millimetres_and_cubic_metres():
    line = one(STRAKE, "teak", rules=Rules())
    # 110 x 1060 x 32 mm and 15 % more; net 1000 x 98 x 19 mm.
    heading = "teak, sawn timber 32 mm: 0.0043 m3, 57 % of it waste"
    assert buy_words.heading(line, Unit.MM) == heading


def test_crook_is_told_by_its_arms_and_their_angle():
    line = one(KNEE, "white oak", count=2)
    assert buy_words.heading(line, Unit.INCH) == "white oak, 2 grown crooks, 5/4 (1 1/4 in) thick"
    size = buy_words.size(line.pieces[0], line.form, Unit.INCH)
    assert size.startswith("arms ")
    assert size.endswith("deep at the bend")
    assert "board feet" not in size


def test_least_plank_is_never_rounded_below_what_does():
    assert buy_words.at_least(692.3, Unit.INCH) == "27 5/16 in"
    assert buy_words.at_least(692.2, Unit.MM) == "693 mm"
    told = buy_words.too_narrow([TooWide("blade", 1, 692.3)], "8 in", Unit.INCH)
    assert "blade 27 5/16 in" in told
    assert "mm" not in told


def test_data_of_a_crook_has_no_board_feet_and_all_of_it_is_plain():
    data = buy_words.as_data(one(KNEE, "white oak"))
    assert data["sold_as"] == "grown crook"
    assert data["order_board_feet"] is None
    assert len(data["pieces"][0]["arms_mm"]) == 2


def test_allowances_are_told_in_the_project_s_unit():
    told = buy_words.allowances(replace(INCHES.new_timber, end_mm=50.8), Unit.INCH)
    assert "1/8 in comes off each face" in told
    assert "2 in off each end" in told
    assert "mm" not in told
