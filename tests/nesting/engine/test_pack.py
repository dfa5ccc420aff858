import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from puzzles import random_board, random_need
from shapely.geometry import Polygon, box

from nesting.accounts.account import account_for
from nesting.engine.pack import pack
from nesting.engine.stop import FirstOf, MaxRounds, MaxSeconds, WhenAsked
from nesting.grain import GrainPath, straight_grain
from nesting.need import Holes, Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import BearingZone, Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, slot

DATA = Path(__file__).parents[2] / "data"
NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def plank(name="A", length=1000.0, width=100.0, thickness=30.0, **given):
    return Board(name, box(0, 0, length, width), thickness, given.pop("species", "oak"), **given)


def strip(part="P", length=300.0, width=50.0, siding=20.0, **given):
    outline = Outline(box(0, 0, length, width), siding)
    return Need(part, "any", outline, given.pop("species", ("oak",)), **given)


def crosses():
    """One board holds 11 of these; their area alone does not tell, so the search goes on."""
    arms = box(0, 30, 90, 60).union(box(30, 0, 60, 90))
    need = Need("P", "any", Outline(arms, 20, slope_of_grain=1000), ("oak",), 12)
    return [need], [plank(), plank("B")]


def packed(needs, boards, rules=NO_SAW, rounds=0, **given):
    plan = pack(needs, boards, rules, stop=MaxRounds(rounds), **given)
    assert check_plan(plan, needs, rules) == ()
    return plan


def placed(plan):
    return {p.label for nest in plan.nests for p in nest.placements}


def test_same_seed_and_rounds_give_the_same_plan():
    rng = np.random.default_rng(7)
    boards = [random_board(rng, f"B{i}") for i in range(5)]
    needs = [random_need(rng, f"P{i}") for i in range(8)]
    first = packed(needs, boards, Rules(), rounds=6, seed=3)
    assert packed(needs, boards, Rules(), rounds=6, seed=3) == first


def test_part_exactly_as_large_as_its_board_is_placed():
    assert placed(packed([strip(length=1000, width=100)], [plank()])) == {"P"}


def test_part_longer_than_every_board_says_so():
    plan = packed([strip(length=1001)], [plank()])
    assert plan.unplaced[0].reason is Misfit.TOO_LONG


@pytest.mark.parametrize(
    ("need", "reason"),
    [
        (strip(species=("teak",)), Misfit.NO_SPECIES),
        (strip(siding=31), Misfit.TOO_THIN),
        (strip(not_from=("decking",)), Misfit.WRONG_WOOD),
        (strip(width=60), Misfit.NO_CLEAR_WOOD),
    ],
    ids=["species", "thickness", "previous use", "no clear wood"],
)
def test_unplaced_part_has_its_reason(need, reason):
    metal = tuple(circle(KeepOutKind.METAL, x, 50, 4) for x in range(20, 1000, 40))
    plan = packed([need], [plank(member="decking", keep_outs=metal)])
    assert [(left.count, left.reason) for left in plan.unplaced] == [(1, reason)]


def test_part_crowded_out_by_dearer_ones_says_so():
    plan = packed([strip("cheap", 600, value=1), strip("dear", 600, 60, value=9)], [plank()])
    assert placed(plan) == {"dear"}
    assert plan.unplaced[0].reason is Misfit.NO_ROOM


def test_no_boards_leaves_everything_over():
    plan = packed([strip(quantity=3)], [])
    assert plan.nests == ()
    assert plan.unplaced[0].count == 3


def test_neighbours_keep_kerf_and_both_trims():
    rules = Rules(kerf_mm=4, trim_mm=2, cleaning_loss_mm=0)
    fits = [strip(length=490, width=90, quantity=2)]
    assert placed(packed(fits, [plank(length=992, width=94)], rules)) == {"P, 1 of 2", "P, 2 of 2"}
    assert placed(packed(fits, [plank(length=991.9, width=94)], rules)) == {"P, 1 of 2"}


def test_hole_stays_out_of_clear_part_and_inside_plugged_one():
    holes = tuple(circle(KeepOutKind.HOLE, x, 50, 6) for x in (200, 500, 800))
    board = plank(keep_outs=holes)
    assert placed(packed([strip(length=950, width=90)], [board])) == set()
    plugged = packed([strip(length=950, width=90, holes=Holes.PLUGGED)], [board])
    assert len(plugged.nests[0].bungs(NO_SAW)) == 3


