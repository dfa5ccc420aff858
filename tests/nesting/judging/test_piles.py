"""Piles drawn by lot: like the boat they are drawn from, and forecasts that come true."""

from collections import Counter

import numpy as np
import pytest
from test_choice_of_members import deck

from nesting.judging.choice import choose
from nesting.judging.forecast import Share, forecast
from nesting.judging.piles import pieces_off, sampled_pile
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind
from parts.shaped import part_from_outline


@pytest.fixture(scope="module")
def choice():
    return choose(deck())


def test_pile_is_of_the_members_saved_with_what_the_ways_leave(choice):
    boards = sampled_pile(choice, np.random.default_rng(1))
    assert {board.member for board in boards} == {"decking"}
    assert len(boards) == 40
    kinds = Counter(k.kind for board in boards for k in board.keep_outs)
    stuck = kinds[KeepOutKind.METAL] / (kinds[KeepOutKind.METAL] + kinds[KeepOutKind.RECESS])
    # One rod in ten does not punch out; 480 fasteners: three standard deviations are 0.04.
    assert stuck == pytest.approx(0.1, abs=0.041)


def test_recorded_boards_take_the_place_of_drawn_ones(choice):
    boards = sampled_pile(choice, np.random.default_rng(1), {"decking": 15})
    assert len(boards) == 25


def test_leaves_of_a_board_are_one_piece_of_the_old_boat():
    names = ("E-1/1", "E-1/2", "E-2", "E-3/1")
    boards = [Board.rectangle(name, 900, 90, 30, "teak", member="bed") for name in names]
    assert pieces_off(boards) == {"bed": 3}


def rung(length, quantity):
    outline = part_from_outline([(0, 0), (length, 0), (length, 44), (0, 44)], 22)
    return Need.of(f"rung {length}", outline, ["teak"], quantity=quantity, holes="plugged")


def test_forecast_is_the_same_for_any_number_of_workers(choice):
    needs = [rung(1500, 20)]
    one, two = (forecast(choice, needs, Rules(), piles=4, workers=n) for n in (1, 2))
    assert one.placed == two.placed


def test_interval_is_wilsons():
    """Wilson 1927 as Newcombe gives it, Statistics in Medicine 17, 1998: 81 of 263, 0.2553 to
    0.3662 (from memory)."""
    low, high = Share(81, 263).bounds
    assert (round(low, 4), round(high, 4)) == (0.2553, 0.3662)
    assert Share(0, 20).bounds[0] == 0.0
