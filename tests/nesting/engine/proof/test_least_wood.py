"""The least wood that gives certain parts: never above the best of all choices, and near it."""

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need
from shapely.geometry import box

from nesting.engine.pack import pack
from nesting.engine.proof.bounds import Bounds
from nesting.engine.proof.dearest_filling import dearest
from nesting.engine.proof.least_wood import Giver, least_wood
from nesting.engine.stop import MaxRounds
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

seeds = st.integers(0, 10**6)
NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def fillings(copies, shares):
    """Yield every choice of whole copies that the shares allow."""
    for taken in product(*(range(count + 1) for count in copies)):
        if (shares @ np.array(taken) <= 1 + 1e-9).all():
            yield np.array(taken)


def random_giver(rng, parts):
    copies = rng.integers(0, 3, parts)
    shares = rng.uniform(0.1, 0.9, (int(rng.integers(1, 4)), parts))
    shares[rng.random(shares.shape) < 0.2] = 0.0
    return Giver(np.arange(parts), copies, shares)


def cheapest(wanted, givers, costs):
    """Return the least cost of boards that give all, by trying every filling of every board."""
    reached = {(0,) * len(wanted): 0.0}
    for giver, cost in zip(givers, costs, strict=True):
        for given_so_far, spent in list(reached.items()):
            for taken in fillings(giver.copies, giver.shares):
                more = np.minimum(wanted, np.array(given_so_far) + taken)
                key = tuple(more.tolist())
                if spent + cost < reached.get(key, np.inf):
                    reached[key] = spent + cost
    return reached.get(tuple(wanted.tolist()), np.inf)


@given(seed=seeds)
@settings(max_examples=40)
def test_dearest_filling_is_the_dearest(seed):
    rng = np.random.default_rng(seed)
    giver, values = random_giver(rng, 5), rng.uniform(0, 5, 5) * (rng.random(5) < 0.8)
    truth = max(float(values @ taken) for taken in fillings(giver.copies, giver.shares))
    value, above, taken, _ = dearest(values, giver.copies, giver.shares, 0.0, 10**6)
    assert value == pytest.approx(truth)
    assert above == pytest.approx(truth)
    assert values @ taken == pytest.approx(truth)
    assert (giver.shares @ taken <= 1 + 1e-9).all()


@given(seed=seeds, most=st.integers(1, 30))
@settings(max_examples=40)
def test_what_a_short_look_proves_is_never_too_little(seed, most):
    rng = np.random.default_rng(seed)
    giver, values = random_giver(rng, 5), rng.uniform(0, 5, 5)
    truth = max(float(values @ taken) for taken in fillings(giver.copies, giver.shares))
    _, above, _, looked = dearest(values, giver.copies, giver.shares, 0.0, most)
    assert above >= truth - 1e-9
    assert looked <= most + 6 * 5 * 3


@given(seed=seeds)
@settings(max_examples=25)
def test_least_wood_is_never_above_the_best_of_all_fillings(seed):
    rng = np.random.default_rng(seed)
    givers = [random_giver(rng, 4) for _ in range(4)]
    costs, wanted = rng.uniform(0.5, 2, 4), rng.integers(0, 3, 4)
    truth = cheapest(wanted, givers, costs)
    if np.isfinite(truth):
        assert least_wood(wanted, givers, costs) <= truth * (1 + 1e-9)


def test_boards_are_counted_whole():
    """Two parts of 0.6 of a board each need a board each; 1.2 boards would not do."""
    giver = Giver(np.array([0]), np.array([3]), np.array([[0.6]]))
    assert least_wood(np.array([3]), [giver] * 4, np.ones(4)) == pytest.approx(3, rel=1e-5)


def test_parts_of_one_board_do_not_count_on_another():
    small = Giver(np.array([0]), np.array([1]), np.array([[0.5]]))
    large = Giver(np.array([1]), np.array([1]), np.array([[0.5]]))
    found = least_wood(np.array([1, 1]), [small, large], np.array([1.0, 5.0]))
    assert found == pytest.approx(6, rel=1e-5)


def test_no_parts_need_no_wood():
    assert least_wood(np.array([0]), [], np.array([])) == 0


def strips(count, length, width):
    return [Need("P", "any", Outline(box(0, 0, length, width), 20), ("oak",), count)]


def planks(*widths):
    return [Board(f"B{i}", box(0, 0, 1000, w), 25, "oak") for i, w in enumerate(widths)]


def test_two_strips_abreast_need_two_planks_where_areas_say_one_and_a_bit():
    needs, boards = strips(4, 950, 60), planks(170, 170, 170)
    bounds = Bounds(needs, boards, NO_SAW)
    value = sum(need.quantity * need.worth for need in needs)
    assert bounds.least_filled_mm2(value) == pytest.approx(2 * 170e3, rel=1e-3)


@given(seed=seeds)
@settings(max_examples=4, suppress_health_check=[HealthCheck.too_slow])
def test_no_plan_found_opens_less(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(4)]
    needs = [random_need(rng, f"P{i}") for i in range(6)]
    rules = Rules(kerf_mm=float(rng.choice([0, 3])), trim_mm=float(rng.choice([0, 1])))
    plan = pack(needs, boards, rules, stop=MaxRounds(3), seed=seed)
    least = Bounds(needs, boards, rules).least_filled_mm2(plan.placed_value)
    assert least <= plan.opened_mm2 * (1 + 1e-9)


def test_question_too_large_is_left_to_the_quick_bounds(monkeypatch):
    monkeypatch.setattr("nesting.engine.proof.bounds.MOST_EXACT", 0)
    needs, boards = strips(4, 950, 60), planks(170, 170, 170)
    assert Bounds(needs, boards, NO_SAW).least_filled_mm2(1e3) == 0
