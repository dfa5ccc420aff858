from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, box

from nesting.accounts import buy_words
from nesting.accounts.buying import buy_list
from nesting.accounts.new_timber import NewPlank, SortedOut, TooWide
from nesting.grain import GrainPath
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import usual_in
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.units import Unit, parse_length
from parts.families.beams import DeckBeam
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
    # The middle's, which the grain follows: outer edges of arms that taper stand otherwise.
    angle = 180 - KNEE.grain.turn_deg
    assert f" along the middle, their grain at {angle:.0f} degrees, " in size
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


SWEEP = DeckBeam(
    span_mm=2000, siding_mm=40, moulding_mm=60, camber_mm=80, bearing_mm=60, grain="grown"
).outline()


def test_sweep_is_told_by_its_length_and_glued_by_what_it_is_ripped_into():
    crook, glued = one(SWEEP, "white oak", rules=Rules()), one(SWEEP, "Douglas-fir", rules=Rules())
    (grown,), (ripped,) = crook.pieces, glued.pieces
    assert "sawn timber 50 mm, to be glued up of lamellae: " in buy_words.heading(glued, Unit.MM)
    assert buy_words.size(grown, crook.form, Unit.MM) == (
        f"{grown.length_mm:g} mm with a sweep of {grown.bend.sweep_mm:.0f} mm, "
        f"{grown.width_mm:g} mm deep"
    )
    each = f"{ripped.lamellae.count} lamellae of {ripped.lamellae.thickness_mm:.0f} mm"
    assert buy_words.size(ripped, glued.form, Unit.MM) == (
        f"{ripped.width_mm:g} mm x {ripped.length_mm:g} mm, ripped into {each}"
    )
    assert buy_words.remarks(grown, crook.form, Unit.MM) == f"or glued up of {each}"
    assert buy_words.remarks(ripped, glued.form, Unit.MM) == ""


def test_crook_that_cannot_be_glued_and_a_straight_piece_are_not_said_to_be():
    assert buy_words.remarks(one(KNEE, "white oak").pieces[0], "grown crook", Unit.MM) == ""
    wide = one(Outline(box(0, 0, 900, 400), 19), "teak")
    told = buy_words.remarks(wide.pieces[0], wide.form, Unit.MM)
    assert told == "wider than boards usually are: glue it up of two, or ask"


@pytest.mark.parametrize(("siding_mm", "words"), [(6.0, ", resawn into 2"), (19.0, "")])
def test_piece_that_is_resawn_says_into_how_many(siding_mm, words):
    line = one(replace(STRAKE, siding_mm=siding_mm), "teak")
    assert buy_words.size(line.pieces[0], line.form, Unit.INCH) == f"4 1/4 in x 42 in{words}"


def test_volumes_for_a_machine_are_in_cubic_metres():
    data = buy_words.as_data(one(STRAKE, "teak", count=2, rules=Rules()))
    assert data["net_m3"] == pytest.approx(2 * 1.0 * 0.098 * 0.019)
    assert data["order_m3"] == pytest.approx(2 * 0.110 * 1.060 * 0.032 * 1.15)


PLANK = NewPlank("teak", 32.0, 200.0, 2000.0, (("strake", 2),), 1800.0, 8e6)


def test_planks_for_a_machine_hold_what_the_table_shows():
    found = SortedOut({}, (one(KNEE, "white oak"),), (TooWide("blade", 3, 250.5),))
    data = buy_words.plank_data([PLANK], found)
    (plank,) = data["planks"]
    assert plank["rough_m3"] == pytest.approx(0.032 * 0.2 * 2.0)
    assert plank["net_m3"] == pytest.approx(0.008)
    assert plank["waste_percent"] == pytest.approx(100 * (1 - 0.008 / 0.0128))
    assert plank["parts"] == [{"part": "strake", "count": 2}]
    assert [line["sold_as"] for line in data["not_planks"]] == ["grown crook"]
    assert data["too_wide"] == [{"part": "blade", "count": 3, "least_width_mm": 250.5}]


def test_what_is_left_out_of_a_search_for_planks_is_said_before_it():
    found = SortedOut({}, (one(KNEE, "white oak", count=2),), (TooWide("blade", 1, 250.5),))
    assert buy_words.notes_before(found, Unit.MM) == [
        "blade wants a plank of 251 mm or wider: left out",
        "piece x 2: bought as grown crook, not out of a straight plank",
    ]


def test_plank_as_long_as_any_is_not_too_long_and_a_longer_one_is():
    longest = replace(PLANK, length_mm=192 * 25.4)
    assert buy_words.too_long([longest], Unit.INCH) == []
    (told,) = buy_words.too_long([longest, replace(PLANK, length_mm=4877.0)], Unit.INCH)
    assert told.startswith("teak 1 1/4 in is longer than the 192 in")


def test_search_for_planks_says_at_which_it_is_and_how_far():
    groups = [("oak", 25.0), ("teak", 32.0)]
    first, second = (
        buy_words.plank_step(groups, at, length, unit=Unit.MM).what
        for at, length in zip(groups, (None, 1234.0), strict=True)
    )
    assert first == "plank 1 of 2, oak 25 mm: preparing (a first run compiles its kernels)"
    assert second == "plank 2 of 2, teak 32 mm: 1234 mm so far"


def test_one_of_a_thing_is_named_alone():
    assert (buy_words.several("rail", 1), buy_words.several("rail", 2)) == ("rail", "rail x 2")
    assert buy_words.counted(1, "plank") == "1 plank"


def test_length_on_a_step_is_not_rounded_up_to_the_next():
    assert buy_words.at_least(693.0, Unit.MM) == "693 mm"
    assert buy_words.at_least(25.4 * 27.3125, Unit.INCH) == "27 5/16 in"


def test_lamellae_as_they_are_told_in_inches_make_up_the_depth():
    """A quarter of a ring, 60 mm deep on a radius of 300: 28 thin ones, so digits add up."""
    turns = np.radians(np.linspace(0, 90, 181))
    line = 300 * np.column_stack([np.sin(turns), 1 - np.cos(turns)])
    ring = LineString(line).buffer(30, cap_style="flat", quad_segs=64)
    rib = Outline(ring, 30.0, grain=GrainPath(tuple(map(tuple, line.tolist()))))
    (piece,) = (ordered := one(rib, "Douglas-fir")).pieces
    told = buy_words.size(piece, ordered.form, Unit.INCH).rpartition(" lamellae of ")[2]
    assert piece.lamellae.count * parse_length(told) == pytest.approx(60, abs=0.5)
