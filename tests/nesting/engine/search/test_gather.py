"""Parts moved to one end of their board: which end, how near, and when the board stays as it is."""

import pytest
from shapely.geometry import Polygon, box

from nesting.engine.search import gather
from nesting.engine.search.gather import gathered, gathered_plan, largest_offcut_mm2
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

RULES = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0, least_offcut=LeastOffcut(200, 60))
NARROW_RIGHT = Polygon([(0, 0), (1000, 0), (2000, 8), (2000, 100), (0, 100)])
NARROW_LEFT = Polygon([(0, 8), (1000, 0), (2000, 0), (2000, 100), (0, 100)])


def laid_at(places, *, shape=None, size=(200.0, 90.0), keep_outs=(), turn=0.0):
    """Return a problem of one board and the state with parts at places; a part may be turned."""
    board = Board("A", shape or box(0, 0, 2000, 100), 30, "oak", keep_outs=keep_outs)
    need = Need("P", "any", Outline(box(0, 0, *size), 20), ("oak",), len(places))
    problem, state = Problem([need], [board], RULES), BoardState(0)
    figure = problem.figure(0, turn, is_over=False)
    for x, y in places:
        state = state.with_part(Laid(0, figure, x - figure.box[0], y - figure.box[1]))
    return problem, state


def lefts(state):
    return sorted(round(p.x_mm + p.figure.box[0], 3) for p in state.laid)


SPREAD = [(50.0 + 350.0 * k, 8.0) for k in range(5)]


@pytest.mark.parametrize("turn", [0.0, 180.0])
def test_parts_come_to_the_end_that_leaves_the_larger_offcut_one_behind_the_other(turn):
    """Five parts with 150 mm between them: one pass each way, from the end inward."""
    problem, state = laid_at(SPREAD, shape=NARROW_LEFT, turn=turn)
    assert lefts(gathered(state, problem)) == [0, 200, 400, 600, 800]
    problem, state = laid_at(SPREAD, shape=NARROW_RIGHT, turn=turn)
    assert lefts(gathered(state, problem)) == [1000, 1200, 1400, 1600, 1800]


def test_parts_that_lie_at_one_end_go_to_the_other_where_that_is_better():
    problem, state = laid_at([(0, 0), (200, 0)], shape=NARROW_RIGHT)
    assert lefts(gathered(state, problem)) == [1600, 1800]


def test_one_pass_is_enough_where_each_goes_as_far_as_the_one_before_it(monkeypatch):
    monkeypatch.setattr(gather, "PASSES", 1)
    for shape, ends in ((NARROW_LEFT, [0, 200, 400]), (NARROW_RIGHT, [1400, 1600, 1800])):
        problem, state = laid_at([(300, 8), (1400, 8), (800, 8)], shape=shape)
        assert lefts(gathered(state, problem)) == ends


def test_parts_come_to_the_lower_edge_as_well():
    problem, state = laid_at([(0, 10), (700, 4)])
    after = gathered(state, problem)
    assert lefts(after) == [0, 200]
    assert [p.y_mm + p.figure.box[1] for p in after.laid] == pytest.approx([0, 0])
    assert largest_offcut_mm2(after, problem) == pytest.approx(160_000)


@pytest.mark.parametrize(("gap", "is_moved"), [(10.0, False), (30.0, True)])
def test_a_board_is_left_alone_for_less_than_a_hundredth(gap, is_moved):
    """The offcut is 1600 mm long less the gap: one hundredth of it are 16 mm."""
    problem, state = laid_at([(0, 0), (200 + gap, 0)])
    after = gathered(state, problem)
    assert (after is not state) == is_moved
    assert lefts(after) == ([0, 200] if is_moved else [0, 210])


def test_what_was_not_gathered_to_the_end_is_not_taken():
    problem, state = laid_at([(700, 0)])
    asked = iter([False, False, *[True] * 99])
    assert gathered(state, problem, lambda: next(asked)) is state
    assert gathered(state, problem) is not state


@pytest.mark.parametrize(("seconds", "is_moved"), [(3.0, True), (2.9, False)])
def test_boards_that_take_longer_than_there_is_time_are_passed_over(monkeypatch, seconds, is_moved):
    """Two keep-outs, three looks for offcuts, half a second each."""
    monkeypatch.setattr(gather, "A_KEEP_OUT", 0.5)
    specks = tuple(circle(KeepOutKind.METAL, x, 97, 2) for x in (1200, 1300))
    problem, state = laid_at([(700, 0)], size=(200.0, 60.0), keep_outs=specks)
    plan = gathered_plan(PlanState((state,), (0,)), problem, seconds_left=lambda: seconds)
    assert (plan.states[0] is not state) == is_moved
    assert plan.missing == (0,)
    over = gathered_plan(PlanState((state,), (0,)), problem, lambda: True, lambda: 99.0)
    assert over.states[0] is state


def test_nothing_is_asked_of_an_empty_board():
    problem, _ = laid_at([(700, 0)])
    empty = PlanState((BoardState(0),), (1,))
    assert gathered_plan(empty, problem).states[0] is empty.states[0]
    assert largest_offcut_mm2(empty.states[0], problem) == pytest.approx(200_000)
