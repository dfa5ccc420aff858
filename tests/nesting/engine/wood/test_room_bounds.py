"""What a board could give at best: closed forms for planks, and never too little anywhere."""

import math

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nesting.engine.wood import room_bounds
from nesting.engine.wood.room_bounds import (
    Possible,
    free_region,
    in_way,
    least_strip_length,
    taken_by,
)
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, slot

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
SAW = Rules(kerf_mm=4, trim_mm=3, cleaning_loss_mm=0)
METAL = circle(KeepOutKind.METAL, 300, 50, 6)
HOLE = circle(KeepOutKind.HOLE, 600, 50, 4)


def bar(length=300.0, width=50.0, **given):
    outline = Outline(box(0, 0, length, width), given.pop("siding", 20))
    return Need("P", "any", outline, given.pop("species", ("oak",)), **given)


def plank(length=1000.0, width=100.0, **given):
    return Board("A", box(0, 0, length, width), 30, given.pop("species", "oak"), **given)


def rounded_area(length, width, by):
    """Return the area of a rectangle grown by so much, its corners round."""
    return length * width + 2 * by * (length + width) + math.pi * by * by


def test_trim_and_what_a_part_may_not_hold_are_taken_off_the_board():
    board = plank(keep_outs=(METAL, HOLE))
    clear, plugged = bar(), bar(holes=Holes.PLUGGED)
    assert list(in_way(board, clear, SAW)) == [METAL, HOLE]
    assert list(in_way(board, plugged, SAW)) == [METAL]
    metal = math.pi * (3 + SAW.clearance_mm(KeepOutKind.METAL)) ** 2
    for need, taken in ((clear, metal + math.pi * 4), (plugged, metal), (None, 0.0)):
        free = free_region(board, need, SAW)
        assert free.bounds == pytest.approx((3, 3, 997, 97), abs=2 * TOUCH_MM)
        assert free.area == pytest.approx(994 * 94 - taken, abs=0.01 * taken + 0.01)
        assert free.area >= 994 * 94 - taken
    taken = taken_by(METAL, SAW)
    assert taken.area == pytest.approx(metal, rel=0.01)
    assert taken.area <= metal


def test_room_is_free_wood_grown_by_half_the_gap_for_parts_grown_likewise():
    possible = Possible([bar()], [plank()], SAW)
    half = SAW.part_gap_mm / 2
    assert possible.room(0, 0) == pytest.approx(rounded_area(994, 94, half), rel=1e-3)
    assert possible.room(0, 0) >= rounded_area(994, 94, half)
    assert possible.areas[0] == pytest.approx(rounded_area(300, 50, half), rel=1e-4)
    assert possible.areas[0] <= rounded_area(300, 50, half)
    assert possible.widths(0) == pytest.approx([0, 94, 94, 94], abs=1e-4)


def test_quick_room_is_never_less():
    bent = Polygon([(0, 0), (1000, 0), (1000, 40), (500, 100), (0, 40)])
    board = Board("A", bent, 30, "oak")
    exact = Possible([bar()], [board], SAW).room(0, 0)
    quick = Possible([bar()], [board], SAW, lambda: 0.0).room(0, 0)
    assert exact < quick
    # Nothing is in the way of what is not measured, and no trim is taken off.
    half = SAW.part_gap_mm / 2
    assert quick == pytest.approx(bent.area + half * bent.length + math.pi * half**2, rel=1e-2)


@pytest.mark.parametrize(
    ("need", "may"),
    [
        (bar(1000, 100), True),
        (bar(1001, 100), False),
        (bar(1000, 100.1), False),
        (bar(species=("teak",)), False),
        (bar(siding=31), False),
        (Need("D", "any", Outline(box(0, 0, 100, 50), 20), ("oak",), not_from=("deck",)), False),
        (Need("D", "any", Outline(box(0, 0, 100, 50), 20), ("oak",), not_from=("keel",)), True),
    ],
    ids=["same", "long", "wide", "species", "thick", "deck", "keel"],
)
def test_what_a_board_may_give_goes_by_wood_and_box(need, may):
    other = bar(10, 10, species=("pine",))
    possible = Possible([other, need], [plank(member="deck"), plank(species="pine")], NO_SAW)
    assert possible.may.tolist() == [[False, True], [may, False]]


def test_pieces_of_a_board_are_each_looked_at_and_count_where_a_part_may_lie():
    board = plank(keep_outs=(slot(KeepOutKind.METAL, (700, -20), (700, 120), 2),))
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, blade_clearance_mm=0)
    needs = [bar(690), bar(691 + 10), bar(250), bar(300)]
    assert Possible(needs, [board], rules).may[:, 0].tolist() == [True, False, True, True]
    only_long = Possible([bar(690)], [board], rules)
    both = Possible([bar(690), bar(250)], [board], rules)
    assert only_long.room(0, 0) == pytest.approx(699 * 100, rel=1e-3)
    assert both.room(0, 0) == pytest.approx((699 + 299) * 100, rel=1e-3)