def test_bung_keeps_out_of_bearing_zone():
    outline = Outline(
        box(0, 0, 950, 90), 20, bearing_zones=(BearingZone(box(0, 0, 100, 90), "end"),),
        may_turn_over=False,
    )  # fmt: skip
    need = Need("P", "any", outline, ("oak",), holes=Holes.PLUGGED)
    near_end = plank(keep_outs=(circle(KeepOutKind.HOLE, 80, 50, 6),))
    plan = packed([need], [near_end])
    assert plan.nests[0].placements[0].angle_deg == pytest.approx(180)
    both_ends = replace(
        near_end, keep_outs=(*near_end.keep_outs, circle(KeepOutKind.HOLE, 920, 50, 6))
    )
    assert packed([need], [both_ends]).unplaced[0].reason is Misfit.NO_CLEAR_WOOD


def test_no_metre_gets_more_bungs_than_allowed():
    holes = tuple(circle(KeepOutKind.HOLE, x, 50, 6) for x in range(100, 1000, 100))
    board = plank(keep_outs=holes)
    need = strip(length=950, width=90, holes=Holes.PLUGGED, plugs_per_metre=8)
    assert placed(packed([need], [board])) == set()
    assert placed(packed([replace(need, plugs_per_metre=9)], [board])) == {"P"}


def test_metal_is_never_plugged():
    board = plank(keep_outs=(circle(KeepOutKind.METAL, 500, 50, 6),))
    assert placed(packed([strip(length=950, width=90, holes=Holes.HIDDEN)], [board])) == set()


def test_hidden_part_may_lie_over_stain_and_clear_part_may_not():
    board = plank(keep_outs=(circle(KeepOutKind.STAIN, 500, 50, 80),))
    need = strip(length=950, width=90)
    assert placed(packed([need], [board])) == set()
    assert placed(packed([replace(need, holes=Holes.HIDDEN)], [board])) == {"P"}


def test_part_follows_slanting_grain_within_its_limit():
    board = Board("A", box(0, 0, 1000, 300), 30, "oak", grain=straight_grain(10))
    plan = packed([strip(length=700, width=60)], [board])
    turn = plan.nests[0].placements[0].angle_deg % 180
    assert abs(turn - 10) <= 4.77


def bend(off, radius, leg):
    """Return grain along two legs from the axes, and round the bend between them."""
    turns = np.radians(np.arange(180, 271, 10))
    round_it = off + radius * (1 + np.column_stack([np.cos(turns), np.sin(turns)]))
    return GrainPath(((off, leg), *map(tuple, round_it.tolist()), (leg, off)))


def test_grown_crook_gives_a_knee_whose_grain_bends_with_it():
    knee = Polygon([(0, 0), (300, 0), (300, 60), (60, 60), (60, 300), (0, 300)])
    outline = Outline(knee, 20, grain=bend(30, 90, 300), slope_of_grain=4)
    need = Need("knee", "any", outline, ("oak",))
    grown = bend(60, 100, 420)
    square = box(0, 0, 420, 420)
    assert placed(packed([need], [Board("A", square, 30, "oak", grain=grown)])) == {"knee"}
    assert placed(packed([need], [Board("A", square, 30, "oak")])) == set()


def test_part_with_a_face_is_not_turned_over():
    wedge = Polygon([(0, 0), (900, 0), (900, 90), (0, 40)])
    board = Board("A", Polygon([(0, 0), (901, 0), (901, 41), (0, 91)]), 30, "oak")
    faced = Need("P", "any", Outline(wedge, 20, may_turn_over=False), ("oak",))
    either = Need("P", "any", Outline(wedge, 20, may_turn_over=True), ("oak",))
    assert placed(packed([faced], [board])) == set()
    assert packed([either], [board]).nests[0].placements[0].is_turned_over


def test_fewer_boards_are_opened_after_some_rounds():
    rng = np.random.default_rng(2)
    boards = [plank(f"A{i}", 1000 + 40 * i, 100) for i in range(8)]
    needs = [strip(f"P{i}", float(rng.uniform(250, 700)), 45) for i in range(14)]
    first = packed(needs, boards, Rules())
    later = packed(needs, boards, Rules(), rounds=25)
    assert later.opened_mm2 <= first.opened_mm2
    assert placed(later) == placed(first)


