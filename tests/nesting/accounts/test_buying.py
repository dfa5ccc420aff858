import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.affinity import rotate
from shapely.geometry import LineString, box

from nesting.accounts.buying import TO_ORDER, UNKNOWN, buy_list, wood_for
from nesting.accounts.rough_pieces import TOO_LONG, TOO_WIDE
from nesting.bend import bend_of
from nesting.grain import GrainPath, straight_grain
from nesting.need import Misfit, Need
from nesting.nest import Unplaced
from nesting.new_timber_rules import NewTimberRules
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.units import board_feet
from parts.families.beams import DeckBeam
from parts.families.knees import Knee
from parts.lamella import lamella_mm
from parts.wood.sold_as import Form

NEW = NewTimberRules((25, 32, 50), planing_mm=3, edge_mm=4, end_mm=20, defects_percent=10)
RULES = Rules(kerf_mm=3, trim_mm=1, cleaning_loss_mm=9, new_timber=NEW)
STRAKE = Outline(box(0, 0, 1000, 98), 19)
KNEE = Knee(
    kind="hanging", siding_mm=25, beam_arm_mm=260, side_arm_mm=340, throat_mm=110,
    tip_moulding_mm=45, grain="grown", bolt_mm=8,
).outline()  # fmt: skip


def left(outline=STRAKE, *woods, count=1, part="strake"):
    need = Need(part, "any", outline, woods or ("white oak",), count)
    return Unplaced(need, count, Misfit.NO_ROOM)


def bought(*unplaced, rules=RULES):
    return buy_list(unplaced, rules)


def test_piece_is_asked_for_with_new_timber_s_allowances_rounded_up():
    (line,) = bought(left(count=3))
    (piece,) = line.pieces
    assert (line.species, line.form, line.thickness_mm) == ("white oak", Form.SAWN, 25)
    # 98 + 2 x (1 + 4) = 108 and 1000 + 2 x (1 + 20) = 1042, in steps of 5 and 10.
    assert (piece.pieces, piece.width_mm, piece.length_mm) == (3, 110, 1050)


def test_volume_to_order_and_its_waste_are_what_a_pencil_says():
    (line,) = bought(left(count=3))
    order = 3 * 110 * 1050 * 25 * 1.10
    assert line.order_mm3 == pytest.approx(order)
    assert line.order_board_feet == pytest.approx(board_feet(order, 1.0))
    assert line.waste_percent == pytest.approx(100 * (1 - 3 * 1000 * 98 * 19 / order))


def test_salvage_s_cleaning_loss_is_not_new_timber_s():
    assert bought(left()) == bought(left(), rules=replace(RULES, cleaning_loss_mm=0))


def test_lines_are_apart_by_wood_and_thickness_as_sold():
    thick = left(replace(STRAKE, siding_mm=30), part="thick")
    like = left(replace(STRAKE, siding_mm=17), part="like")
    lines = bought(left(), thick, like, left(STRAKE, "teak", part="teak one"))
    assert [(line.species, line.thickness_mm, [p.part for p in line.pieces]) for line in lines] == [
        ("teak", 25, ["teak one"]), ("white oak", 25, ["strake", "like"]),
        ("white oak", 50, ["thick"]),
    ]  # fmt: skip


@pytest.mark.parametrize("turn", [0, 90, 30])
def test_size_is_taken_along_the_grain_however_it_is_drawn(turn):
    outline = Outline(rotate(STRAKE.shape, turn, (0, 0)), 19, grain=straight_grain(turn))
    (line,) = bought(left(outline))
    assert (line.pieces[0].width_mm, line.pieces[0].length_mm) == (110, 1050)


def test_grown_knee_is_a_crook_by_the_piece_and_not_board_feet():
    (line,) = bought(left(KNEE, count=2, part="knee"))
    (piece,) = line.pieces
    assert (line.form, line.order_mm3, line.order_board_feet) == (Form.CROOK, None, None)
    assert piece.pieces == 2
    assert piece.width_mm == pytest.approx(110 + 10, abs=5)
    assert all(arm > 200 for arm in piece.arms_mm)
    assert piece.lamellae is None


