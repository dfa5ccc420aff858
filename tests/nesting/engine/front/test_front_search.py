"""Beginnings on lines: what they hold is laid out anew as boxes, and counted by hand."""

import math
from itertools import combinations

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.front.front import lines_of, look_of, looks_of
from nesting.engine.front.front_search import (
    MOST_ALIKE,
    SPREAD,
    _best_few,
    beginnings_of,
    credits_of,
    fullest,
)

STEP = 2.0


def looks(*sizes):
    """Return rectangles on lines, each a need of its own, without a gap around them."""
    shapes = [box(0, 0, *size) for size in sizes]
    some = range(len(shapes))
    return looks_of(
        [look_of(shape, shape, STEP) for shape in shapes],
        some,
        [0 for _ in some],
        [shape.area for shape in shapes],
    )


def begun(board, sizes, wanted, *, width=50, credits=None, seed=0, is_over=lambda: False):
    lines = lines_of([box(0, 0, *board)], 1, STEP)
    spent = np.zeros(len(sizes)) if credits is None else np.array(credits, float)
    chance = np.random.default_rng(seed)
    return beginnings_of(lines, looks(*sizes), wanted, width, spent, chance, is_over)


def laid(steps, sizes):
    """Return the boxes that steps stand for."""
    return [
        box(s.x, s.line * STEP, s.x + sizes[s.figure][0], s.line * STEP + sizes[s.figure][1])
        for s in steps
    ]


def test_blocks_as_wide_as_the_board_stand_one_behind_the_other():
    found = begun((310, 50), [(100, 50)], [5], credits=[7.0])
    assert [len(level.lost) for level in found] == [1, 1, 1]
    steps = found[-1].steps(0)
    assert [s.x for s in steps] == pytest.approx([0, 100, 200])
    assert [(s.figure, s.line) for s in steps] == [(0, 0)] * 3
    assert [float(level.used[0]) for level in found] == [5e3, 10e3, 15e3]
    assert [float(level.spent[0]) for level in found] == [7.0, 14.0, 21.0]
    assert [level.left.tolist() for level in found] == [[[4]], [[3]], [[2]]]
    assert float(found[-1].lost[0]) == pytest.approx(0.0, abs=1e-6)


def test_no_more_are_placed_than_are_wanted():
    assert len(begun((310, 50), [(100, 50)], [2])) == 2
    assert begun((310, 50), [(100, 50)], [0]) == []
    assert begun((90, 50), [(100, 50)], [5]) == []


@pytest.mark.parametrize("seed", range(3))
def test_beginnings_lie_on_the_board_and_apart_from_each_other(seed):
    """More beginnings at a time than are grown at once, so that each has to know its own front."""
    sizes = [(90, 30), (50, 22), (34, 44), (26, 14)]
    board, wanted = (400, 60), [2, 3, 2, 4]
    found = begun(board, sizes, wanted, width=90, seed=seed)
    assert max(len(level.lost) for level in found) > 64
    whole = box(0, 0, *board).buffer(1e-6)
    for count, level in enumerate(found, 1):
        assert len(level.lost) <= 90
        for which in range(0, len(level.lost), 7):
            steps = level.steps(which)
            boxes = laid(steps, sizes)
            assert len(steps) == count
            assert all(whole.covers(one) for one in boxes)
            assert all(a.intersection(b).area < 1e-3 for a, b in combinations(boxes, 2))
            assert level.used[which] == pytest.approx(sum(one.area for one in boxes))
            taken = np.bincount([s.figure for s in steps], minlength=4)
            assert (level.left[which] == np.array(wanted) - taken).all()


def test_search_ends_when_it_is_told_to_with_what_it_has():
    asked = iter([False, True])
    assert len(begun((310, 50), [(100, 50)], [5], is_over=lambda: next(asked))) == 1


def test_credit_for_a_part_brings_it_first():
    """Two parts that cannot both lie there: the one with the credit is chosen, though it loses."""
    sizes = [(100, 50), (80, 40)]
    (dear,) = begun((110, 50), sizes, [1, 1], width=1, credits=[0.0, 1e6])
    (plain,) = begun((110, 50), sizes, [1, 1], width=1)
    assert (dear.steps(0)[0].figure, plain.steps(0)[0].figure) == (1, 0)


def test_fullest_come_first_and_of_those_what_loses_least():
    found = begun((400, 60), [(90, 30), (50, 22), (34, 44)], [2, 3, 2], width=20)
    told = list(fullest(found, 15))
    used = [area for area, _ in told]
    assert len(told) == 15 and used == sorted(used, reverse=True)
    assert used[0] == max(float(level.used.max()) for level in found)
    top = [(lost, w) for level in found for w, (u, lost) in enumerate(
        zip(level.used, level.lost, strict=True)) if u == used[0]]  # fmt: skip
    least = min(top)[1]
    level = next(level for level in found if float(level.used.max()) == used[0])
    assert told[0][1] == level.steps(least)


def test_best_few_are_unlike_each_other():
    left = np.array([[3, 3], [3, 3]])
    score = np.array([5.0, 1.0, 2.0, 3.0, 4.0, 6.0, 0.5])
    front = np.array([0, 1, 0, 1, 0, 1, 0])
    need = np.array([0, 0, 0, 0, 0, 0, 1])
    lost = np.array([10.0, 20.0, 20.0, 30.0, 40.0, 50.0, 20.0])
    kept, after = _best_few(score, left, front, need, lost, 10)
    # Of the same parts with the same wood lost the better one; four of the same parts at most.
    assert kept.tolist() == [6, 1, 3, 4, 0]
    assert after.tolist() == [[3, 2], *[[2, 3]] * MOST_ALIKE]
    assert _best_few(score, left, front, need, lost, 2)[0].tolist() == [6, 1]
    assert left.tolist() == [[3, 3], [3, 3]]


def test_credits_are_spread_about_what_may_be_lost_for_an_area():
    areas = np.repeat([100.0, 900.0], 4000)
    logs = np.log(credits_of(areas, (0.2, 0.2), np.random.default_rng(5)) / areas)
    assert logs.mean() == pytest.approx(math.log(0.2), abs=4 * SPREAD / math.sqrt(8000))
    assert logs.std() == pytest.approx(SPREAD, rel=0.05)
    some = [
        np.log(credits_of(areas, (0.1, 0.4), np.random.default_rng(s)) / areas).mean()
        for s in range(60)
    ]
    assert min(some) > math.log(0.1) - 0.02 and max(some) < math.log(0.4) + 0.02
    assert np.mean(some) == pytest.approx(math.log(0.2), abs=0.2)
