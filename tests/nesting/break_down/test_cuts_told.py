"""What is told of break-down cuts: what lies on either side, their room, where they run first."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from sheet_nests import RULES
from test_break_down import GAP, nest_of, pinwheel, random_nest, row_of

from nesting.break_down.as_data import break_down_data, cuts_from
from nesting.break_down.cuts import BreakDownCut, CutKind, Held, cut_deep_mm, runs_across
from nesting.break_down.cutting_order import broken_down
from nesting.errors import OutputError
from nesting.offcuts import Offcut
from nesting.rules import Handy
from nesting.stock.keep_out import circle

KERF, TRIM = RULES.kerf_mm, RULES.trim_mm
ONE = Held(("p1",), ())


def found_for(shapes, offcuts=(), length=2000.0, width=400.0, keep_outs=(), rules=RULES, **how):
    return broken_down(nest_of(shapes, length, width, keep_outs), offcuts, rules, **how)


def middle_of(found):
    """Return the middle of the first cut."""
    (x, y), (u, v) = found.cuts[0].start, found.cuts[0].end
    return (x + u) / 2, (y + v) / 2


# ---- which side is which ----------------------------------------------------------------------


def test_left_and_right_of_cross_cuts_in_a_row():
    found = found_for(row_of(3))
    assert found.sides == ((ONE, Held(("p2", "p3"), ())), (Held(("p2",), ()), Held(("p3",), ())))


@pytest.mark.parametrize("rise", [60, -60])
def test_below_and_above_a_rip_and_an_oblique_cut(rise):
    flat = found_for([box(5, 5, 1900, 150), box(5, 170, 1900, 395)])
    assert flat.cuts[0].kind is CutKind.RIP
    assert flat.sides == ((ONE, Held(("p2",), ())),)
    low = Polygon([(5, 70 - rise), (1900, 70 + rise), (1900, 140 + rise), (5, 140 - rise)])
    leaning = found_for([low, shapely.affinity.translate(low, 0, 100)])
    assert leaning.cuts[0].kind is CutKind.OBLIQUE
    assert leaning.sides == ((ONE, Held(("p2",), ())),)


def test_what_is_kept_is_told_by_its_number():
    kept = [Offcut(700, 5, 400, 390), Offcut(1200, 5, 400, 390)]
    found = found_for([box(5, 5, 600, 395)], kept)
    assert found.sides == ((ONE, Held((), (1, 2))), (Held((), (1,)), Held((), (2,))))
    assert [piece.offcuts for piece in found.pieces] == [(), (1,), (2,)]


@pytest.mark.parametrize("seed", range(12))
def test_parts_told_on_either_side_lie_there(seed):
    shapes = random_nest(np.random.default_rng(seed), 8)
    found = found_for(shapes, length=600, width=400)
    assert found.cuts
    for cut, sides in zip(found.cuts, found.sides, strict=True):
        (x, y), (u, v) = cut.start, cut.end
        assert cut.start < cut.end
        for side, sign in zip(sides, (-1, 1), strict=True):
            for label in side.parts:
                at = shapes[int(label[1:]) - 1].centroid
                over = (
                    at.x - x
                    if cut.kind is CutKind.CROSS
                    else (at.y - y) * (u - x) - (at.x - x) * (v - y)
                )
                assert over * sign > 0
        assert all(side.parts for side in sides)


def test_of_cuts_that_stop_what_comes_free_is_told_first():
    found = found_for(pinwheel(), may_stop=True)
    first, second = found.sides[:2]
    assert first == (Held((), ()), Held((), ()))
    assert len(second[0].parts) == 1
    assert {*second[0].parts, *second[1].parts} == {"p1", "p2", "p3", "p4"}


# ---- the strip that a cut runs in -------------------------------------------------------------


@pytest.mark.parametrize("gap_mm", [GAP, 20.0, 131.5])
def test_room_is_what_the_gap_is_wider_than_kerf_and_trims(gap_mm):
    first, second = box(5, 5, 300, 395), box(300 + gap_mm, 5, 900, 395)
    found = found_for([first, second])
    assert found.cuts[0].room_mm == pytest.approx(gap_mm - 2 * TRIM - KERF, abs=1e-9)
    assert middle_of(found)[0] == pytest.approx(300 + gap_mm / 2)


@pytest.mark.parametrize("rise", [60, -60])
def test_room_of_an_oblique_cut_is_square_to_it(rise):
    low = Polygon([(5, 70 - rise), (1900, 70 + rise), (1900, 140 + rise), (5, 140 - rise)])
    found = found_for([low, shapely.affinity.translate(low, 0, 100)])
    square = 30 * math.cos(math.atan2(2 * rise, 1895))
    assert found.cuts[0].room_mm == pytest.approx(square - 2 * TRIM - KERF, abs=0.02)


def test_metal_takes_from_the_room_by_its_clearance():
    parts = [box(5, 5, 300, 395), box(400, 5, 900, 395)]
    found = found_for(parts, keep_outs=[circle("metal", 330, 200, 10)])
    begin = 330 + 5 + RULES.blade_clearance_mm
    assert found.cuts[0].room_mm == pytest.approx(400 - TRIM - begin - KERF)
    assert middle_of(found)[0] == pytest.approx((400 - TRIM + begin) / 2)


def test_waste_end_has_room_to_the_edge_of_the_board():
    found = found_for([box(5, 5, 1500, 395)], length=3900)
    assert found.cuts[0].room_mm == pytest.approx(3900 - 1500 - TRIM - KERF)


# ---- where a cut runs -------------------------------------------------------------------------


@pytest.mark.parametrize("is_rip", [False, True], ids=["across", "along"])
@pytest.mark.parametrize("is_before", [False, True])
def test_cut_runs_along_what_is_kept_and_wastes_what_is_not(is_before, is_rip):
    part, kept, at = box(5, 5, 150, 395), Offcut(250, 5, 100, 390), 250 - KERF / 2
    if is_before:
        part, kept, at = box(250, 5, 395, 395), Offcut(5, 5, 100, 390), 105 + KERF / 2
    if is_rip:
        part = shapely.affinity.affine_transform(part, [0, 1, 1, 0, 0, 0])
        kept = Offcut(kept.y_mm, kept.x_mm, kept.width_mm, kept.length_mm)
    found = found_for([part], [kept], 400, 400)
    assert middle_of(found)[is_rip] == pytest.approx(at)


def test_cut_beside_a_part_with_something_kept_behind_it_runs_in_the_middle():
    kept = [Offcut(5, 300, 200, 95), Offcut(600, 300, 100, 95)]
    found = found_for([box(5, 5, 300, 290), box(500, 5, 700, 290)], kept, 705, 400)
    across = [cut for cut in found.cuts if cut.kind is CutKind.CROSS]
    assert across[0].start[0] == pytest.approx(400)


@pytest.mark.parametrize(("keep_out_mm", "at"), [(1600, 1501.5), (1506, 1516.0)])
def test_waste_is_sawn_off_close_to_the_part_or_beyond_the_metal_beside_it(keep_out_mm, at):
    nail = circle("metal", keep_out_mm, 200, 8)
    found = found_for([box(5, 5, 1500, 395)], length=3900, keep_outs=[nail])
    (cut,) = found.cuts
    assert cut.start[0] == pytest.approx(at + KERF / 2)


@pytest.mark.parametrize(("keep_out_mm", "at"), [(2300, 2398.5), (2396, 2386.0)])
def test_waste_on_the_left_is_sawn_off_likewise(keep_out_mm, at):
    nail = circle("metal", keep_out_mm, 200, 8)
    found = found_for([box(2400, 5, 3895, 395)], length=3900, keep_outs=[nail])
    (cut,) = found.cuts
    assert cut.start[0] == pytest.approx(at - KERF / 2)


def test_longer_of_two_waste_ends_comes_off_first():
    found = found_for([box(2000, 5, 2500, 395)], length=5000)
    assert [cut.start[0] for cut in found.cuts] == pytest.approx([2501.5 + 1.5, 1998.5 - 1.5])
    other = found_for([box(2500, 5, 3000, 395)], length=5000)
    assert [cut.start[0] for cut in other.cuts] == pytest.approx([2498.5 - 1.5, 3001.5 + 1.5])


@pytest.mark.parametrize(("part_ends_mm", "cuts"), [(2444.0, 1), (2446.0, 0)])
def test_end_is_sawn_off_only_if_150_mm_and_the_kerf_are_left_of_it(part_ends_mm, cuts):
    """2600 less 1.5 of trim, less 153: a part may end at 2445.5."""
    assert len(found_for([box(5, 5, part_ends_mm, 395)], length=2600).cuts) == cuts
    mirrored = box(2600 - part_ends_mm, 5, 2595, 395)
    assert len(found_for([mirrored], length=2600).cuts) == cuts


def test_waste_end_comes_off_before_a_long_board_is_ripped():
    found = found_for([box(5, 5, 1500, 195), box(5, 205, 1500, 395)], length=3900)
    assert [cut.kind for cut in found.cuts] == [CutKind.CROSS, CutKind.RIP]
    assert found.cuts[0].start[0] == pytest.approx(1501.5 + KERF / 2)


def test_halves_of_a_large_board_are_halved_too():
    row = [box(5 + 496 * n, 5, 5 + 496 * n + 490, 395) for n in range(16)]
    found = found_for(row, length=7941)
    first, second, third = (cut.start[0] for cut in found.cuts[:3])
    between = [5 + 496 * n - 3 for n in range(1, 16)]
    for cut, (low, high) in zip(
        (first, second, third), ((0, 7941), (0, first), (first, 7941)), strict=True
    ):
        assert cut == pytest.approx(min(between, key=lambda x: abs(2 * x - low - high)))


def test_upper_piece_is_cut_by_its_own_proportions():
    """Higher than long the board is ripped first; what is left above is longer than high."""
    grid = [box(x, y, x + 140, y + 90) for y in (205, 303) for x in (5, 153)]
    found = found_for([box(5, 5, 293, 195), *grid], length=300, width=400)
    assert [cut.kind for cut in found.cuts] == [CutKind.RIP, CutKind.CROSS, *[CutKind.RIP] * 2]


# ---- metal on the other piece -----------------------------------------------------------------


def test_metal_in_one_half_holds_nothing_in_the_other():
    quarters = [box(x, y, x + 180, y + 180) for y in (5, 205) for x in (5, 205)]
    nail = circle("metal", 300, 195, 6)
    found = found_for(quarters, length=390, width=390, keep_outs=[nail])
    freed = {piece.parts for piece in found.pieces if piece.is_freed}
    assert freed == {("p1",), ("p3",)}


def test_nail_in_the_very_edge_keeps_the_blade_off_whichever_piece_it_is_in():
    parts = [box(5, 5, 100, 395), box(130, 5, 300, 395)]
    for y in (0.0, 400.0):
        nail = circle("metal", 115, y, 4)
        found = found_for(parts, length=305, keep_outs=[nail])
        assert found.parts_freed == 2
        assert all(abs(cut.start[0] - 115) >= 2 + 6 + KERF / 2 - 1e-6 for cut in found.cuts)


# ---- pieces -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("handy_mm", "is_handy"), [(2000.0, True), (1999.9, False)])
def test_piece_just_as_long_as_may_be_is_handy(handy_mm, is_handy):
    rules = replace(RULES, handy=Handy(length_mm=handy_mm))
    (piece,) = found_for([box(5, 5, 1995, 395)], rules=rules).pieces
    assert piece.is_handy is is_handy
    assert (piece.length_mm, piece.width_mm) == pytest.approx((2000, 400))
    assert piece.mass_kg is None


@pytest.mark.parametrize(("density", "is_handy"), [(1041.0, True), (1042.0, False)])
def test_piece_just_as_heavy_as_may_be_is_handy(density, is_handy):
    """0.024 m3 of a wood of 1041.7 kg in a cubic metre weigh 25 kg."""
    (piece,) = found_for([box(5, 5, 1995, 395)], density_kg_m3=density).pieces
    assert piece.is_handy is is_handy
    assert piece.mass_kg == pytest.approx(0.024 * density)


# ---- lines and blades -------------------------------------------------------------------------


@pytest.mark.parametrize("thickness_mm", [18.0, 30.0, 45.0])
def test_blade_runs_on_by_the_difference_of_two_chords(thickness_mm):
    """Measured on a polygon of very many corners: 3 mm above its lowest point, and higher."""
    disc = Point(0, 92).buffer(92, quad_segs=4000)
    low, high = (
        disc.intersection(LineString([(-200, y), (200, y)])).length / 2
        for y in (3, thickness_mm + 3)
    )
    assert cut_deep_mm(thickness_mm, 184.0) == pytest.approx(high - low, abs=1e-3)


def test_blade_reaches_no_deeper_than_a_bit_over_a_third_of_it():
    assert cut_deep_mm(33.0, 100.0) is not None
    assert cut_deep_mm(33.1, 100.0) is None


def test_line_enters_and_leaves_a_forked_piece_twice_in_order():
    fork = box(0, 0, 100, 90) - box(20, 30, 100, 60)
    assert runs_across(fork, (1.0, 0.0), 50.0) == [
        ((50.0, 0.0), (50.0, 30.0)), ((50.0, 60.0), (50.0, 90.0)),
    ]  # fmt: skip
    assert runs_across(fork, (0.0, 1.0), 45.0) == [((0.0, 45.0), (20.0, 45.0))]
    lean = runs_across(fork, (-math.sqrt(0.5), math.sqrt(0.5)), 0.0)
    assert np.ravel(lean) == pytest.approx([0, 0, 30, 30, 60, 60, 90, 90])


def test_line_over_a_tip_counts_however_short_and_a_touched_corner_does_not():
    tip = Polygon([(0, 0), (100, 0), (0, 100)])
    ((start, end),) = runs_across(tip, (1.0, 0.0), 99.5)
    assert end[1] - start[1] == pytest.approx(0.5)
    assert runs_across(tip, (1.0, 0.0), 100.0) == []


# ---- as data ----------------------------------------------------------------------------------


def test_cuts_that_stop_come_back_from_a_summary_as_they_were():
    found = found_for(pinwheel(), may_stop=True)
    assert any(cut.by_hand for cut in found.cuts)
    assert {cut.stops for cut in found.cuts} > {(False, False)}
    data = break_down_data(found)
    again = cuts_from({"boards": [{"board": "B", "break_down": data}]})
    assert again == {"B": tuple(replace(cut, room_mm=0.0) for cut in found.cuts)}
    assert data["parts_freed"] == 4
    assert [piece["freed"] for piece in data["pieces"]] == [True] * 4


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"stops": "yes"}, "stops are 'yes', must be true or false for start and end"),
        ({"stops": [True]}, r"stops are \[true\]"),
        ({"stops": [1, 0]}, r"stops are \[1, 0\]"),
        ({"by_hand": 1}, "by_hand is 1, must be true or false"),
        ({"kind": "plunge"}, "plunge"),
    ],
)
def test_summary_s_cut_with_a_wrong_figure_is_refused_with_it(changed, words):
    cut = BreakDownCut(CutKind.CROSS, (1.0, 0.0), (1.0, 400.0))
    data = break_down_data(replace(found_for(row_of(2)), cuts=(cut,)))
    data["cuts"][0] |= changed
    with pytest.raises(OutputError, match=f"break-down cuts cannot be read: .*{words}"):
        cuts_from({"boards": [{"board": "B", "break_down": data}]})


def test_summary_s_cut_without_a_figure_says_which():
    data = break_down_data(found_for(row_of(2)))
    del data["cuts"][0]["by_hand"]
    with pytest.raises(OutputError, match="'by_hand' is not known"):
        cuts_from({"boards": [{"board": "B", "break_down": data}]})
