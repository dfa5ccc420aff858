"""Shares of a board by points that parts cover: weights, the least of all berths, and halving."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from nesting.engine.proof import common_points as module
from nesting.engine.proof.common_points import (
    CLOSE,
    MOST_POINTS,
    OVER,
    ROUNDING,
    SPACING_MM,
    points_on,
    shares_of_points,
)

ROOM = 1 - CLOSE - 2 * ROUNDING
"""A share found is so near to the best there is at the least."""


@dataclass(frozen=True)
class Known:
    """Berths that cover points as a table says: a row for each, by the number in its box."""

    boxes: np.ndarray
    table: dict[int, list[int]]
    finer: dict[int, list[int]]

    def covered(self, points):
        rows = [self.table[int(one[0])] for one in self.boxes]
        return np.array(rows, np.uint8).reshape(-1, len(points))

    def halved(self, which):
        numbers = [k for one in self.boxes[which] for k in self.finer.get(int(one[0]), [])]
        side = float(self.boxes[which][:, 3].max()) / 2
        return Known(boxes_of(numbers, side), self.table, self.finer)


def boxes_of(numbers, half_side=100.0):
    return np.array([[k, 0.0, 0.0, half_side, 0.1] for k in numbers]).reshape(-1, 5)


def known(*rows, finer=None, table=None, half_side=0.5):
    """Return berths that cover these points each; too fine to be halved unless told how."""
    book = dict(enumerate(rows)) | (table or {})
    side = 100.0 if finer else half_side
    return Known(boxes_of(range(len(rows)), side), book, finer or {})


def points(count):
    return np.column_stack([np.arange(count), np.zeros(count)]).astype(float)


@pytest.mark.parametrize(
    ("rows", "share"),
    [
        ([[1, 1, 0], [0, 1, 1]], 1.0),  # all weigh the middle one
        ([[1, 0, 0], [0, 1, 0]], 1 / 2),
        ([[1, 0, 0], [0, 1, 0], [0, 0, 1]], 1 / 3),
        ([[1, 1, 0], [0, 1, 1], [1, 0, 1]], 2 / 3),
        ([[1, 1, 1], [0, 0, 0]], 0.0),
    ],
)
def test_share_is_the_least_of_all_berths_at_the_best_weights(rows, share):
    (found,) = shares_of_points([[known(*rows)]], points(3))
    assert ROOM * share <= found <= share
    weights, wanted = module._programme(np.array(rows, np.uint8))
    assert wanted == pytest.approx(share, abs=1e-9)
    assert weights.sum() == pytest.approx(1.0)
    assert (weights >= 0.0).all()
    assert (np.array(rows) @ weights).min() == pytest.approx(share, abs=1e-9)


def test_each_part_takes_the_least_of_its_faces_and_they_share_one_set_of_weights():
    """Two parts that need a point each share the weight; one with two faces has the lesser."""
    one, other = known([1, 0]), known([0, 1])
    found = shares_of_points([[one], [other]], points(2))
    assert (found >= ROOM / 2).all()
    assert found.sum() <= 1.0
    (found,) = shares_of_points([[one, other]], points(2))
    assert ROOM / 2 <= found <= 1 / 2


def test_part_without_berths_lies_nowhere_and_others_are_weighed_without_it():
    none = known()
    found = shares_of_points([[none, none], [known([1, 0]), none], []], points(2))
    assert found[[0, 2]].tolist() == [OVER, OVER]
    assert ROOM <= found[1] <= 1.0


def test_nothing_is_told_where_it_would_take_too_long(monkeypatch):
    given = [[known([1, 1, 0], [0, 1, 1])], [known()]]
    monkeypatch.setattr(module, "MOST_COVERED", 6)
    assert shares_of_points(given, points(3))[0] > 0.9
    monkeypatch.setattr(module, "MOST_COVERED", 5)
    assert shares_of_points(given, points(3)).tolist() == [0.0, OVER]


def test_berths_that_let_one_more_part_onto_the_board_are_halved():
    """From the whole box the part covers no point for certain, from each half of it the same."""
    halves, kept = {1: [1, 0], 2: [1, 0]}, {0: [1, 2], 1: [1], 2: [2]}
    (found,) = shares_of_points([[known([0, 0], finer=kept, table=halves)]], points(2))
    assert ROOM <= found <= 1.0


def test_berth_in_which_the_part_turns_out_to_lie_nowhere_is_dropped():
    gone = known([1, 1], [0, 0], finer={0: [0], 1: []})
    (found,) = shares_of_points([[gone]], points(2))
    assert ROOM <= found <= 1.0


def test_boxes_of_a_millimetre_are_not_halved():
    lost = Known(boxes_of([0], 1.9), {0: [0, 0]}, {0: [1]})
    assert shares_of_points([[lost]], points(2)).tolist() == [0.0]


def test_points_are_spread_evenly_over_a_board_and_none_lies_off_it():
    board = Polygon([(0, 0), (400, 0), (400, 160), (0, 80)])
    found = points_on(board)
    assert shapely.contains_xy(board, found[:, 0], found[:, 1]).all()
    assert len(found) == pytest.approx(board.area / SPACING_MM**2, rel=0.05)
    assert found.min(axis=0).tolist() == [SPACING_MM / 2, SPACING_MM / 2]
    steps = np.diff(np.unique(found[:, 0]))
    assert steps == pytest.approx(SPACING_MM)


def test_points_on_a_large_board_are_no_more_than_can_be_weighed():
    found = points_on(box(50, 70, 4050, 670))
    assert 0.9 * MOST_POINTS <= len(found) <= 1.05 * MOST_POINTS
    low, high = found.min(axis=0), found.max(axis=0)
    assert (low > (50, 70)).all()
    assert (high < (4050, 670)).all()
    assert low - (50, 70) == pytest.approx((4050, 670) - high, abs=2 * (low[0] - 50))


def test_worst_berths_are_named_a_few_at_a_time_and_others_each_turn():
    covers = np.eye(40, dtype=np.uint8)
    shares = np.full(40, 0.5)
    shares[7] = 0.495
    shares[20:] = 0.9
    chosen = {
        turn: {int(row.argmax()) for row in module._worst(covers, shares, turn)}
        for turn in range(3)
    }
    for rows in chosen.values():
        assert 7 in rows
        assert max(rows) < 20
        assert len(rows) <= module.ADDED + 1
    assert chosen[0] != chosen[1] != chosen[2]
    assert len(module._worst(covers[:0], shares[:0], 0)) == 0
