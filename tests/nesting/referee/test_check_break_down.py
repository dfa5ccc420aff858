"""The referee makes break-down cuts again: what it measures, and where a blade runs on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, Point, box

from nesting.break_down.cuts import BreakDownCut, CutKind
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.referee.break_down import _holds, check_break_down
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import circle

RULES = Rules(kerf_mm=3.0, trim_mm=1.5, blade_clearance_mm=6.0, saw_blade_mm=184.0)
BOARD = Board.rectangle("B", 2000, 400, 30, "teak")
CROSS, RIP, OBLIQUE = CutKind.CROSS, CutKind.RIP, CutKind.OBLIQUE


def nest_of(*shapes, board=BOARD) -> Nest:
    placements = []
    for number, shape in enumerate(shapes, start=1):
        x, y, _, _ = shape.bounds
        outline = Outline(translate(shape, -x, -y), 20)
        placements.append(Placement(Need(f"p{number}", "", outline, ("teak",)), x, y))
    return Nest(board, tuple(placements))


def faults(nest, *cuts, offcuts=(), rules=RULES, freed=None) -> list[str]:
    found = check_break_down(cuts, offcuts, nest, rules, freed=freed)
    return [fault.measured for fault in found]


def cross(x, low=0.0, high=400.0, **how) -> BreakDownCut:
    return BreakDownCut(CROSS, (x, low), (x, high), **how)


def chord_mm(radius: float, below_centre: float) -> float:
    """Return half of what a blade cuts at a level, measured on a polygon of very many corners."""
    disc = Point(0, 0).buffer(radius, quad_segs=4000)
    level = LineString([(-2 * radius, -below_centre), (2 * radius, -below_centre)])
    return disc.intersection(level).length / 2


RUNS_ON = chord_mm(92, 92 - 33) - chord_mm(92, 92 - 3)
"""How much further a 184 mm blade that comes 3 mm out below a 30 mm board cuts on top."""

MEETING = BreakDownCut(RIP, (0.0, 300.0), (1001.5, 300.0), stops=(False, True))
"""A rip that ends in the kerf of the cross-cut before it: both take a corner out of the board."""


def stopping(x=1000.0, at=301.5, **how) -> BreakDownCut:
    """A cross-cut from below that ends in the kerf of the rip that comes after it."""
    return cross(x, 0.0, at, stops=(False, True), **how)


@pytest.mark.parametrize(("off", "count"), [(0.009, 0), (0.02, 1), (0.9, 1)])
def test_end_is_on_the_edge_to_a_hundredth_of_a_millimetre(off, count):
    found = faults(nest_of(), cross(500, high=400 - off))
    assert len(found) == count
    assert all(f"ends {off:.4f} mm off the edge" in one for one in found)


def test_end_off_the_edge_is_told_where_the_other_end_stops():
    found = faults(nest_of(), cross(1000, 50.0, 301.5, stops=(True, False)), MEETING)
    assert any("c1 ends 98.5000 mm off" in one for one in found)


def test_strip_of_less_than_a_square_millimetre_is_no_piece():
    width = 0.9 / 400
    assert faults(nest_of(), cross(2000 - 1.5 - width)) == ["c1 splits off nothing"]
    assert not faults(nest_of(), cross(2000 - 1.5 - 1.5 / 400))


def test_cut_without_length_hides_none_after_it():
    found = faults(nest_of(), cross(300, 0, 0), cross(700, 100))
    assert found[0] == "c1 has no length"
    assert "c2 ends 100.0000 mm off" in found[1]


def test_cut_that_stops_is_met_by_the_next_or_told():
    assert not faults(nest_of(), stopping(), MEETING)
    assert faults(nest_of(), stopping()) == [
        "no cut meets c1 where it stops",
        "c1 stops at (1000.0, 301.5) mm, in no other cut",
    ]
    assert "no cut meets c1 where it stops" in faults(nest_of(), stopping(), cross(1500))


def test_slot_that_ends_in_the_wood_is_told_though_a_corner_is_taken_out_after_it():
    assert faults(nest_of(), stopping(500, 200.0), stopping(), MEETING) == [
        "c1 stops at (500.0, 200.0) mm, in no other cut"
    ]
    for over, count in ((0.0, 0), (0.01, 1)):
        found = faults(nest_of(), stopping(at=301.5 + over), MEETING)
        assert len(found) == count


def test_cut_may_open_a_window_that_parts_were_let_out_of():
    within = (True, True)
    window = (
        BreakDownCut(RIP, (798.5, 98.5), (1001.5, 98.5), stops=within),
        cross(798.5, 98.5, 301.5, stops=within),
        BreakDownCut(RIP, (798.5, 301.5), (1001.5, 301.5), stops=within),
        cross(1001.5, 98.5, 301.5, stops=within),
    )
    assert not faults(nest_of(), *window)
    assert not faults(nest_of(), *window, cross(900, high=97))
    dust = cross(2000 - 1.5 - 0.9 / 400)
    assert faults(nest_of(), *window, dust) == ["c5 splits off nothing"]


@pytest.mark.parametrize("by_hand", [False, True])
def test_blade_runs_on_above_where_it_stops_just_so_far(by_hand):
    """Sawn by hand, the saw stops on top: nothing is cut beyond."""
    reach = 0.0 if by_hand else RUNS_ON
    for spare, is_sound in ((0.01, True), (-0.01, False)):
        part = box(900, 301.5 + reach + RULES.trim_mm + spare, 1100, 398)
        found = faults(nest_of(part), stopping(by_hand=by_hand), MEETING)
        told = [one for one in found if one.startswith("c1") and "p1" in one]
        assert bool(told) is not is_sound


def test_blade_runs_on_along_a_cut_that_leans():
    turned = replace(BOARD, shape=rotate(BOARD.shape, 30, origin=(0, 0)))
    for spare, count in ((0.01, 0), (-0.01, 1)):
        part = box(900, 301.5 + RUNS_ON + RULES.trim_mm + spare, 1100, 398)
        lying = rotate(part, 30, origin=(0, 0))
        cuts = [
            replace(cut, kind=OBLIQUE, start=turned_point(cut.start), end=turned_point(cut.end))
            for cut in (stopping(), MEETING)
        ]
        found = faults(nest_of(lying, board=turned), *cuts)
        assert sum(one.startswith("c1") and "p1" in one for one in found) == count


def turned_point(point):
    at = rotate(Point(point), 30, origin=(0, 0))
    return at.x, at.y


def test_blade_that_does_not_reach_through_may_stop_nowhere():
    """33 mm deep is more than 0.36 of a 91 mm blade, and less of a 92 mm one."""
    part = box(900, 396, 1100, 398)
    for blade_mm, is_sound in ((91.0, False), (92.0, True)):
        rules = replace(RULES, saw_blade_mm=blade_mm)
        found = faults(nest_of(part), stopping(), rules=rules)
        assert any("c1 is 0.000000 mm from p1" in one for one in found) is not is_sound


def test_cut_by_hand_stops_somewhere_and_is_longer_than_its_stops_leave():
    assert faults(nest_of(), cross(500, by_hand=True)) == [
        "c1 is finished by hand and stops nowhere"
    ]
    for spare, count in ((0.1, 0), (-0.1, 1)):
        short = cross(1000, 301.5 - RUNS_ON - spare, 301.5, stops=(False, True), by_hand=True)
        edge = replace(BOARD, shape=box(0, 301.5 - RUNS_ON - spare, 2000, 400))
        found = faults(nest_of(board=edge), short, MEETING)
        assert sum(f"its stops leave {RUNS_ON:.1f} mm below" in one for one in found) == count


@pytest.mark.parametrize(("spare", "count"), [(0.0, 0), (-0.001, 1)])
def test_metal_just_as_far_as_it_must_be_is_clear(spare, count):
    nail = circle("metal", 500 + 1.5 + 6.0 + 5.0 + spare, 200, 10)
    found = faults(nest_of(board=replace(BOARD, keep_outs=(nail,))), cross(500))
    assert len(found) == count


@pytest.mark.parametrize(("spare", "count"), [(0.0, 0), (-0.001, 1)])
def test_part_just_its_trim_away_is_clear(spare, count):
    found = faults(nest_of(box(500 + 1.5 + 1.5 + spare, 5, 700, 395)), cross(500))
    assert len(found) == count


def test_part_that_is_freed_lies_alone_and_what_is_kept_is_no_part():
    parts = box(5, 5, 400, 395), box(800, 5, 1000, 395)
    kept = box(1100, 5, 1900, 395)
    cuts = cross(600), cross(1050)
    assert not faults(nest_of(*parts), *cuts, offcuts=[kept], freed=2)
    assert faults(nest_of(*parts), *cuts, offcuts=[kept], freed=3) == [
        "3 parts are said to come free, 2 do"
    ]
    assert not faults(nest_of(*parts), cuts[0], offcuts=[kept], freed=1)
    assert not faults(nest_of(*parts), cuts[0], offcuts=[kept])


@pytest.mark.parametrize(
    ("low_x", "is_held"),
    [(10.0, True), (0.0, True), (-TOUCH_MM / 2, True), (-0.01, False), (-30.0, False),
     (-60.0, False), (-90.0, False)],
    ids=["inside", "along the edge", "over by half a touch", "over", "half out", "beside", "apart"],
)  # fmt: skip
def test_a_thing_is_held_by_the_piece_that_it_lies_in_but_for_a_touch(low_x, is_held):
    thing = box(low_x, 5, low_x + 60, 35)
    assert _holds(box(0, 0, 200, 40), thing) is is_held
