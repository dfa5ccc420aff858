"""Boards filled from one end, and parts gathered there afterwards."""

import numpy as np
import pytest
from puzzles import nest_of, random_board, random_need
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.engine.search.construct import Order, insert_all, ordered
from nesting.engine.search.fill import Filler
from nesting.engine.search.gather import gathered, gathered_plan, largest_offcut_mm2
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import empty_plan
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.referee.check import check_nest
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def need(name, shape, quantity=1):
    return Need(name, "any", Outline(shape, 20, may_turn_over=False), ("oak",), quantity)


def sawn_board():
    """A board sawn into five parts without rest, which no falling order of size puts back."""
    left, right = Polygon([(0, 0), (300, 0), (200, 100), (0, 100)]), box(0, 0, 300, 60)
    slant = Polygon([(0, 100), (100, 0), (200, 0), (200, 100)])
    low, rest = box(0, 0, 300, 40), box(0, 0, 400, 100)
    shapes = [left, slant, right, low, rest]
    return [need(f"P{i}", shape) for i, shape in enumerate(shapes)], box(0, 0, 1100, 100)


def test_board_sawn_into_parts_is_put_together_again():
    needs, shape = sawn_board()
    problem = Problem(needs, [Board("A", shape, 30, "oak")], NO_SAW)
    state = Filler(problem).filled(0, [1] * len(needs), 60, np.random.default_rng(1))
    assert len(state.laid) == len(needs)
    assert check_nest(nest_of(state, problem), NO_SAW) == ()


def filled_at_random(seed):
    rng = np.random.default_rng(seed)
    board, needs = random_board(rng, "A"), [random_need(rng, f"P{i}") for i in range(5)]
    rules = Rules(kerf_mm=float(rng.choice([0, 2])), trim_mm=float(rng.choice([0, 1])))
    problem = Problem(needs, [board], rules)
    wanted = [int(0 in problem.suits[n]) for n in range(5)]
    return problem, rules, wanted, Filler(problem).filled(0, wanted, 4, rng)


@pytest.mark.parametrize("seed", range(12))
def test_filled_and_gathered_boards_satisfy_the_referee(seed):
    problem, rules, wanted, state = filled_at_random(seed)
    first = (BoardState(0).spot(n, problem) for n, count in enumerate(wanted) if count)
    assert bool(state.laid) == any(spot is not None for spot in first)
    assert all(count <= 1 for count in np.bincount([laid.need for laid in state.laid], minlength=1))
    assert check_nest(nest_of(state, problem), rules) == ()
    after = gathered(state, problem)
    assert sorted(laid.need for laid in after.laid) == sorted(laid.need for laid in state.laid)
    assert check_nest(nest_of(after, problem), rules) == ()
    assert largest_offcut_mm2(after, problem) >= largest_offcut_mm2(state, problem)


def test_same_chance_fills_alike():
    needs, shape = sawn_board()
    states = [
        Filler(Problem(needs, [Board("A", shape, 30, "oak")], NO_SAW)).filled(
            0, [1] * len(needs), 5, np.random.default_rng(7)
        )
        for _ in range(2)
    ]
    first, second = [[(p.need, p.x_mm, p.y_mm) for p in state.laid] for state in states]
    assert first
    assert first == second


def test_part_notched_for_metal_rests_there_though_it_could_go_nearer_to_the_end():
    notched = (
        box(0, 0, 400, 100).difference(Point(200, 50).buffer(20)).difference(box(190, 50, 210, 100))
    )
    board = Board(
        "A", box(0, 0, 1000, 100), 30, "oak", keep_outs=(circle(KeepOutKind.METAL, 740, 50, 6),)
    )
    rules = Rules(kerf_mm=0, trim_mm=0, blade_clearance_mm=4, cleaning_loss_mm=0)
    problem = Problem(
        [need("notched", notched), need("plain", box(0, 0, 500, 100))], [board], rules
    )
    states = (
        Filler(problem).filled(0, [1, 1], 20, np.random.default_rng(seed)) for seed in range(4)
    )
    assert any(len(state.laid) == 2 for state in states)