def test_grown_sweep_may_be_glued_up_where_no_crook_is_sold():
    beam = DeckBeam(
        span_mm=2000, siding_mm=40, moulding_mm=60, camber_mm=80, bearing_mm=60, grain="grown"
    ).outline()
    (crook,) = bought(left(beam, "white oak"))
    (glued,) = bought(left(beam, "Douglas-fir"))
    assert (crook.form, glued.form) == (Form.CROOK, Form.LAMINATION)
    assert crook.pieces[0].lamellae == glued.pieces[0].lamellae
    lamellae = glued.pieces[0].lamellae
    assert lamellae.count >= 2
    # Ripped out on edge: each with its kerf and two faces to plane.
    least = lamellae.count * (lamellae.thickness_mm + 3 + 2)
    assert least <= glued.pieces[0].width_mm <= least + 2 * 4 + 5
    assert glued.order_mm3 > 0


def test_bend_too_sharp_for_sawn_lamellae_stays_a_crook_that_nobody_sells():
    (line,) = bought(left(KNEE, "Douglas-fir"))
    assert line.form is Form.CROOK
    assert "not sold as grown crook" in line.remarks[0]


def test_wood_is_the_first_accepted_that_is_sold_so():
    (line,) = bought(left(STRAKE, "apple", "white oak", "teak"))
    assert (line.species, line.others) == ("white oak", ("teak",))
    assert "apple is not known to be sold as sawn timber" in line.remarks
    (line,) = bought(left(KNEE, "apple", "white oak"))
    assert (line.species, line.others) == ("apple", ("white oak",))


def test_apple_planks_are_not_to_be_had_and_it_says_so():
    (line,) = bought(left(STRAKE, "apple"))
    assert "not sold as sawn timber (fruit wood" in line.remarks[0]


def test_wood_that_is_not_known_is_asked_for():
    (line,) = bought(left(STRAKE, "moonwood"))
    assert line.remarks == (UNKNOWN,)


def test_others_are_those_that_serve_every_part_of_the_line():
    (line,) = bought(left(STRAKE, "teak", "iroko", "sapele"), left(STRAKE, "teak", "sapele"))
    assert line.others == ("sapele",)


def test_what_is_out_of_the_ordinary_is_remarked():
    wide, long = Outline(box(0, 0, 900, 400), 19), Outline(box(0, 0, 6000, 90), 19)
    thick = Outline(box(0, 0, 900, 90), 60)
    assert bought(left(wide))[0].pieces[0].remarks == (TOO_WIDE,)
    assert bought(left(long))[0].pieces[0].remarks == (TOO_LONG,)
    assert bought(left(thick))[0].remarks == (TO_ORDER,)
    assert bought(left())[0].pieces[0].remarks == ()


def test_curve_sawn_out_of_straight_grain_is_remarked_while_the_choice_is_free():
    sawn = replace(STRAKE, run_out=1.5, slope_of_grain=12)
    assert "1 in 1.5" in bought(left(sawn))[0].pieces[0].remarks[0]


def test_thin_parts_are_resawn_two_out_of_one():
    (line,) = bought(left(replace(STRAKE, siding_mm=7.0), count=5))
    (piece,) = line.pieces
    # 25 less 3 a face is 19: two of 7 with a kerf of 3 and two faces of 1 between them.
    assert (line.thickness_mm, piece.leaves, piece.pieces) == (25, 2, 3)


def test_nothing_left_over_is_nothing_to_buy():
    assert bought() == ()


@pytest.mark.parametrize(("siding_mm", "leaves"), [(6.25, 2), (6.26, 1)])
def test_leaves_have_a_kerf_and_two_faces_to_plane_between_them(siding_mm, leaves):
    """25 mm less 3 a face is 19: two leaves of 6.25 with 3.5 + 2 x 1.5 between them."""
    rules = replace(RULES, kerf_mm=3.5, trim_mm=1.5)
    (line,) = bought(left(replace(STRAKE, siding_mm=siding_mm)), rules=rules)
    assert (line.thickness_mm, line.pieces[0].leaves) == (25, leaves)


SWEEP = DeckBeam(
    span_mm=2000, siding_mm=40, moulding_mm=60, camber_mm=80, bearing_mm=60, grain="grown"
).outline()


def up_to(size, step):
    return math.ceil(size / step) * step


