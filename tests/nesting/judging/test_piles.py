"""Piles drawn by lot: like the boat they are drawn from, and forecasts that come true."""

from collections import Counter
from concurrent.futures import Future
from contextlib import nullcontext
from dataclasses import replace

import numpy as np
import pytest
from test_choice_of_members import deck

from nesting.judging.choice import choose
from nesting.judging.forecast import Share, forecast
from nesting.judging.piles import as_she_may_be, learnt_of, pieces_off, sampled_pile
from nesting.judging.recorded import recorded_of
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


def test_forecast_counts_piles_that_give_all_and_what_they_give_in_the_mean(choice):
    """Forty boards of decking give six strips in every pile, and no pile a wider part."""
    told = []
    wide = part_from_outline([(0, 0), (900, 0), (900, 80), (0, 80)], 22)
    needs = [rung(600, 6), Need.of("board", wide, ["teak"], quantity=3)]
    found = forecast(
        choice, needs, Rules(), piles=3, on_progress=lambda step: told.append(str(step))
    )
    strips, boards = found.parts
    assert (strips.all_of_it.count, strips.mean_placed, strips.to_buy) == (3, 6, 0)
    assert (boards.all_of_it.count, boards.mean_placed, boards.to_buy) == (0, 0, 3)
    assert (found.piles, found.boards_mean) == (3, 40)
    assert [counts["rung 600"] for counts in found.placed] == [6, 6, 6]
    assert told == [f"nesting piles, {n} of 3" for n in (1, 2, 3)]


def test_lost_processes_change_no_forecast(choice, monkeypatch):
    """An answer that never comes, or comes as an error, is reckoned here."""
    needs = [rung(1500, 20)]
    here = forecast(choice, needs, Rules(), piles=2)
    broken = Future()
    broken.set_exception(OSError("lost"))
    answers = iter([None, broken])
    monkeypatch.setattr("nesting.judging.forecast.Workers", lambda count: nullcontext())
    monkeypatch.setattr("nesting.judging.forecast.submitted", lambda *_: next(answers))
    assert forecast(choice, needs, Rules(), piles=2, workers=2) == here


def test_boards_of_a_member_without_fasteners_change_no_number_of_them():
    (found,) = recorded_of(found_boards(3, rotten=0.0, metal=0.0, screws=0)).values()
    assert (found.fasteners, found.metal_share) == (0, 0.0)
    assert found.times_as_many(0.0) == 1.0
    # Supposed are 2 a metre on two pieces' length, none on the three found.
    assert found.times_as_many(2.0) == pytest.approx(2 / (2 + 3))


def metal_learnt(choice, metal):
    return learnt_of(choice, found_boards(20, rotten=0.0, metal=metal))["decking"]


def test_more_metal_drawn_for_the_boat_is_more_metal_left_and_never_past_all(choice):
    learnt = metal_learnt(choice, 0.5)
    supposed = learnt.metal.supposed
    low, same, high = (learnt.metal_left(supposed, supposed + off) for off in (-0.1, 0.0, 0.1))
    assert same == pytest.approx(learnt.metal.mean)
    assert high - same == pytest.approx(0.1 * learnt.metal.kept)
    assert same - low == pytest.approx(0.1 * learnt.metal.kept)
    assert learnt.metal_left(0.9, 0.9) == 1.0
    assert metal_learnt(choice, 0.0).metal_left(0.0, 0.0) == 0.0


def test_boat_is_as_sound_as_her_draw_says_and_what_is_whole_stays_so(choice):
    boat = choice.question.boat
    deck_of_her = boat.by_name["decking"]
    whole = replace(boat, members=tuple(replace(one, sound=1.0) for one in boat.members))
    drawn = [as_she_may_be(boat, np.random.default_rng(seed)) for seed in range(40)]
    offs = [np.random.default_rng(seed).normal(0.0, [0.1, 0.07])[1] for seed in range(40)]
    for one, off in zip(drawn, offs, strict=True):
        expected = min(1.0, max(0.05, deck_of_her.sound + off))
        assert one.by_name["decking"].sound == pytest.approx(expected)
    assert as_she_may_be(whole, np.random.default_rng(1)).members == whole.members


def test_interval_is_wilsons():
    """Wilson 1927 as Newcombe gives it, Statistics in Medicine 17, 1998: 81 of 263, 0.2553 to
    0.3662 (from memory)."""
    low, high = Share(81, 263).bounds
    assert (round(low, 4), round(high, 4)) == (0.2553, 0.3662)
    assert Share(0, 20).bounds[0] == 0.0
