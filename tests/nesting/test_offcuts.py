"""Offcuts on boards with metal, defects and parts; judged by the referee's own look at them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from nesting.accounts.account import account_board
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.offcuts import Offcut, offcuts_beside
from nesting.outline import Outline
from nesting.referee.offcuts import check_offcuts, check_scrap
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region, slot

K = KeepOutKind
RULES = Rules(
    kerf_mm=4,
    trim_mm=1,
    blade_clearance_mm=7,
    least_offcut=LeastOffcut(300, 50),
    cleaning_loss_mm=1,
)
BOARD = Board("A", box(0, 0, 1000, 100), 25, "oak")
BEAM = Need("beam", "any", Outline(box(0, 0, 300, 98), 20), ("oak",))


def with_keep_outs(*keep_outs):
    return replace(BOARD, keep_outs=keep_outs)


def test_offcut_keeps_kerf_and_blade_clearance_from_metal():
    """A nail of 6 mm at 500: 3 + 7 + 4 mm to each side of its middle are not kept."""
    left, right = offcuts_beside([], with_keep_outs(circle(K.METAL, 500, 50, 6)), RULES)
    assert sorted([left.x_mm, right.x_mm]) == [0, pytest.approx(514)]
    assert left.length_mm == pytest.approx(486) == right.length_mm
    assert left.width_mm == pytest.approx(100) == right.width_mm


def test_offcut_keeps_kerf_and_trim_from_a_part():
    (offcut,) = offcuts_beside([box(1, 1, 301, 99)], BOARD, RULES)
    assert offcut.x_mm == pytest.approx(306)


@pytest.mark.parametrize("kind", [K.HOLE, K.RECESS, K.KNOT, K.STAIN])
def test_defect_that_leaves_the_piece_whole_is_listed_with_it(kind):
    (offcut,) = offcuts_beside([], with_keep_outs(circle(kind, 500, 50, 20)), RULES)
    assert (offcut.length_mm, offcut.width_mm) == (1000, 100)
    assert offcut.defect_counts == {kind: 1}


@pytest.mark.parametrize("kind", [K.ROT, K.SPLIT, K.GROOVE, K.WORN_EDGE])
def test_wood_that_is_not_whole_is_cut_away(kind):
    hollow = region(kind, [(400, 30), (440, 30), (440, 70), (400, 70)])
    rules = replace(RULES, clearances_mm={kind: 0})
    found = offcuts_beside([], with_keep_outs(hollow), rules)
    assert sorted(offcut.x_mm for offcut in found) == [0, 440]
    assert not any(offcut.defects for offcut in found)


def test_offcut_keeps_a_projects_clearance_from_rot():
    rules = replace(RULES, clearances_mm={K.ROT: 10})
    hollow = region(K.ROT, [(400, 30), (440, 30), (440, 70), (400, 70)])
    found = offcuts_beside([], with_keep_outs(hollow), rules)
    assert sorted(offcut.x_mm for offcut in found) == [0, pytest.approx(450)]


@pytest.mark.parametrize("kind", [K.WORN_EDGE, K.STAIN])
def test_what_cleaning_takes_off_spoils_nothing_and_is_not_listed(kind):
    shallow = replace(circle(kind, 500, 0, 30), depth_mm=0.5)
    (offcut,) = offcuts_beside([], with_keep_outs(shallow), RULES)
    assert offcut.length_mm == 1000
    assert not offcut.defects


def test_hole_beside_an_offcut_is_not_listed_with_it():
    narrow = replace(RULES, least_offcut=LeastOffcut(600, 60))
    keep_outs = (circle(K.HOLE, 980, 50, 6), circle(K.METAL, 900, 50, 6))
    (offcut,) = offcuts_beside([], with_keep_outs(*keep_outs), narrow)
    assert offcut.length_mm == pytest.approx(886)
    assert not offcut.defects


def test_offcut_is_a_rectangle_from_its_lower_left_corner():
    offcut = Offcut(10, 20, 300, 50)
    assert offcut.shape.bounds == (10, 20, 310, 70)
    assert offcut.area_mm2 == 15_000


def test_offcut_above_a_part_is_as_wide_as_what_is_left():
    (offcut,) = offcuts_beside([box(1, 1, 999, 31)], BOARD, RULES)
    assert (offcut.x_mm, offcut.y_mm) == (0, pytest.approx(36))
    assert (offcut.length_mm, offcut.width_mm) == (1000, pytest.approx(64))


def test_offcut_begins_where_a_split_is_clear_and_hardly_later():
    rules = replace(RULES, clearances_mm={K.SPLIT: 5})
    right, left = offcuts_beside([], with_keep_outs(slot(K.SPLIT, (480, 0), (480, 100), 2)), rules)
    assert 486 <= right.x_mm <= 486.1
    assert 473.9 <= left.length_mm <= 474


@pytest.mark.parametrize(
    ("low", "high", "found"),
    [(20, 60, {K.STAIN: 1}), (-30, 60, {K.STAIN: 1}), (-30, 0, {})],
    ids=["in it", "reaching into it", "touching it"],
)
def test_stain_with_an_outline_is_listed_where_it_reaches_into_the_offcut(low, high, found):
    stain = region(K.STAIN, [(400, low), (440, low), (440, high), (400, high)])
    (offcut,) = offcuts_beside([], with_keep_outs(stain), RULES)
    assert offcut.defect_counts == found


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000))
def test_referee_finds_no_fault_in_any_offcut(seed):
    rng = np.random.default_rng(seed)
    keep_outs = [
        circle(K(str(kind)), float(x), float(y), float(size))
        for kind, x, y, size in zip(
            rng.permutation([*K, K.METAL, K.METAL]), rng.uniform(20, 1770, 11),
            rng.uniform(30, 215, 11), rng.uniform(3, 30, 11), strict=True,
        )
    ]  # fmt: skip
    keep_outs.append(slot(K.SPLIT, (900, 100), tuple(rng.uniform((900, 0), (1100, 240))), 5))
    keep_outs.append(region(K.METAL, [(1400, 50), (1450, 60), (1420, 90)]))
    shape = Polygon([(0, 0), (1800, float(rng.uniform(0, 30))), (1780, 240), (0, 220)])
    board = Board("B", shape, 25, "oak", keep_outs=tuple(keep_outs))
    knee = Need("knee", "any", Outline(box(0, 0, 200, 40).union(box(0, 0, 50, 120)), 20), ("oak",))
    nest = Nest(board, (Placement(knee, 300, 60, float(rng.uniform(-15, 15))),))
    rules = replace(RULES, clearances_mm={K.SPLIT: 5.0})
    account = account_board(nest, rules)
    pieces = [offcut.shape for offcut in account.offcuts]
    assert pieces
    assert check_offcuts(pieces, nest, rules) == ()
    assert check_scrap(pieces, nest, account.scrap_percent) == ()


NAILED = with_keep_outs(circle(K.METAL, 500, 50, 6))


@pytest.mark.parametrize(
    ("piece", "rule"),
    [
        (box(306, 0, 480, 100), "least offcut"),
        (box(306, 60, 1000, 110), "offcut inside the board"),
        (box(304, 70, 1000, 100), "kerf and trim"),
        (box(306, 60, 1000, 100), "offcut clear of metal"),
        (box(520, 0, 900, 100).difference(box(600, 0, 700, 20)), "offcut"),
    ],
)
def test_referee_names_the_rule_that_an_offcut_breaks(piece, rule):
    nest = Nest(NAILED, (Placement(BEAM, 1, 1),))
    found = check_offcuts([piece], nest, RULES)
    assert rule in {fault.rule for fault in found}
    assert all(fault.measured.startswith("k1") for fault in found)


def test_referee_refuses_offcuts_nearer_than_the_kerf_and_a_scrap_that_is_not_so():
    nest = Nest(BOARD, (Placement(BEAM, 1, 1),))
    pair = [box(310, 0, 650, 100), box(653, 0, 1000, 100)]
    assert [fault.rule for fault in check_offcuts(pair, nest, RULES)] == ["kerf between offcuts"]
    apart = [pair[0], translate(pair[1], 1)]
    assert check_scrap(apart[:1], nest, 100 * (1 - (29_400 + 34_000) / 100_000)) == ()
    (fault,) = check_offcuts([box(0, 0, 300, 50), *pair], Nest(BOARD, ()), RULES)
    assert fault.measured == "k2 and k3 are 3.000000 mm apart, 4 mm is needed"
    (fault,) = check_scrap(apart[:1], nest, 30.0)
    assert fault.measured == "30.00 % is stated, 36.60 % is measured"


ROTTEN = replace(RULES, clearances_mm={K.ROT: 10, K.SPLIT: 5})


@pytest.mark.parametrize(
    ("flaw", "first_mm"),
    [
        (circle(K.METAL, 500, 50, 6), 500 + 3 + 7 + 4),
        (circle(K.ROT, 500, 50, 6), 500 + 3 + 10),
        (region(K.ROT, [(400, 30), (440, 30), (440, 70), (400, 70)]), 440 + 10),
        (slot(K.SPLIT, (400, 50), (440, 50), 2), 440 + 1 + 5),
        (circle(K.GROOVE, 500, 50, 6), 500 + 3),
        (circle(K.WORN_EDGE, 500, 0, 6), 500 + 3),
    ],
)
def test_referee_lets_an_offcut_begin_where_a_flaw_is_clear_and_not_a_hair_before(flaw, first_mm):
    nest = Nest(with_keep_outs(flaw), ())
    assert check_offcuts([box(first_mm, 0, 1000, 100)], nest, ROTTEN) == ()
    (fault,) = check_offcuts([box(first_mm - 0.01, 0, 1000, 100)], nest, ROTTEN)
    assert fault.rule == f"offcut clear of {flaw.kind}"
    (fault,) = check_offcuts([box(300, 0, 1000, 100)], nest, ROTTEN)
    assert fault.rule == f"offcut clear of {flaw.kind}"


def test_referee_lets_an_offcut_begin_at_kerf_and_trim_from_a_part_and_not_a_hair_before():
    nest = Nest(BOARD, (Placement(BEAM, 1, 1),))
    assert check_offcuts([box(306, 0, 1000, 100)], nest, RULES) == ()
    (fault,) = check_offcuts([box(305.99, 0, 1000, 100)], nest, RULES)
    assert fault.rule == "kerf and trim"


def test_referee_measures_the_least_offcut_and_the_kerf_between_two():
    nest = Nest(BOARD, ())
    least = [box(0, 0, 300, 50), box(304, 0, 604, 50), box(0, 54, 1000, 100)]
    assert [fault.rule for fault in check_offcuts(least, nest, RULES)] == ["least offcut"]
    assert check_offcuts(least[:2], nest, RULES) == ()
    for worse in ([box(0, 0, 299.99, 50)], [box(0, 0, 300, 49.99)]):
        assert [fault.rule for fault in check_offcuts(worse, nest, RULES)] == ["least offcut"]
    near = [box(0, 0, 300, 50), box(303.99, 0, 604, 50)]
    assert [fault.rule for fault in check_offcuts(near, nest, RULES)] == ["kerf between offcuts"]


def test_referee_forgives_a_scrap_that_differs_by_a_hundredth_and_no_more():
    nest = Nest(BOARD, (Placement(BEAM, 1, 1),))
    assert check_scrap([], nest, 70.6 + 0.009) == ()
    assert check_scrap([], nest, 70.6 - 0.009) == ()
    assert len(check_scrap([], nest, 70.6 + 0.011)) == 1
    assert len(check_scrap([], nest, 70.6 - 0.011)) == 1


def test_referee_sees_metal_and_rot_behind_a_flaw_that_cleaning_takes_off():
    shallow = replace(circle(K.WORN_EDGE, 200, 50, 30), depth_mm=0.5)
    for behind in (circle(K.METAL, 500, 50, 6), circle(K.ROT, 500, 50, 6)):
        nest = Nest(with_keep_outs(shallow, behind), ())
        (fault,) = check_offcuts([box(0, 0, 1000, 100)], nest, RULES)
        assert fault.rule == f"offcut clear of {behind.kind}"


def test_a_stain_is_no_reason_to_cut_an_offcut_short():
    nest = Nest(with_keep_outs(circle(K.STAIN, 500, 50, 40), circle(K.HOLE, 300, 50, 6)), ())
    assert check_offcuts([box(0, 0, 1000, 100)], nest, RULES) == ()


NEARLY_STRAIGHT = [(x, 40 - 9e-4 * abs(x) / 2) for x in (-400, 0, 400)]
"""An upper edge that turns by nine ten-thousandths, as a curve drawn in many short edges does."""


@pytest.mark.parametrize("at_x", [500, 5_000])
def test_offcut_beside_a_nearly_straight_edge_keeps_its_distance_to_the_last_digit(at_x):
    """What grows an outline joins such edges too near; the referee measures to a millionth."""
    board = replace(BOARD, shape=box(0, 0, 10_000, 300))
    piece = Polygon(
        [(at_x + x, 40 + y) for x, y in [(-400, -38), (400, -38), *NEARLY_STRAIGHT[::-1]]]
    )
    nest = Nest(board, (Placement(Need("p", "any", Outline(piece, 20), ("oak",)), 0, 0),))
    rules = replace(RULES, kerf_mm=10, trim_mm=10, least_offcut=LeastOffcut(100, 50))
    assert (
        check_offcuts([o.shape for o in offcuts_beside([piece], board, rules)], nest, rules) == ()
    )


def test_offcut_beside_nearly_straight_rot_keeps_its_clearance_to_the_last_digit():
    rot = region(
        K.ROT, [(600 + x, 40 + y) for x, y in [(-400, -38), (400, -38), *NEARLY_STRAIGHT[::-1]]]
    )
    board = replace(with_keep_outs(rot), shape=box(0, 0, 1200, 300))
    rules = replace(RULES, clearances_mm={K.ROT: 20.0})
    found = [o.shape for o in offcuts_beside([], board, rules)]
    assert found and check_offcuts(found, Nest(board, ()), rules) == ()
