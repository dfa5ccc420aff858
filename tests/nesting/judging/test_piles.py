"""Piles drawn by lot: like the boat they are drawn from, and forecasts that come true."""

from collections import Counter

import numpy as np
import pytest
from test_choice_of_members import deck

from nesting.judging.choice import choose
from nesting.judging.forecast import Share, forecast
from nesting.judging.piles import learnt_of, pieces_off, sampled_pile
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region
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
    leaves = {"E-1/1": (1, 2), "E-1/2": (2, 2), "E-2": None, "E-3/1": (1, 2), "E-4/5": None}
    boards = [
        Board.rectangle(name, 900, 90, 30, "teak", member="bed", leaf=leaf)
        for name, leaf in leaves.items()
    ]
    assert pieces_off(boards) == {"bed": 4}


def found_boards(count, *, rotten, metal, screws=12, length=4267.2):
    """Return boards of decking as somebody recorded them: a share rotten, a share of metal."""
    boards = []
    for number in range(count):
        stuck = round(metal * screws)
        kinds = [KeepOutKind.METAL] * stuck + [KeepOutKind.HOLE] * (screws - stuck)
        held = [circle(kind, (k + 0.5) * length / screws, 20.0, 5.5)
                for k, kind in enumerate(kinds)]  # fmt: skip
        end = rotten * length
        rot = [region(KeepOutKind.ROT, [(0, 0), (end, 0), (end, 57), (0, 57)])] if rotten else []
        boards.append(
            Board.rectangle(f"D-{number}", length, 57.15, 31.75, "teak",
                            keep_outs=[*held, *rot], member="decking")
        )  # fmt: skip
    return boards


def shares(boards):
    """Return of drawn boards the share of sound wood, of metal, and fasteners in a metre."""
    held = [k for board in boards for k in board.keep_outs if k.kind is not KeepOutKind.ROT]
    rot = sum(k.polygon.area for board in boards for k in board.keep_outs
              if k.kind is KeepOutKind.ROT)  # fmt: skip
    long = sum(board.length_mm for board in boards)
    metal = sum(k.kind is KeepOutKind.METAL for k in held) / len(held)
    return 1.0 - rot / sum(board.shape.area for board in boards), metal, 1000.0 * len(held) / long


def test_piles_to_come_lean_on_what_was_found(choice):
    """Supposed are 0.9 sound, metal at 0.1 (a rod in ten that is not punched out), 12 screws."""
    found = found_boards(20, rotten=0.4, metal=0.5, screws=24)
    learnt = learnt_of(choice, found)
    (one,) = learnt.values()
    assert one.sound.mean == pytest.approx((18.4 * 0.9 + 170.7 * 0.6) / (18.4 + 170.7), abs=0.002)
    drawn = [
        shares(sampled_pile(choice, np.random.default_rng(seed), {"decking": 20}, learnt=learnt))
        for seed in range(12)
    ]
    sound, metal, often = np.mean(drawn, axis=0)
    assert sound == pytest.approx(one.sound.mean, abs=0.03)
    assert metal == pytest.approx((9 * 0.1 + 480 * 0.5) / 489, abs=0.03)
    assert often == pytest.approx(24 / 4.2672 * (20 + 1) / (20 + 2), abs=0.2)


def test_boards_found_as_supposed_change_no_mean_and_lessen_the_doubt(choice):
    (one,) = learnt_of(choice, found_boards(10, rotten=0.1, metal=1 / 12)).values()
    assert one.sound.mean == pytest.approx(0.9, abs=0.001)
    assert one.times == pytest.approx(1.0)
    assert one.sound.doubt < 0.5 * one.sound.supposed_doubt
    few = learnt_of(choice, found_boards(1, rotten=0.0, metal=0.0))["decking"]
    assert 0.9 < few.sound.mean < 0.94
    assert not learnt_of(choice, [])


def test_pieces_to_come_are_as_long_as_those_found(choice):
    learnt = learnt_of(choice, found_boards(18, rotten=0.0, metal=0.1, length=2000.0))
    boards = sampled_pile(choice, np.random.default_rng(3), learnt=learnt)
    short = sum(board.length_mm == 2000.0 for board in boards)
    assert 40 * 0.9 - 7 <= short <= 40
    assert {board.length_mm for board in boards} <= {2000.0, 14 * 12 * 25.4}


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