def test_parts_that_tolerate_more_have_the_room_of_those_that_tolerate_less_as_well():
    row = tuple(circle(KeepOutKind.HOLE, x, 50, 4) for x in range(100, 1000, 100))
    needs = [bar(200, 40), bar(500, 90, holes=Holes.PLUGGED), bar(500, 90)]
    possible = Possible(needs, [plank(keep_outs=row)], NO_SAW)
    assert possible.may[:, 0].tolist() == [True, True, True]  # a hole does not part the board
    assert possible.levels.tolist() == [0, 1, 0]
    assert possible.room(0, 0) < possible.room(0, 1) == pytest.approx(100_000, rel=1e-4)
    assert possible.room(0, 2) == possible.room(0, 1)
    plugged = Possible([needs[1]], [plank(keep_outs=row)], NO_SAW)
    assert plugged.room(0, 0) == 0.0


def test_time_is_spent_only_on_levels_that_some_part_has():
    board, needs = plank(keep_outs=(METAL,) * 100), [bar()]
    enough = 100 * room_bounds.A_KEEP_OUT
    for level, seconds, is_measured in (
        (Holes.CLEAR, math.inf, True), (Holes.PLUGGED, math.inf, True),
        (Holes.CLEAR, enough * 1.01, True), (Holes.CLEAR, enough, False),
        (Holes.PLUGGED, 1e9, False),
    ):  # fmt: skip
        assert room_bounds._has_time(board, level, needs, seconds) == is_measured


def squares(count, size=10.0):
    return Outline(box(0, 0, size, size), 20, slope_of_grain=1000.0), count


def test_a_strip_is_no_shorter_than_its_area_or_its_longest_part():
    long_one = Outline(box(0, 0, 80, 5), 20, slope_of_grain=1000.0), 1
    assert least_strip_length([squares(10)], 20.0, 0.0) == pytest.approx(50.0, rel=1e-4)
    assert least_strip_length([squares(6), long_one], 20.0, 0.0) == pytest.approx(80, rel=1e-4)
    assert least_strip_length([squares(14), long_one], 20.0, 0.0) == pytest.approx(90, rel=1e-4)


def test_a_strip_filled_exactly_with_the_saw_between_is_as_long_as_the_bound():
    """Eight squares of 10 in two rows of four, 2 mm between: 22 wide and 46 long."""
    bound = least_strip_length([squares(8)], 22.0, 2.0)
    rounding = (4 - math.pi) * 1.0 * (8 - 1) / 24.0
    assert bound == pytest.approx(46.0 - rounding, abs=0.01)
    assert bound <= 46.0


def test_nothing_wanted_asks_for_no_wood():
    possible = Possible([], [plank()], NO_SAW)
    assert possible.may.shape == (0, 1)
    assert possible.room(0, 0) == 0.0
    assert np.isfinite(possible.areas).all()


def test_wood_too_small_in_area_gives_nothing_though_its_box_is_large_enough():
    half = Polygon([(0, 0), (1000, 0), (0, 100)])
    needs = [bar(600, 83.3), bar(600, 83.4)]
    assert Possible(needs, [Board("A", half, 30, "oak")], NO_SAW).may[:, 0].tolist() == [
        True,
        False,
    ]


def test_pieces_are_as_long_as_they_are_wherever_they_lie():
    board = plank(keep_outs=(slot(KeepOutKind.METAL, (300, -20), (300, 120), 2),))
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, blade_clearance_mm=0)
    needs = [bar(698, 20), bar(701, 20)]
    assert Possible(needs, [board], rules).may[:, 0].tolist() == [True, False]


def test_parts_with_a_limit_on_run_out_are_asked_each_for_itself():
    """A strake bent 100 mm in 600 cannot keep its edges within 1 in 20 of straight grain."""
    bent = Polygon([(0, 0), (300, 50), (600, 0), (600, 30), (300, 80), (0, 30)])
    outlines = (
        Outline(bent, 20, run_out=3.0, run_out_limit=20.0),
        Outline(box(0, 0, 300, 50), 20, run_out_limit=20.0),
    )
    needs = [Need(f"P{i}", "any", outline, ("oak",)) for i, outline in enumerate(outlines)]
    for given, may in ((needs, [False, True]), (needs[::-1], [True, False])):
        wood = [need.misfit(plank(), NO_SAW) is None for need in given]
        assert wood == may
        assert Possible(given, [plank()], NO_SAW).may[:, 0].tolist() == may
