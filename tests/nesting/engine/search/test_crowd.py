"""Making room on a board: parts overlap and jostle for a while."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from puzzles import nest_of, random_problem
from shapely.geometry import Point, Polygon, box

from nesting.engine.jostle import holes as holes_of_items
from nesting.engine.jostle.layout import bare_wood
from nesting.engine.search.crowd import Crowder
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.problem import Problem
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)

LEAST_TAKEN = 0.5
"""Parts that a random board takes, at the least, in the mean."""


def test_crowded_boards_satisfy_the_referee():
    taken = []

    @given(seed=st.integers(0, 10**6))
    @settings(max_examples=40)
    def crowded(seed):
        rng = np.random.default_rng(seed)
        problem = random_problem(rng, 6)
        crowder, state = Crowder(problem), BoardState(0)
        for need in range(6):
            if 0 in problem.suits[need]:
                state = crowder.inserted(state, need, rng) or state
        taken.append(len(state.laid))
        faults = check_nest(nest_of(state, problem), problem.rules)
        # Copies share a label here; everything measured must be in order.
        assert faults == ()

    crowded()
    assert sum(taken) >= LEAST_TAKEN * len(taken)


def test_part_finds_room_when_the_one_in_the_middle_moves():
    long_one = Need("long", "any", Outline(box(0, 0, 520, 100), 20), ("oak",))
    other = Need("other", "any", Outline(box(0, 0, 390, 100), 20), ("oak",))
    problem = Problem([other, long_one], [Board("A", box(0, 0, 1000, 100), 30, "oak")], NO_SAW)
    figure = problem.turnings(0, 0, is_leaning=False)[0]
    from nesting.engine.state.board_state import Laid

    middle = BoardState(0).with_part(Laid(0, figure, 300.0, 0.0))
    assert middle.spot(1, problem) is None
    rng = np.random.default_rng(1)
    moved = next(filter(None, (Crowder(problem).inserted(middle, 1, rng) for _ in range(5))), None)
    assert moved is not None
    assert len(moved.laid) == 2
    assert check_nest(nest_of(moved, problem), NO_SAW) == ()


def test_board_too_full_is_not_tried():
    need = Need("P", "any", Outline(box(0, 0, 490, 95), 20), ("oak",))
    problem = Problem([need], [Board("A", box(0, 0, 1000, 100), 30, "oak")], NO_SAW)
    crowder, rng = Crowder(problem), np.random.default_rng(0)
    assert crowder.inserted(BoardState(0, used_mm2=46_000), 0, rng) is not None
    assert crowder.inserted(BoardState(0, used_mm2=47_000), 0, rng) is None


def depth_at(x, y, is_over):
    """Return how deep a hole at (10, 20) is for a star at a place, and the way out."""
    wood = bare_wood((0, 0, 1, 1), 0.0)._replace(holes=np.array([[10.0, 20.0, 4.0, 8.0, 5.0]]))
    rings = holes_of_items.Rings(
        edges_of(STAR), np.array([0, 6]), edges_of(ZONE), np.array([0, 4]), np.array([0, 1])
    )
    return holes_of_items.hole_depth(wood, 0, rings, 0, 0.4, is_over, x, y)


ZONE = box(0, 0, 15, 30)
STAR = Polygon([(0, 0), (40, 5), (60, 50), (30, 30), (-20, 45), (-5, 20)])


@given(x=st.floats(-60, 100), y=st.floats(-60, 100), is_over=st.booleans())
def test_hole_costs_nothing_only_wholly_outside_or_soundly_inside(x, y, is_over):
    from shapely import affinity

    depth, _, _ = depth_at(x, y, is_over)
    star, lying_zone = (
        affinity.translate(
            affinity.rotate(
                affinity.scale(s, 1, -1, origin=(0, 0)) if is_over else s, 0.4, (0, 0),
                use_radians=True,
            ), x, y,
        )
        for s in (STAR, ZONE)
    )  # fmt: skip
    centre = Point(10, 20)
    is_outside = star.distance(centre) >= 4.0 - 1e-9
    is_sound = (
        star.contains(centre)
        and star.exterior.distance(centre) >= 8.0 - 1e-9
        and lying_zone.distance(centre) >= 5.0 - 1e-9
    )
    if depth <= 0.0:
        assert is_outside or is_sound
    elif depth > 1e-6:
        assert not (star.distance(centre) >= 4.0 + 1e-9)
        assert not is_sound


@pytest.mark.parametrize("is_over", [False, True])
def test_way_that_is_told_lessens_a_hole_s_depth_by_as_much_as_the_item_moves(is_over):
    """But where two edges are as near, and at corners."""
    step, wrong, tried = 1e-4, 0, 0
    for x, y in np.random.default_rng(1).uniform((-60, -60), (60, 60), (600, 2)):
        depth, way_x, way_y = depth_at(x, y, is_over)
        if depth > step:
            after, _, _ = depth_at(x + step * way_x, y + step * way_y, is_over)
            tried += 1
            wrong += after != pytest.approx(depth - step, abs=1e-7)
    assert tried > 40
    assert wrong <= 0.02 * tried


def edges_of(polygon):
    points = np.asarray(polygon.exterior.coords)
    return np.ascontiguousarray(np.hstack([points[:-1], points[1:]]))


@pytest.mark.parametrize("holes", [Holes.CLEAR, Holes.PLUGGED])
def test_crowded_part_keeps_its_rule_on_holes(holes):
    board = Board(
        "A", box(0, 0, 1000, 120), 30, "oak",
        keep_outs=tuple(circle(KeepOutKind.HOLE, x, 60, 6) for x in (250, 500, 750)),
    )  # fmt: skip
    need = Need("P", "any", Outline(box(0, 0, 700, 100), 20), ("oak",), holes=holes)
    problem = Problem([need], [board], NO_SAW)
    rng = np.random.default_rng(3)
    state = Crowder(problem).inserted(BoardState(0), 0, rng)
    if holes is Holes.CLEAR:
        assert state is None
    else:
        assert state is not None
        nest = nest_of(state, problem)
        assert check_nest(nest, NO_SAW) == ()
        assert len(nest.bungs(NO_SAW)) >= 1
