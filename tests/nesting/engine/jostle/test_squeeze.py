"""Squeezing parts onto a board: they may overlap by less and less, at last not at all."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from puzzles import nest_of, random_problem
from scenes import SQUARE, random_places, random_polygons, scene_of
from shapely.geometry import Polygon, box

from nesting.engine.jostle.compaction import loosened
from nesting.engine.jostle.jostling import total_depth
from nesting.engine.jostle.layout import field_for, near_for, scratch_block
from nesting.engine.jostle.sum_table import yielding
from nesting.engine.search import crowd
from nesting.engine.search.crowd import Crowder
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import empty_plan
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)

LEAST_TAKEN = 0.2
"""Parts that a random board takes, at the least, in the mean."""


def two_squares(apart, length):
    """Return a scene of two squares of 20 in a row, so far apart, in a box just as high."""
    places = [[0.0, 0.0, 0.0, 0.0, 0.0], [apart, 0.0, 0.0, 0.0, 4.0]]
    scene = scene_of([SQUARE, SQUARE], places, size=20.0, is_tabled=True)
    scene.wood.box[2] = length
    return scene


def test_shifts_part_two_squares_where_there_is_room():
    scene = two_squares(13.0, 60.0)
    less = loosened(10.0, 0.0, near_for(scene), scene)
    assert less == pytest.approx(0.0, abs=1e-6)
    assert scene.layout.place[1, 0] - scene.layout.place[0, 0] >= 20.0 - 1e-6


def test_where_there_is_no_room_every_contact_gives_way_alike():
    """Two of 20 in 34: wall, square, square and wall meet in three contacts, 6 too deep in all."""
    scene = two_squares(13.0, 34.0)
    deeper = loosened(10.0, 0.0, near_for(scene), scene)
    assert deeper == pytest.approx(2.0, abs=1e-6)
    assert scene.layout.place[0, 0] == pytest.approx(-2.0, abs=1e-6)
    assert scene.layout.place[1, 0] == pytest.approx(16.0, abs=1e-6)


@given(seed=st.integers(0, 10**6), depth=st.floats(0.0, 4.0))
@settings(max_examples=10, deadline=None)
def test_a_table_that_yields_forgives_just_so_much(seed, depth):
    """Each convex sum counts for so much less, and never for less than nothing."""
    rng = np.random.default_rng(seed)
    scene = scene_of(random_polygons(rng, 2), random_places(rng, 60.0, 2), is_tabled=True)
    full = depths_of(scene)
    given_way = depths_of(scene._replace(table=yielding(scene.table, depth)))
    assert given_way == pytest.approx(np.maximum(full - depth, 0.0), abs=1e-9)


def depths_of(scene):
    """Return the depth of the first item in each sum with the second, straight from half-planes."""
    (x, y), sums = scene.layout.place[0, :2] - scene.layout.place[1, :2], scene.table.sums
    first, end = scene.table.pairs[tuple(scene.layout.place[:, 4].astype(int))]
    return np.array([max(0.0, least_depth(sums, s, x, y)) for s in range(first, end)])


def least_depth(sums, s, x, y):
    edges = sums.edges[sums.first[s] : sums.first[s + 1]]
    return float((edges[:, 2] - edges[:, 0] * x - edges[:, 1] * y).min())


def test_the_jostling_counts_what_a_yielding_table_leaves():
    scene = two_squares(13.0, 60.0)
    for depth, left in [(0.0, 7.0), (3.0, 4.0), (7.0, 0.0)]:
        yielded = scene._replace(table=yielding(scene.table, depth))
        field = field_for(scene.layout, scene.wood, scene.figures, yielded.table)
        total = total_depth(field, scratch_block(scene.figures), yielded)
        assert total == pytest.approx(left, abs=1e-9)


def sawn(cuts, width=100.0):
    """Return needs that fill a board between cuts: x below and above each part."""
    shapes = [[(a0, 0), (a1, 0), (b1, width), (b0, width)] for (a0, b0), (a1, b1) in pairwise(cuts)]
    return [
        Need(f"P{k}", "any", Outline(Polygon(shape), 20), ("oak",))
        for k, shape in enumerate(shapes)
    ]


def test_slanting_parts_are_squeezed_onto_a_board_they_nearly_fill():
    """Five parts cover all but 6 % of the board, and only some orders bring the slants together."""
    needs = sawn([(0, 0), (180, 240), (420, 380), (560, 640), (800, 740), (940, 940)])
    board = Board("A", box(0, 0, 1000, 100), 30, "oak")
    problem = Problem(needs, [board], NO_SAW)
    crowder, rng = Crowder(problem), np.random.default_rng(5)
    found = None
    for _ in range(4):
        found = found or crowder.squeezed(BoardState(0), range(5), 60, rng)
    assert found is None  # they cover more than a board is ever crowded to
    needs = sawn([(0, 0), (180, 240), (420, 380), (560, 640), (800, 740), (900, 900)])
    problem = Problem(needs, [board], NO_SAW)
    crowder = Crowder(problem)
    for _ in range(4):
        found = found or crowder.squeezed(BoardState(0), range(5), 60, rng)
    assert found is not None
    assert len(found.laid) == 5
    assert check_nest(nest_of(found, problem), NO_SAW) == ()


def test_squeezed_boards_satisfy_the_referee():
    taken = []

    @given(seed=st.integers(0, 10**6))
    @settings(max_examples=10, deadline=None)
    def squeezed(seed):
        rng = np.random.default_rng(seed)
        problem = random_problem(rng, 5)
        suited = [need for need in range(5) if 0 in problem.suits[need]]
        crowder, state = Crowder(problem), BoardState(0)
        for count in range(len(suited), 0, -1):
            state = crowder.squeezed(BoardState(0), suited[:count], 4, rng) or state
            if state.laid:
                break
        taken.append(len(state.laid))
        assert check_nest(nest_of(state, problem), problem.rules) == ()
        assert len(state.laid) in (0, count if suited else 0)

    squeezed()
    assert sum(taken) >= LEAST_TAKEN * len(taken)


def test_parts_find_room_round_a_stub_when_all_of_them_move():
    """Two stubs leave room for three parts of 300 only if the first begins at the board's end."""
    stubs = (circle(KeepOutKind.METAL, 310, 50, 8), circle(KeepOutKind.METAL, 640, 50, 8))
    board = Board("A", box(0, 0, 1000, 100), 30, "oak", keep_outs=stubs)
    need = Need("P", "any", Outline(box(0, 0, 290, 98), 20), ("oak",), quantity=3)
    rules = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, blade_clearance_mm=2)
    problem = Problem([need], [board], rules)
    crowder, rng = Crowder(problem), np.random.default_rng(2)
    found = None
    for _ in range(5):
        found = found or crowder.squeezed(BoardState(0), [0, 0, 0], 40, rng)
    assert found is not None
    assert len(found.laid) == 3
    assert check_nest(nest_of(found, problem), rules) == ()


