import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from nesting.account import Shares, account_board, account_for
from nesting.buying import buy_list
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.offcuts import offcuts_in
from nesting.outline import Outline
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle
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
    assert account.area.scrap == pytest.approx(0, abs=10)
    assert account.scrap_percent == pytest.approx(100 * (1 - 98_400 / 100_000), abs=0.02)
    (offcut,) = account.offcuts
    assert (offcut.length_mm, offcut.width_mm) == (pytest.approx(494), pytest.approx(100, abs=0.1))


def test_volume_tells_planing_apart():
    account = account_board(Nest(BOARD, (Placement(beam(), 1, 1),)), RULES)
    assert account.volume.opened == pytest.approx(100_000 * 25)
    assert account.volume.parts == pytest.approx(49_000 * 20)
    assert account.volume.planed == pytest.approx(49_000 * 5)


def test_metal_splits_an_offcut_and_a_clean_hole_does_not():
    nest = Nest(BOARD, (Placement(beam(300), 1, 1),))
    for kind, pieces in ((KeepOutKind.METAL, 0), (KeepOutKind.HOLE, 1)):
        row = tuple(circle(kind, x, 50, 20) for x in range(350, 1000, 120))
        account = account_board(replace(nest, board=replace(BOARD, keep_outs=row)), RULES)
        assert len(account.offcuts) == pieces
        assert account.area.opened == pytest.approx(100_000)


def test_piece_too_narrow_or_too_short_is_scrap():
    assert offcuts_in(box(0, 0, 299, 200), LeastOffcut(300, 50)) == ()
    assert offcuts_in(box(0, 0, 2000, 49), LeastOffcut(300, 50)) == ()
    assert len(offcuts_in(box(0, 0, 300, 50), LeastOffcut(300, 50))) == 1


def test_neck_narrower_than_the_least_width_parts_two_pieces():
    dumbbell = box(0, 0, 400, 100).union(box(400, 40, 500, 60)).union(box(500, 0, 900, 100))
    pieces = offcuts_in(dumbbell, LeastOffcut(300, 50))
    assert [round(piece.length_mm) for piece in pieces] == [400, 400]


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
    for share in ("parts", "offcuts", "defects", "kerf_and_trim", "scrap"):
        assert account.area.percent(share) >= -1e-9


def test_nothing_opened_is_no_scrap():
    assert Shares().scrap_percent == 0.0


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
