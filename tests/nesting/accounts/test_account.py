import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from nesting.accounts.account import Shares, account_board, account_for
from nesting.accounts.buying import buy_list
from nesting.need import Holes, Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import Outline
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region
from nesting.units import board_feet

RULES = Rules(kerf_mm=4, trim_mm=1, cleaning_loss_mm=1, least_offcut=LeastOffcut(300, 50))
BOARD = Board("A", box(0, 0, 1000, 100), 25, "oak")


def beam(length=500.0, width=98.0):
    return Need("beam", "any", Outline(box(0, 0, length, width), 20), ("oak",))


def test_shares_of_a_simple_board_are_what_a_ruler_says():
    account = account_board(Nest(BOARD, (Placement(beam(), 1, 1),)), RULES)
    assert account.area.opened == pytest.approx(100_000)
    assert account.area.parts == pytest.approx(500 * 98)
    # Sawn at 1 + 4 mm beyond the end at 501: the offcut runs from 506.
    assert account.area.offcuts == pytest.approx((1000 - 506) * 100, abs=10)
    assert account.area.kerf_and_trim == pytest.approx(100_000 - 49_000 - 49_400, abs=10)
    assert account.area.oddments == pytest.approx(0, abs=10)
    assert account.scrap_percent == pytest.approx(100 * (1 - 98_400 / 100_000), abs=0.02)
    (offcut,) = account.offcuts
    assert (offcut.length_mm, offcut.width_mm) == (pytest.approx(494), pytest.approx(100, abs=0.1))


def test_volume_tells_planing_apart():
    account = account_board(Nest(BOARD, (Placement(beam(), 1, 1),)), RULES)
    assert account.volume.opened == pytest.approx(100_000 * 25)
    assert account.volume.parts == pytest.approx(49_000 * 20)
    assert account.volume.planed == pytest.approx(49_000 * 5)


def test_scrap_with_and_without_credit_for_offcuts_are_told_apart():
    account = account_board(Nest(BOARD, (Placement(beam(), 1, 1),)), RULES)
    assert account.area.scrap_percent == pytest.approx(100 * (1 - 98_400 / 100_000), abs=0.02)
    assert account.area.uncredited_scrap_percent == pytest.approx(100 * (1 - 49_000 / 100_000))


def test_ragged_wood_around_an_offcut_is_oddments():
    """A plank 200 wide at one end and 100 at the other: only the straight part of it is kept."""
    wedge = Polygon([(0, 0), (1000, 0), (1000, 100), (0, 200)])
    nest = Nest(replace(BOARD, shape=wedge), (Placement(beam(400, 80), 1, 1),))
    account = account_board(nest, replace(RULES, least_offcut=LeastOffcut(500, 100)))
    (offcut,) = account.offcuts
    assert (offcut.x_mm, offcut.y_mm) == (pytest.approx(406), pytest.approx(0))
    assert (offcut.length_mm, offcut.width_mm) == (pytest.approx(594), pytest.approx(100, abs=0.1))
    beside = (159.4 + 100) / 2 * 594 - 594 * (100 + RULES.kerf_mm)
    above = (200 + 159.4) / 2 * 406 - 86 * 406
    assert account.area.oddments == pytest.approx(beside + above, rel=0.01)


def test_ten_holes_under_a_stain_are_measured_once():
    stain = region(KeepOutKind.STAIN, [(600, 10), (900, 10), (900, 90), (600, 90)])
    holes = tuple(circle(KeepOutKind.HOLE, 610 + 30 * i, 50, 8) for i in range(10))
    rot = region(KeepOutKind.ROT, [(850, 20), (950, 20), (950, 60), (850, 60)])
    board = replace(BOARD, keep_outs=(*holes, stain, rot))
    rules = replace(RULES, least_offcut=LeastOffcut(5000, 50))
    account = account_board(Nest(board, (Placement(beam(), 1, 1),)), rules)
    assert account.area.defects == pytest.approx(300 * 80 + 50 * 40)
    assert account.volume.defects == pytest.approx((300 * 80 + 50 * 40) * 25)
    # Nothing is kept; all that is not part, flaw or saw's cut is oddments.
    assert account.area.offcuts == pytest.approx(0, abs=1e-6)
    assert account.area.oddments == pytest.approx(494 * 100 - 26_000, abs=10)
    assert account.area.opened == pytest.approx(100_000)