def test_parts_of_too_many_pieces_are_not_tried(monkeypatch):
    need = Need("P", "any", Outline(box(0, 0, 200, 90), 20), ("oak",))
    problem = Problem([need], [Board("A", box(0, 0, 1000, 100), 30, "oak")], NO_SAW)
    crowder, rng = Crowder(problem), np.random.default_rng(0)
    assert crowder.squeezed(BoardState(0), [0], 5, rng) is not None
    monkeypatch.setattr(crowd, "MOST_TURNED", 0)
    assert crowder.squeezed(BoardState(0), [0], 5, rng) is None


def test_a_plan_with_another_state_of_a_board_misses_what_that_leaves_out():
    needs = [
        Need(name, "any", Outline(box(0, 0, 200, 90), 20), ("oak",), quantity=2) for name in "PQ"
    ]
    problem = Problem(needs, [Board("A", box(0, 0, 1000, 100), 30, "oak")], NO_SAW)
    crowder, rng = Crowder(problem), np.random.default_rng(0)
    both = crowder.squeezed(BoardState(0), [0, 1], 5, rng)
    one = crowder.squeezed(BoardState(0), [1], 5, rng)
    plan = empty_plan(problem).with_state(both)
    assert plan.missing == (1, 1)
    assert plan.with_state(one).missing == (2, 1)
    assert plan.with_state(one).states == (one,)