def test_search_stops_when_asked_and_reports_progress():
    asked, seen = WhenAsked(), []

    def on_progress(progress):
        seen.append(progress)
        asked.is_asked = progress.rounds > 0

    pack(*crosses(), NO_SAW, stop=FirstOf([asked, MaxRounds(500)]), on_progress=on_progress)
    assert 0 < max(progress.rounds for progress in seen) < 500
    assert seen[-1].placed == seen[-1].wanted == 12
    assert seen[-1].yield_percent == pytest.approx(27)


def test_number_of_processes_does_not_change_the_plan():
    rng = np.random.default_rng(11)
    boards = [random_board(rng, f"B{i}") for i in range(6)]
    needs = [random_need(rng, f"P{i}") for i in range(8)]
    alone = packed(needs, boards, Rules(), rounds=12, seed=5)
    assert packed(needs, boards, Rules(), rounds=12, seed=5, workers=2) == alone


def test_time_limit_uses_the_clock_it_is_given():
    ticks = iter(range(1000))
    stop = MaxSeconds(5, clock=lambda: float(next(ticks)))
    pack(*crosses(), NO_SAW, stop=stop)
    assert stop.share_used(0) >= 1
    assert stop.seconds_left() == 0


def test_interrupted_search_keeps_the_best_plan():
    def interrupt(progress):
        if progress.placed:
            raise KeyboardInterrupt

    plan = pack([strip()], [plank()], NO_SAW, stop=MaxRounds(5), on_progress=interrupt)
    assert placed(plan) == {"P"}


def zero_waste():
    """Terashima-Marin and others 2010 (Ann. Oper. Res. 179:369-392), instance as published in
    the ESICUP data repository (CC0 1.0): pieces cut from square bins without waste."""
    return json.loads((DATA / "zero_waste_bins.json").read_text())


def as_needs(pieces):
    shapes = [Polygon(piece) for piece in pieces]
    return [
        Need(f"piece-{i}", "any", Outline(shape, 10, slope_of_grain=1000), ("any wood",))
        for i, shape in enumerate(shapes)
    ]


def test_published_zero_waste_packing_is_sound_and_has_no_scrap():
    given = zero_waste()
    needs = as_needs(given["pieces"])
    bins = [
        Board(f"bin-{b}", box(0, 0, *given["bin"]), 10, "any wood")
        for b in range(given["optimal_bins"])
    ]
    nests = tuple(
        Nest(
            board,
            tuple(
                Placement(needs[k], dx, dy)
                for k, (at, dx, dy) in enumerate(given["certificate"])
                if at == b
            ),
        )
        for b, board in enumerate(bins)
    )
    plan = CuttingPlan(nests)
    assert check_plan(plan, needs, NO_SAW) == ()
    assert account_for(plan, NO_SAW).area.scrap_percent == pytest.approx(0, abs=1e-9)


def test_packer_fills_most_of_the_zero_waste_bins():
    """No outside figure: a floor on our own result, so that a change that loses wood shows."""
    given = zero_waste()
    needs = as_needs(given["pieces"])
    bins = [
        Board(f"bin-{b}", box(0, 0, *given["bin"]), 10, "any wood")
        for b in range(given["optimal_bins"])
    ]
    plan = packed(needs, bins, rounds=2)
    area = sum(p.polygon.area for nest in plan.nests for p in nest.placements)
    assert area / sum(board.area_mm2 for board in bins) > 0.7


def test_strake_with_a_corner_at_every_frame_still_lies_along_the_edge_of_slanting_grain():
    at = list(range(0, 901, 100))
    strake = Polygon([(x, 0) for x in at] + [(x, 94) for x in at[::-1]])
    need = Need("strake", "any", Outline(strake, 20), ("oak",))
    board = Board("A", box(0, 0, 1000, 100), 30, "oak", grain=straight_grain(1.5))
    assert placed(packed([need], [board])) == {"strake"}


def test_groove_that_planing_takes_off_is_no_keep_out():
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=2)
    groove = slot(KeepOutKind.GROOVE, (500, 0), (500, 100), 10)
    need = strip(length=950, width=90)
    for depth, names in ((2.0, {"P"}), (2.1, set())):
        board = plank(keep_outs=(replace(groove, depth_mm=depth),))
        assert placed(packed([need], [board], rules)) == names
