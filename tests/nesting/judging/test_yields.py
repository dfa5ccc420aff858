"""What a member gives by what is left in it, against figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.judging.bung_room import ACROSS_MM
from nesting.judging.clear_runs import Places
from nesting.judging.fastener_lines import Line
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates
from nesting.judging.wanted import Wanted
from nesting.judging.ways import SPOILED, Left
from nesting.judging.yields import Yield, yield_of
from nesting.rules import Rules
from nesting.stock.keep_out import KeepOutKind

RULES = Rules(
    kerf_mm=3.0, trim_mm=1.5, blade_clearance_mm=6.0, reaming_mm=0.5, plug_edge_mm=6.0,
    plug_sizes_mm=(6.5, 16.5),
)  # fmt: skip
PLANK = Member("plank", "teak", 5, 1000.0, 100.0, 30.0, 1.0)
JOINT = Joint("plank", "beam", Fastener.SCREW, 6.0, 100.0)
WHOLE, STUCK = Left(), Left(metal=1.0)


def line(left=WHOLE, *, joint=JOINT, spacing=100.0, rows=1, from_edge=0.0) -> Line:
    return Line(joint, left, spacing, rows, from_edge)


def part(width, length=300.0, *, holes=False) -> Wanted:
    return Wanted("part", ("teak",), 10, length, width, 22.0, holes, 5.0)


def pieces(wanted, *lines, member=PLANK, rules=RULES) -> float:
    return Yield(member, lines, rules).pieces(wanted)


def test_rows_stand_in_the_middle_or_as_far_apart_as_from_the_edges():
    assert line().across_mm(100) == [50]
    assert line(from_edge=12).across_mm(100) == [12]
    assert line(rows=3).across_mm(100) == pytest.approx([25, 50, 75])
    assert line(rows=2, from_edge=10).across_mm(100) == pytest.approx([10, 90])


@pytest.mark.parametrize(("width", "abreast"), [(31.33, 3), (31.34, 2), (100.0, 1), (100.1, 0)])
def test_sound_piece_gives_what_fits_with_a_kerf_between(width, abreast):
    """Three of 300 in 1000 with two kerfs of 3; in 100 three of 31.33 with two."""
    assert pieces(part(width)) == pytest.approx(5 * 3 * abreast)


@pytest.mark.parametrize(("sweep", "abreast"), [(44.4, 3), (44.5, 2)])
def test_sweep_of_a_member_comes_off_by_the_square_of_the_length(sweep, abreast):
    """A sweep of 44.4 in 1000 is 4 in 300: three of 30 and two kerfs are 96."""
    assert pieces(part(30.0), member=replace(PLANK, sweep_mm=sweep)) == 5 * 3 * abreast


@pytest.mark.parametrize(("width", "each"), [(41.0, 2), (41.1, 0)])
def test_beside_a_row_of_metal_lies_what_keeps_the_blade_off_it(width, each):
    """50 less half of a screw of 6 and 6 of clearance: 41 on either side; between screws, 82."""
    for holes in (False, True):
        assert pieces(part(width, holes=holes), line(STUCK)) == pytest.approx(5 * 3 * each)


def test_beside_a_row_of_holes_lies_what_keeps_its_clearance_off_the_bung_of_the_outer_one():
    rules = replace(RULES, clearances_mm={KeepOutKind.HOLE: 2.0})
    bunged = line(joint=replace(JOINT, bung_mm=16.0))
    under = line(joint=replace(JOINT, of="deck", to="plank", bung_mm=16.0))
    for one, room in ((bunged, 50 - 8 - 2), (under, 50 - 3 - 2)):
        assert pieces(part(room), one, rules=rules) == pytest.approx(5 * 3 * 2)
        assert pieces(part(room + 0.1), one, rules=rules) == 0


def test_metal_beyond_its_hole_keeps_more_off_than_the_hole():
    assert pieces(part(41.1), line(STUCK)) == 0
    assert pieces(part(41.1), line()) == pytest.approx(5 * 3 * 2)


ONE_HOLE = {"spacing": 1000.0}


@pytest.mark.parametrize(("width", "given"), [(100.0, 15), (100.1, 0)])
def test_part_over_bunged_holes_may_be_as_wide_with_its_trim_as_the_board(width, given):
    assert pieces(part(width, holes=True), line(**ONE_HOLE)) == pytest.approx(given)


@pytest.mark.parametrize("width", [40.0, 60.0, 80.0, 88.0])
@pytest.mark.parametrize("from_edge", [4.0, 11.0, 20.0, 31.0, 45.0])
def test_row_as_far_from_the_other_edge_leaves_as_much(width, from_edge):
    near, far = (
        pieces(part(width, holes=True), line(**ONE_HOLE, from_edge=at))
        for at in (from_edge, 100 - from_edge)
    )
    assert near == pytest.approx(far)


@pytest.mark.parametrize(("spacing", "given"), [(1000 / 6, 15), (160.0, 0)])
def test_part_has_no_more_bungs_in_a_metre_than_the_rules_allow(spacing, given):
    assert pieces(part(80.0, holes=True), line(spacing=spacing)) == pytest.approx(given)


@pytest.mark.parametrize(("width", "given"), [(55.4, 10), (55.5, 15)])
def test_bung_of_the_outer_member_is_wholly_in_a_part_and_off_its_edges(width, given):
    """Of 16, reamed to 16.5, and 14 off either edge: 44.5, 4 mm off either way 52.5, 3 of trim."""
    assert ACROSS_MM == 4
    bunged = line(**ONE_HOLE, joint=replace(JOINT, bung_mm=16.0))
    rules = replace(RULES, plug_edge_mm=14.0)
    assert pieces(part(width, holes=True), bunged, rules=rules) == pytest.approx(given)
    under = line(**ONE_HOLE, joint=replace(JOINT, of="deck", to="plank", bung_mm=16.0))
    assert pieces(part(width, holes=True), under, rules=rules) == pytest.approx(15)


@pytest.mark.parametrize(("width", "given"), [(90.2, 15), (90.3, 10)])
def test_part_over_one_row_lies_wholly_beside_another(width, given):
    """At 4 mm from the edge a bung of 6.5, 4 mm off, comes to 11.25: to 98.5 are 87.25."""
    rows = line(**ONE_HOLE, from_edge=4.0), line(**ONE_HOLE)
    assert pieces(part(width, holes=True), *rows) == pytest.approx(given)


@pytest.mark.parametrize(("width", "abreast"), [(47.0, 1), (48.0, 1), (48.5, 1)])
@pytest.mark.parametrize("metal", [0.0, 0.01])
def test_parts_side_by_side_share_no_bung(width, abreast, metal):
    """Two of 48 have room in 100, but a row of holes in the middle would be in the edge of both.

    Between the holes, 200 apart, none is clear.
    """
    given = pieces(part(width + 0.1, holes=True), line(Left(metal), spacing=200.0))
    at = [100.0 + 200 * n for n in range(5)]
    each = Places(1000.0, at, [9.0] * 5, [metal] * 5).expected_pieces(300.0, 3.0)
    assert given == pytest.approx(5 * each * abreast)


@pytest.mark.parametrize("metal", [0.0, 1.0])
def test_parts_lie_side_by_side_with_their_own_row_each(metal):
    """Rows at 25 and 75: a part of 48 has one well inside. Metal in either stops both at once."""
    given = pieces(part(48.0, holes=True), line(Left(metal), spacing=400.0, rows=2, from_edge=25.0))
    assert given == pytest.approx(5 * 2 * (3 if not metal else 1))


def test_places_along_a_piece_have_metal_where_any_of_their_rows_has():
    given = Yield(PLANK, (line(Left(metal=0.3), rows=2),), RULES)
    at = [50.0 + 100 * n for n in range(10)]
    by_hand = Places(1000.0, at, [3.0 + 6.0] * 10, [1 - 0.7**2] * 10)
    assert given.plugged.expected_length(80.0) == pytest.approx(by_hand.expected_length(80.0))
    holes = Places(1000.0, at, [9.0] * 10, [1.0] * 10)
    assert given.clear.expected_length(80.0) == pytest.approx(holes.expected_length(80.0))


def test_row_of_holes_hides_no_row_of_metal_after_it():
    first, second = line(spacing=500.0), line(STUCK, spacing=100.0)
    given = Yield(PLANK, (first, second), RULES).plugged
    alone = Yield(PLANK, (second,), RULES).plugged
    assert given.expected_length(80.0) == pytest.approx(alone.expected_length(80.0))


def test_rot_takes_about_half_a_metre_at_a_time():
    rotten = Yield(replace(PLANK, length_mm=1200.0, sound=0.8), (), RULES)
    by_hand = Places(1200.0, [300.0, 900.0], [300.0, 300.0], [0.2, 0.2])
    assert rotten.clear.expected_length(500) == pytest.approx(by_hand.expected_length(500))
    # Each half is sound at 0.8; both together are one run.
    assert rotten.clear.expected_length(700) == pytest.approx(0.64 * 1200)


def test_thousands_of_fasteners_count_as_five_hundred_of_which_several_lie_in_each():
    close = Yield(PLANK, (line(Left(metal=0.01), spacing=1.0),), RULES)
    at = [1.0 + 2 * n for n in range(500)]
    by_hand = Places(1000.0, at, [9.0] * 500, [1 - 0.99**2] * 500)
    assert close.plugged.expected_length(30.0) == pytest.approx(by_hand.expected_length(30.0))


def test_board_feet_are_of_all_pieces_at_their_width_and_thickness():
    feet = 5 * 1000 * 100 * 30 / (12 * 12 * 25.4**3)
    sound = Yield(PLANK, (), RULES)
    assert sound.clear_feet(900) == pytest.approx(feet)
    assert sound.pluggable_feet() == pytest.approx(feet)
    holed = Yield(PLANK, (line(),), RULES)
    assert holed.pluggable_feet(900) == pytest.approx(feet)
    assert holed.clear_feet(900) == 0


def test_fasteners_stand_in_rows_from_the_edge_in_the_outer_member_alone():
    joint = replace(JOINT, rows=2, from_edge_mm=12.0)
    beam = Member("beam", "oak", 3, 2000.0, 80.0, 80.0, 1.0)
    boat = OldBoat("x", (PLANK, beam), (joint,), Rates(20.0, 20.0))
    (outer,) = yield_of(boat, "plank", {0: WHOLE}, RULES).lines
    (inner,) = yield_of(boat, "beam", {0: STUCK}, RULES).lines
    assert (outer.rows, outer.from_edge_mm, inner.rows, inner.from_edge_mm) == (2, 12.0, 1, 0.0)
    assert inner.spacing_mm == boat.spacing_on(joint, "beam")
    with pytest.raises(ValueError, match="plank is spoiled where it joins beam"):
        yield_of(boat, "plank", {0: SPOILED}, RULES)


def test_planks_that_lap_are_fastened_along_both_edges():
    """Each to the one below and to the one above: between lies all that neither lap takes."""
    lap = Joint("plank", "plank", Fastener.RIVET, 4.0, 100.0)
    boat = OldBoat("x", (PLANK,), (lap,), Rates(20.0, 20.0))

    def given(joint, width):
        made = yield_of(replace(boat, joints=(joint,)), "plank", {0: STUCK}, RULES)
        return made.pieces(part(width))

    # 100 wide, rivets at 10 and 90; half a rivet and 6 of clearance off either: 64.
    assert given(lap, 64.0) == pytest.approx(5 * 3)
    assert given(lap, 64.1) == 0.0
    assert given(replace(lap, from_edge_mm=14.0), 56.0) == pytest.approx(5 * 3)
    assert given(replace(lap, from_edge_mm=14.0), 56.1) == 0.0
    double = yield_of(replace(boat, joints=(replace(lap, rows=2),)), "plank", {0: STUCK}, RULES)
    assert sorted(at for one in double.lines for at in one.across_mm(100)) == [10, 10, 90, 90]
