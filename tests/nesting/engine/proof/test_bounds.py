"""Bounds: no plan found by any search here beats them, and a perfect plan meets them."""

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need
from shapely.geometry import Polygon, box

from nesting.engine.pack import pack
from nesting.engine.proof.bounds import Bounds
from nesting.engine.stop import MaxRounds
from nesting.engine.wood.extents import least_extents
from nesting.ideal import Limit
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, slot

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
SAW = Rules(kerf_mm=4, trim_mm=1, cleaning_loss_mm=0)


def plank(name="A", length=1000.0, width=100.0, thickness=30.0, **given):
    return Board(name, box(0, 0, length, width), thickness, given.pop("species", "oak"), **given)


def strip(part="P", length=300.0, width=100.0, siding=20.0, **given):
    return Need(part, "any", Outline(box(0, 0, length, width), siding), ("oak",), **given)


def least_boards(lengths, boards, gap):
    """Least wood that holds strips as wide as their boards, by trying every assignment."""
    best = np.inf
    for choice in product(range(len(boards)), repeat=len(lengths)):
        used = np.zeros(len(boards))
        for length, board in zip(lengths, choice, strict=True):
            used[board] += length + gap
        if all(u <= b + gap for u, b in zip(used, boards, strict=True)):
            best = min(best, sum(b for b, u in zip(boards, used, strict=True) if u) * 100.0)
    return best


def most_value(lengths, worths, board, gap):
    """Most worth of strips on one board, by trying every subset."""
    best = 0.0
    for choice in product((0, 1), repeat=len(lengths)):
        chosen = [i for i, taken in enumerate(choice) if taken]
        if sum(lengths[i] + gap for i in chosen) <= board + gap:
            best = max(best, sum(worths[i] for i in chosen))
    return best


@given(seed=st.integers(0, 10**6))
@settings(max_examples=9, suppress_health_check=[HealthCheck.too_slow])
def test_no_plan_found_beats_the_bounds(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(4)]
    needs = [random_need(rng, f"P{i}") for i in range(6)]
    rules = Rules(kerf_mm=float(rng.choice([0, 3])), trim_mm=float(rng.choice([0, 1])))
    bounds = Bounds(needs, boards, rules)
    plan = pack(needs, boards, rules, stop=MaxRounds(1), seed=seed)
    assert plan.placed_value <= bounds.most_value[0] + 1e-9
    least = bounds.least_opened_mm2(plan.placed_value, plan.opened_mm2)
    assert least <= plan.opened_mm2 * (1 + 1e-9)
    pairs = [(p.need, nest.board) for nest in plan.nests for p in nest.placements]
    may = bounds._possible.may
    assert all(may[needs.index(need), boards.index(board)] for need, board in pairs)


@given(seed=st.integers(0, 10**6))
@example(seed=2267)  # The solver's presolve proved too much here.
@settings(max_examples=25)
def test_least_wood_is_never_above_the_best_of_all_assignments(seed):
    rng = np.random.default_rng(seed)
    lengths = rng.integers(150, 700, 5).astype(float)
    boards = rng.integers(700, 1500, 4).astype(float)
    needs = [strip(f"P{i}", length) for i, length in enumerate(lengths)]
    wood = [plank(f"A{i}", length) for i, length in enumerate(boards)]
    truth = least_boards(lengths, boards, NO_SAW.part_gap_mm)
    bounds = Bounds(needs, wood, NO_SAW)
    if np.isfinite(truth):
        value = sum(need.worth for need in needs)
        assert bounds.least_opened_mm2(value, truth) <= truth * (1 + 1e-9)
        assert bounds.most_value[0] == pytest.approx(value)


@given(seed=st.integers(0, 10**6), gap=st.sampled_from([0.0, 6.0]))
@settings(max_examples=25)
def test_most_value_is_never_below_the_best_of_all_choices(seed, gap):
    rng = np.random.default_rng(seed)
    lengths = rng.integers(150, 700, 6).astype(float)
    worths = rng.integers(1, 20, 6).astype(float)
    rules = Rules(kerf_mm=gap, trim_mm=0, cleaning_loss_mm=0)
    needs = [
        strip(f"P{i}", length, value=worth)
        for i, (length, worth) in enumerate(zip(lengths, worths, strict=True))
    ]
    most, _ = Bounds(needs, [plank()], rules).most_value
    assert most >= most_value(lengths, worths, 1000.0, gap) - 1e-9


def test_value_is_bounded_by_whole_copies_and_their_kerf():
    needs = [strip(quantity=4, value=5)]
    assert Bounds(needs, [plank(length=1212, width=102)], SAW).most_value[0] == pytest.approx(
        15, rel=1e-5
    )


