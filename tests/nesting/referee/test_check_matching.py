"""What of a sheet stands for what: each keep-out once, of its kind, and corners one by one."""

import math

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, Polygon, box

from nesting.referee import matching as check_matching
from nesting.referee.matching import corners_apart, matched
from nesting.stock.keep_out import KeepOutKind, circle, region, slot

K = KeepOutKind


def pairs(wanted, drawn):
    return {wanted.index(mine): drawn.index(theirs) for mine, theirs in matched(wanted, drawn)}


def test_nearest_of_the_same_kind_stands_for_a_keep_out():
    wanted = [circle(K.HOLE, 10, 10, 6), circle(K.METAL, 12, 10, 6), circle(K.HOLE, 90, 10, 6)]
    drawn = [circle(K.HOLE, 88, 12, 6), circle(K.HOLE, 13, 10, 6), circle(K.METAL, 80, 60, 6)]
    assert pairs(wanted, drawn) == {0: 1, 1: 2, 2: 0}


def test_nothing_stands_for_nothing():
    assert list(matched([], [])) == []


def test_of_two_about_one_middle_the_one_of_the_same_size_is_taken():
    wanted = [circle(K.HOLE, 50, 50, size) for size in (6, 14, 30)]
    drawn = [circle(K.HOLE, 50, 50, size) for size in (29, 6.5, 13)]
    assert pairs(wanted, drawn) == {0: 1, 1: 2, 2: 0}


@pytest.mark.parametrize(("dx", "dy"), [(1, 0), (-1, 0), (0, 1), (0, -1)])
def test_nearest_is_the_nearest_on_either_side_however_large_it_is_drawn(dx, dy):
    wanted = [circle(K.HOLE, 50, 50, 6), circle(K.HOLE, 500, 500, 6)]
    for size in (3, 10):
        near = circle(K.HOLE, 50 + dx, 50 + dy, size)
        far = circle(K.HOLE, 50 - 1.1 * dx, 50 - 1.1 * dy, size)
        assert pairs(wanted, [far, near]) == {0: 1, 1: 0}


@pytest.mark.parametrize("axis", [0, 1])
def test_slots_are_told_apart_by_both_of_their_ends(axis):
    def along(far):
        return slot(K.GROOVE, (10.0, 10.0), (far, 12.0) if axis == 0 else (12.0, far), 4)

    wanted, drawn = [along(60.0), along(200.0)], [along(199.0), along(61.0)]
    assert pairs(wanted, drawn) == {0: 1, 1: 0}


@pytest.mark.parametrize("many", [8, 9, 40])
def test_each_is_taken_once_however_many_lie_in_one_place(many):
    wanted = [circle(K.HOLE, 100, 100, 6) for _ in range(many)]
    drawn = [circle(K.HOLE, 100 + 1e-3 * number, 100, 6) for number in range(many)]
    found = [theirs for _, theirs in matched(wanted, drawn)]
    assert found == drawn


def test_a_keep_out_alone_of_its_kind_is_stood_for_by_the_only_one_drawn():
    mine = region(K.ROT, [(0, 0), (9, 0), (9, 9)])
    theirs = region(K.ROT, [(500, 0), (509, 0), (509, 9)])
    assert list(matched([mine], [theirs])) == [(mine, theirs)]


def test_corners_are_as_far_apart_as_the_worst_pair_of_them():
    square = box(0, 0, 10, 10)
    assert corners_apart(square, square) == 0
    first, *others = square.exterior.coords[:-1]
    moved = Polygon([(first[0] + 3, first[1] - 4), *others])
    assert corners_apart(square, moved) == pytest.approx(5)


def test_outlines_whose_corners_do_not_pair_are_told_infinitely_apart():
    square = box(0, 0, 10, 10)
    assert corners_apart(square, Polygon([(0, 0), (10, 0), (10, 10)])) == math.inf
    assert corners_apart(Polygon(), Polygon()) == math.inf
    assert corners_apart(square, Polygon()) == math.inf


def ring(count, size):
    turns = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return np.column_stack([np.cos(turns), np.sin(turns)]) * size


def test_as_many_corners_in_other_rings_do_not_pair():
    first = Polygon(ring(5, 100), [ring(3, 10)])
    second = Polygon(ring(4, 100), [ring(4, 10)])
    assert corners_apart(first, first) == 0
    assert corners_apart(first, second) == math.inf


def test_pieces_of_one_shape_pair_piece_by_piece():
    def two(gap):
        return MultiPolygon([box(0, 0, 10, 10), box(20 + gap, 0, 30 + gap, 10)])

    assert corners_apart(two(0), two(2)) == pytest.approx(2)


def test_keep_outs_in_the_order_of_the_plan_need_no_search(monkeypatch):
    wanted = [circle(K.HOLE, 10.0 * x, 20, 6) for x in range(50)]
    wanted += [slot(K.GROOVE, (x, 40.0), (x + 90.0, 44.0), 4) for x in (10.0, 200.0)]
    monkeypatch.setattr(check_matching, "_nearest_free", None)
    assert pairs(wanted, [k.moved(1e-9, 0) for k in wanted]) == {n: n for n in range(len(wanted))}


def test_one_out_of_its_order_is_looked_for_among_those_that_are():
    wanted = [circle(K.HOLE, 10.0 * x, 20, 6) for x in range(6)]
    drawn = [wanted[n].moved(0, 0.5 * (n in (1, 4))) for n in (0, 4, 2, 3, 1, 5)]
    assert pairs(wanted, drawn) == {0: 0, 1: 4, 2: 2, 3: 3, 4: 1, 5: 5}