@pytest.mark.parametrize("wood", ["white oak", "Douglas-fir"])
def test_bent_piece_is_asked_for_with_what_comes_off_its_ends_and_edges(wood):
    """As a crook by its depth; on edge, each lamella with its kerf and its two faces to plane."""
    rules = replace(RULES, kerf_mm=3.5, trim_mm=1.5)
    (line,) = bought(left(SWEEP, wood, count=3), rules=rules)
    (piece,) = line.pieces
    bend, thick = bend_of(SWEEP), piece.lamellae.thickness_mm
    as_crook, on_edge = bend.depth_mm + 2 * (1.5 + 4), piece.lamellae.count * (thick + 6.5) + 2 * 4
    is_glued = wood == "Douglas-fir"
    assert piece.width_mm == up_to(on_edge if is_glued else as_crook, 5)
    along = bend.outer_length_mm if is_glued else bend.length_mm
    assert piece.length_mm == up_to(along + 2 * (1.5 + 20), 10)
    assert piece.net_mm3 == pytest.approx(3 * SWEEP.area_mm2 * 40)


def test_lamellae_make_up_the_depth_and_are_as_few_as_the_bend_allows():
    tight = DeckBeam(
        span_mm=2000, siding_mm=40, moulding_mm=60, camber_mm=160, bearing_mm=60, grain="grown"
    ).outline()
    for outline in (SWEEP, tight):
        bend, lamellae = bend_of(outline), bought(left(outline))[0].pieces[0].lamellae
        thickest = lamella_mm(bend.inner_radius_mm)
        assert lamellae.count * lamellae.thickness_mm == pytest.approx(bend.depth_mm)
        assert lamellae.thickness_mm <= thickest < bend.depth_mm / (lamellae.count - 1)


def test_arms_of_a_crook_have_one_sawn_end_each():
    rules = replace(RULES, trim_mm=1.5)
    (line,) = bought(left(KNEE), rules=rules)
    arms = tuple(up_to(arm + 1.5 + 20, 10) for arm in bend_of(KNEE).arms_mm)
    assert line.pieces[0].arms_mm == arms


def test_part_of_a_later_stage_is_not_bought_and_what_comes_after_it_is():
    later = replace(left(part="later"), reason=Misfit.LATER)
    (line,) = bought(later, left())
    assert [piece.part for piece in line.pieces] == ["strake"]


def test_wood_of_a_plank_is_the_first_that_is_sold_as_timber():
    assert wood_for(left(STRAKE, "apple", "teak").need) == "teak"


def test_curve_just_at_the_limit_of_its_grain_is_not_remarked():
    for run_out, count in ((12.0, 0), (11.9, 1)):
        sawn = replace(STRAKE, run_out=run_out, slope_of_grain=12)
        assert len(bought(left(sawn))[0].pieces[0].remarks) == count


def test_lamellae_are_as_long_as_the_outer_edge_of_the_bend():
    """A quarter of a ring, 60 mm deep on a radius of 300: its outermost lamella runs at 330."""
    turns = np.radians(np.linspace(0, 90, 181))
    line = 300 * np.column_stack([np.sin(turns), 1 - np.cos(turns)])
    ring = LineString(line).buffer(30, cap_style="flat", quad_segs=64)
    rib = Outline(ring, 30.0, grain=GrainPath(tuple(map(tuple, line.tolist()))))
    ((piece,),) = (line.pieces for line in bought(left(rib, "Douglas-fir")))
    assert piece.length_mm >= 330 * math.pi / 2 + 2 * (1 + 20)
    assert piece.length_mm < 330 * math.pi / 2 + 2 * (1 + 20) + 12


@pytest.mark.parametrize("outline", [STRAKE, KNEE])
def test_what_a_part_asks_of_its_wood_is_asked_of_the_yard(outline):
    plain = left(outline)
    asking = replace(
        plain.need,
        outline=replace(outline, run_out_limit=8.0),
        heartwood_only=True,
        moisture_percent=(10, 18),
    )
    (piece,) = bought(replace(plain, need=asking))[0].pieces
    assert piece.remarks == (
        "heartwood only",
        "at 10 to 18 % moisture",
        "grain that runs out of it no more than 1 in 8",
    )