def test_board_with_two_thousand_nails_keeps_what_lies_between_their_rows():
    rng = np.random.default_rng(1)
    nails = tuple(
        circle(KeepOutKind.METAL, float(x), float(y), 6)
        for x in np.linspace(20, 5980, 1000)
        for y in (30 + rng.normal(0, 4), 370 + rng.normal(0, 4))
    )
    board = Board("A", box(0, 0, 6000, 400), 25, "oak", keep_outs=nails)
    account = account_board(Nest(board, (Placement(beam(), 1000, 150),)), RULES)
    assert account.area.percent("offcuts") > 55


@given(
    x=st.floats(1, 400), y=st.floats(1, 40), length=st.floats(50, 550), width=st.floats(20, 55),
    hole=st.tuples(st.floats(0, 1000), st.floats(0, 100), st.floats(2, 80)),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_shares_always_add_up(x, y, length, width, hole):
    board = replace(BOARD, keep_outs=(circle(KeepOutKind.KNOT, *hole),))
    account = account_board(Nest(board, (Placement(beam(length, width), x, y),)), RULES)
    assert account.area.opened == pytest.approx(board.area_mm2, rel=1e-9)
    assert account.volume.opened == pytest.approx(board.area_mm2 * 25, rel=1e-9)
    for share in ("parts", "offcuts", "defects", "kerf_and_trim", "oddments"):
        assert account.area.percent(share) >= -1e-9


@pytest.mark.parametrize("skew", [0.0, 0.7, 1.9, 2.6])
def test_where_no_offcut_is_kept_their_share_is_nothing_and_no_rounding(skew):
    shape = Polygon([(0.1, 0.2), (1000.3, skew), (1000.7, 100.1), (0.3, 99.9)])
    for x in (7.3, 101.7, 333.1):
        nest = Nest(replace(BOARD, shape=shape), (Placement(beam(411.3, 37.9), x, 8.6),))
        area = account_board(nest, replace(RULES, least_offcut=LeastOffcut(2000, 50))).area
        assert area.offcuts == area.planed == 0
        assert min(area.parts, area.defects, area.kerf_and_trim, area.oddments) >= 0


def test_nothing_opened_is_no_scrap():
    assert Shares().scrap_percent == 0.0


def test_rounding_is_no_scrap_and_a_share_is_of_all_that_was_opened():
    assert Shares(parts=1.0, oddments=1e-12).scrap_percent == 0.0
    assert Shares(parts=1.0, oddments=1e-6).scrap_percent == pytest.approx(1e-4, rel=1e-5)
    shares = Shares(
        parts=2.0, offcuts=3.0, defects=4.0, kerf_and_trim=5.0, planed=6.0, oddments=5.0
    )
    assert shares.opened == 25.0
    assert shares.percent("defects") == pytest.approx(16.0)
    assert shares.scrap_percent == pytest.approx(80.0)
    assert shares.uncredited_scrap_percent == pytest.approx(92.0)


def test_account_of_a_plan_sums_its_boards_and_counts_their_bungs():
    holes = [circle(KeepOutKind.HOLE, x, 50, size) for x, size in ((100, 12), (200, 6), (300, 6))]
    plugged = replace(beam(), holes=Holes.PLUGGED)
    first = Nest(replace(BOARD, keep_outs=tuple(holes)), (Placement(plugged, 1, 1),))
    longer = Board("B", box(0, 0, 1200, 100), 30, "oak")
    second = Nest(longer, (Placement(beam(), 1, 1), Placement(beam(), 520, 1, copy=2)))
    account = account_for(CuttingPlan((first, second), ()), RULES)
    assert account.area.parts == pytest.approx(3 * 49_000)
    assert account.area.opened == pytest.approx(100_000 + 120_000)
    assert account.volume.opened == pytest.approx(100_000 * 25 + 120_000 * 30)
    bungs = first.bungs(RULES)
    assert len(bungs) == 3
    assert list(account.bung_counts.values()) == [2, 1]
    assert list(account.bung_counts) == sorted({bung.diameter_mm for bung in bungs})
    assert account.boards[0].bungs == bungs
    assert len(account.pieces) == 3


def test_offcuts_that_are_known_are_taken_as_they_are():
    nest = Nest(BOARD, (Placement(beam(), 1, 1),))
    account = account_board(nest, RULES, kept=())
    assert account.offcuts == ()
    assert account.area.offcuts == pytest.approx(0.0, abs=1e-6)
    assert account.area.oddments == pytest.approx((1000 - 506) * 100, abs=10)


def test_a_flaw_recorded_twice_is_measured_once():
    knot = circle(KeepOutKind.KNOT, 700, 50, 40)
    rules = replace(RULES, least_offcut=LeastOffcut(5000, 50))
    nests = [Nest(replace(BOARD, keep_outs=(knot,) * count), ()) for count in (1, 2, 3)]
    once, *more = (account_board(nest, rules).area.defects for nest in nests)
    assert once == pytest.approx(math.pi * 400, rel=0.01)
    assert more == [pytest.approx(once)] * 2


def test_a_flaw_over_the_edge_of_a_part_is_measured_beside_it():
    rot = region(KeepOutKind.ROT, [(480, 20), (560, 20), (560, 60), (480, 60)])
    rules = replace(RULES, least_offcut=LeastOffcut(5000, 50))
    nest = Nest(replace(BOARD, keep_outs=(rot,)), (Placement(beam(), 1, 1),))
    account = account_board(nest, rules)
    assert account.area.defects == pytest.approx((560 - 501) * 40)
    # 5 mm of kerf and trim about the part, but for what of it is rotten.
    assert account.area.kerf_and_trim == pytest.approx(506 * 100 - 49_000 - 5 * 40, abs=1)


def test_account_lists_what_is_left_to_buy():
    left = Unplaced(beam(), 2, Misfit.NO_ROOM)
    assert account_for(CuttingPlan((), (left,)), RULES).to_buy == buy_list((left,), RULES)


@pytest.mark.parametrize(
    ("inches", "feet"),
    [((3, 8, 120), 20.0), ((2, 4, 96), 16 / 3), ((1, 12, 12), 1.0)],
    ids=["3 x 8 in x 10 ft", "2 x 4 in x 8 ft", "1 x 12 in x 1 ft"],
)
def test_a_board_foot_is_144_cubic_inches(inches, feet):
    """The definition: a foot square and an inch thick; the rest is arithmetic from it."""
    assert math.prod(inches) / 144 == pytest.approx(feet)
    thick, wide, long = (value * 25.4 for value in inches)
    assert board_feet(wide * long, thick) == pytest.approx(feet)


def test_many_corners_change_nothing_in_what_is_accounted_for():
    """Parts of many corners are thinned, not united; the same with few corners are the measure."""
    turns = np.linspace(0, 2 * math.pi, 6000, endpoint=False)
    ring = np.column_stack([120 + 100 * np.cos(turns), 120 + 100 * np.sin(turns)])
    rules, boards = Rules(), []
    for step in (1, 10):
        need = Need("disc", "any", Outline(Polygon(ring[::step]), 20), ("oak",), 2)
        lying = tuple(Placement(need, float(x), 0.0, 0.0, copy=n) for n, x in ((1, 0), (2, 300)))
        board = Board("B", box(0, 0, 1600, 240), 30, "oak")
        boards.append(account_board(Nest(board, lying), rules))
    fine, rough = boards
    for share in ("parts", "offcuts", "kerf_and_trim", "oddments"):
        assert fine.area.percent(share) == pytest.approx(rough.area.percent(share), abs=0.02)
    assert fine.area.parts == pytest.approx(2 * Polygon(ring).area, abs=1e-6)
    assert fine.area.offcuts == pytest.approx(sum(o.area_mm2 for o in fine.offcuts), abs=1e-3)
    assert fine.area.opened == pytest.approx(1600 * 240)
    assert len(fine.offcuts) == len(rough.offcuts) > 0