def test_nothing_is_placed_when_time_is_over():
    needs, shape = sawn_board()
    problem = Problem(needs, [Board("A", shape, 30, "oak")], NO_SAW)
    filler = Filler(problem)
    assert filler.filled(0, [1] * 5, 5, np.random.default_rng(1)).laid != ()
    assert filler.filled(0, [1] * 5, 5, np.random.default_rng(1), lambda: True).laid == ()
    copies = ordered(range(5), problem, Order.AREA)
    plan = insert_all(empty_plan(problem), copies, problem, None, lambda: True)
    assert plan.opened == []
    assert plan.missing == (1,) * 5


def scattered(rules):
    board = Board("A", box(0, 0, 2000, 100), 30, "oak")
    problem = Problem([need("P", box(0, 0, 300, 90), 3)], [board], rules)
    figure = problem.turnings(0, 0, is_leaning=False)[0]
    state = BoardState(0)
    for x in (300.0, 900.0, 1500.0):
        state = state.with_part(Laid(0, figure, x - figure.box[0], 5.0 - figure.box[1]))
    return problem, state


def test_some_random_boards_keep_a_larger_offcut_when_gathered():
    grown = 0
    for seed in range(12):
        problem, _, _, state = filled_at_random(seed)
        after = largest_offcut_mm2(gathered(state, problem), problem)
        grown += after > largest_offcut_mm2(state, problem) + 1.0
    assert grown >= 1


def test_scattered_parts_are_gathered_at_one_end():
    rules = Rules(kerf_mm=2, trim_mm=1, least_offcut=LeastOffcut(500, 60))
    problem, state = scattered(rules)
    after = gathered(state, problem)
    assert check_nest(nest_of(after, problem), rules) == ()
    assert largest_offcut_mm2(state, problem) == 0
    # Three parts, their gaps and the saw beside the last: some 920 of 2000 mm.
    assert largest_offcut_mm2(after, problem) == pytest.approx(1080 * 100, rel=0.02)
    assert gathered(after, problem) is after


def test_boards_stay_as_they_are_when_time_is_over():
    problem, state = scattered(Rules(kerf_mm=2, trim_mm=1, least_offcut=LeastOffcut(500, 60)))
    plan = empty_plan(problem)
    plan = type(plan)((state,), (0,))
    assert gathered_plan(plan, problem, lambda: True).states == (state,)
    assert gathered_plan(plan, problem).states != (state,)


def test_moved_figures_are_clear_of_regions_as_shapely_says():
    from nesting.engine.geometry.no_fit import between, is_outside

    problem = Problem(
        [need("L", box(0, 0, 90, 30).union(box(0, 0, 30, 90)))],
        [Board("A", box(0, 0, 500, 200), 30, "oak")],
        NO_SAW,
    )
    figure = problem.turnings(0, 0, is_leaning=False)[0]
    region, rng = between(figure, figure, 0.0), np.random.default_rng(3)
    for x, y in rng.uniform(-100, 100, (200, 2)):
        apart = figure.shape.distance(affinity.translate(figure.shape, x, y))
        inside = figure.shape.intersection(affinity.translate(figure.shape, x, y)).area
        if apart > 1e-6 or inside > 1e-3:
            assert is_outside(region, float(x), float(y)) == (apart > 0)


def test_boards_are_filled_from_either_end():
    problem = Problem(
        [need("P", box(0, 0, 300, 100))], [Board("A", box(0, 0, 1000, 100), 30, "oak")], NO_SAW
    )
    filler, rng, lefts = Filler(problem), np.random.default_rng(1), set()
    for _ in range(12):
        (laid,) = filler.filled(0, [1], 4, rng).laid
        lefts.add(round(laid.x_mm + laid.figure.box[0], 6))
    assert lefts == {0.0, 700.0}