@pytest.mark.parametrize(
    ("needs", "most", "limit"),
    [
        ([strip(value=5)], 5, Limit.WANTED),
        ([strip(value=5), strip("Q", 1001, value=3)], 5, Limit.NO_BOARD),
        ([strip(value=5), strip("Q", siding=31, value=3)], 5, Limit.NO_BOARD),
        ([strip(value=5), strip("Q", 900, value=3)], 5, Limit.AREA),
        ([], 0, Limit.WANTED),
    ],
    ids=["all", "too long", "too thin", "area", "nothing wanted"],
)
def test_limit_says_what_bounds_the_value(needs, most, limit):
    found = Bounds(needs, [plank()], NO_SAW).most_value
    assert (pytest.approx(most, rel=1e-5), limit) == found


def test_metal_across_a_board_leaves_two_short_pieces():
    metal = slot(KeepOutKind.METAL, (500, 0), (500, 100), 10)
    board = plank(keep_outs=(metal,))
    assert Bounds([strip(length=600)], [board], NO_SAW).most_value == (0, Limit.NO_BOARD)
    assert Bounds([strip(length=480)], [board], NO_SAW).most_value[1] is Limit.WANTED


def test_holes_take_wood_from_clear_parts_only():
    board = plank(keep_outs=tuple(circle(KeepOutKind.HOLE, x, 50, 10) for x in (200, 500, 800)))
    clear, plugged = (strip(length=1000, holes=holes) for holes in (Holes.CLEAR, Holes.PLUGGED))
    assert Bounds([clear], [board], NO_SAW).most_value[0] == 0
    assert Bounds([plugged], [board], NO_SAW).most_value[0] == plugged.worth


def test_least_extents_use_the_slope_of_grain_and_no_more():
    leaning = Outline(Polygon([(0, 0), (1000, 80), (1000, 130), (0, 50)]), 20, slope_of_grain=12)
    x, y = least_extents(leaning, 0.0)
    assert y == pytest.approx(50 * np.cos(np.arctan2(80, 1000)), rel=1e-3)
    steep = Outline(leaning.shape, 20, slope_of_grain=1000)
    assert least_extents(steep, 0.0)[1] > 125
    assert least_extents(steep, None)[1] == pytest.approx(y, rel=1e-6)
    assert x <= 1000


def test_perfect_plan_meets_its_bound_and_ends_the_search():
    needs = [strip("P", 400), strip("Q", 600), strip("R", 500, quantity=2)]
    boards = [plank("A", 1000), plank("B", 1000), plank("C", 1100)]
    seen = []
    plan = pack(needs, boards, NO_SAW, stop=MaxRounds(100_000), on_progress=seen.append)
    ideal = plan.ideal
    assert (ideal.value, ideal.opened_mm2) == (plan.placed_value, plan.opened_mm2)
    assert ideal.is_proven_best
    assert ideal.spare_percent == pytest.approx(0, abs=1e-3)
    assert ideal.value_percent == pytest.approx(100)
    assert seen[-1].rounds < 1000


def test_wood_bound_chooses_the_boards_as_a_whole():
    needs = [strip("P", 700), strip("Q", 700)]
    boards = [plank("A", 1000), plank("B", 900), plank("C", 1300)]
    bounds = Bounds(needs, boards, NO_SAW)
    least = bounds.least_opened_mm2(sum(need.worth for need in needs), 190_000)
    assert least == pytest.approx(190_000, rel=1e-4)


def test_search_goes_on_while_a_better_plan_may_exist():
    cross = Outline(box(0, 30, 90, 60).union(box(30, 0, 60, 90)), 20, slope_of_grain=1000)
    needs, seen = [Need("P", "any", cross, ("oak",), 12)], []
    boards = [plank(), plank("B")]
    pack(needs, boards, NO_SAW, stop=MaxRounds(25), on_progress=seen.append)
    assert seen[-1].rounds == 25
    assert not seen[-1].ideal.is_proven_best
    assert seen[-1].ideal.is_value_met
    assert seen[-1].ideal.spare_percent == pytest.approx(50, abs=1)


@pytest.mark.parametrize("needs", [[], [strip()]], ids=["no parts", "no boards"])
def test_empty_questions_have_bounds(needs):
    ideal = Bounds(needs, [], NO_SAW).ideal(0.0, 0.0)
    assert ideal.is_proven_best
    assert (ideal.value_percent, ideal.spare_percent) == (100, 0)


def test_plans_of_no_value_need_no_wood_and_what_is_proven_holds_from_its_value_on():
    needs = [strip("P", 700), strip("Q", 700)]
    bounds = Bounds(needs, [plank("A"), plank("B"), plank("C")], NO_SAW)
    assert bounds.least_opened_mm2(0.0, 100_000) == bounds.least_filled_mm2(0.0) == 0.0
    value = sum(need.worth for need in needs)
    assert bounds.least_opened_mm2(value, 300_000) == pytest.approx(200_000, rel=1e-4)
    bounds.raise_least(value, 250_000.0)
    assert bounds.least_opened_mm2(value, 300_000) == 250_000.0
    assert bounds.least_opened_mm2(value / 2, 300_000) == pytest.approx(100_000, rel=1e-4)
