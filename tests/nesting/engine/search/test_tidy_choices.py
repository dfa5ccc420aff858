"""Which way of laying a board anew is taken, how many are tried, and when nothing is."""

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.search import tidy
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

RULES = Rules()


def job(count=2, nails=0, holes=0):
    """Return a problem of so many laths, and its board with all of them in a row."""
    need = Need("lath", "", Outline(box(0, 0, 100, 40), 20, slope_of_grain=12), ("teak",), count)
    flaws = [circle(KeepOutKind.METAL, 20 + 12 * k, 280, 4) for k in range(nails)]
    flaws += [circle(KeepOutKind.HOLE, 20 + 12 * k, 240, 4) for k in range(holes)]
    board = Board.rectangle("B", 120 * count + 600, 300, 30, "teak", keep_outs=flaws)
    problem = Problem([need], [board], RULES)
    figure, state = problem.figure(0, 0.0, is_over=False), BoardState(0)
    for number in range(count):
        state = state.with_part(Laid(0, figure, 5.0 + 115.0 * number, 5.0))
    return problem, state


class Ways:
    """Stand-ins for boards, each with how many come free and what is kept."""

    def __init__(self, monkeypatch, state, *worths):
        self.looked_at = []
        self.worths = {id(state): worths[0]}
        self.others = [BoardState(0) for _ in worths[1:]]
        self.worths |= {id(one): worth for one, worth in zip(self.others, worths[1:], strict=True)}
        monkeypatch.setattr(tidy, "_ways", lambda *_: iter(self.others))
        monkeypatch.setattr(tidy, "_weighed", self.weighed)
        monkeypatch.setattr(tidy, "_freed", lambda one, _: self.worths[id(one)][0])

    def weighed(self, state, _):
        self.looked_at.append(state)
        return self.worths[id(state)]


@pytest.mark.parametrize(
    ("worths", "taken"),
    [
        ([(0, 9.0), (1, 2.0), (1, 3.0)], 2),  # of two by which one comes free, what keeps more
        ([(0, 9.0), (1, 3.0), (1, 3.0)], 1),  # the first of two alike
        ([(1, 9.0), (1, 8.0), (0, 99.0)], 0),
        ([(1, 5.0), (0, 99.0), (1, 6.0)], 2),
        ([(0, 1.0), (0, 2.0)], 1),
    ],
)
def test_most_come_free_and_of_those_most_is_kept(monkeypatch, worths, taken):
    problem, state = job()
    ways = Ways(monkeypatch, state, *worths)
    found = tidy._tidied(state, problem, lambda: False)
    assert found is [state, *ways.others][taken]


def test_what_comes_free_worse_is_not_weighed(monkeypatch):
    """To find what may be kept takes longest."""
    problem, state = job()
    ways = Ways(monkeypatch, state, (1, 5.0), (0, 9.0), (1, 6.0))
    tidy._tidied(state, problem, lambda: False)
    assert ways.looked_at == [state, ways.others[1]]


def test_board_on_which_all_come_free_is_left_as_it_is(monkeypatch):
    problem, state = job()
    Ways(monkeypatch, state, (2, 5.0), (2, 9.0))
    assert tidy._tidied(state, problem, lambda: False) is state


@pytest.mark.parametrize(
    ("nails", "holes", "is_tried"), [(38, 0, True), (39, 0, False), (0, 60, True)]
)
def test_board_with_very_many_parts_and_nails_is_left_as_it_is(monkeypatch, nails, holes, is_tried):
    problem, state = job(2, nails, holes)
    ways = Ways(monkeypatch, state, (0, 5.0), (1, 9.0))
    found = tidy._tidied(state, problem, lambda: False)
    assert found is (ways.others[0] if is_tried else state)
    assert tidy.MOST_THINGS == 40


def test_no_more_ways_are_weighed_when_time_is_over(monkeypatch):
    problem, state = job()
    ways = Ways(monkeypatch, state, (0, 5.0), (1, 1.0), (2, 1.0))
    answers = iter([False, True])
    assert tidy._tidied(state, problem, lambda: next(answers)) is ways.others[0]


def ways_of(problem, state, is_over=lambda: False):
    return list(tidy._ways(state, problem, np.random.default_rng(0), is_over))


def test_orders_are_tried_first_and_then_parts_one_at_a_time_while_no_fewer_come_free(monkeypatch):
    problem, state = job()
    anew = iter([None, *(BoardState(0) for _ in range(tidy.TRIES - 1))])
    firsts, asked = [], []

    def laid_anew(*_, is_first):
        firsts.append(is_first)
        return next(anew)

    moves = [(1, BoardState(0)), (0, BoardState(0)), None, (1, BoardState(0))] + [None] * 6

    def best_with(others, laid, *_):
        asked.append((len(others.laid), laid))
        return moves[len(asked) - 1]

    monkeypatch.setattr(tidy, "_laid_anew", laid_anew)
    monkeypatch.setattr(tidy, "_best_with", best_with)
    monkeypatch.setattr(tidy, "_freed", lambda *_: 0)
    monkeypatch.setattr(BoardState, "without", lambda one, _: BoardState(0, state.laid[:1]))
    monkeypatch.setattr(tidy.np.random, "default_rng", np.random.default_rng)
    for _, moved in filter(None, moves):
        object.__setattr__(moved, "laid", state.laid)
    found = ways_of(problem, state)
    assert firsts == [True] + [False] * (tidy.TRIES - 1)
    assert len(asked) == tidy.MOVES
    assert {count for count, _ in asked} == {1}
    assert found[tidy.TRIES - 1 :] == [moves[0][1], moves[3][1]]


def test_nothing_is_moved_once_all_come_free_or_time_is_over(monkeypatch):
    problem, state = job()
    monkeypatch.setattr(tidy, "_best_with", lambda *_: pytest.fail("moved"))
    monkeypatch.setattr(tidy, "_laid_anew", lambda *_, is_first: BoardState(0))
    monkeypatch.setattr(tidy, "_freed", lambda *_: len(state.laid))
    assert len(ways_of(problem, state)) == tidy.TRIES
    assert ways_of(problem, state, lambda: True) == []


def test_parts_are_laid_anew_the_largest_first_and_then_in_an_order_drawn_by_lot():
    sizes = [(60, 30), (120, 70), (120, 60)]
    needs = [
        Need(f"P{n}", "", Outline(box(0, 0, *size), 20, slope_of_grain=12), ("teak",))
        for n, size in enumerate(sizes)
    ]
    problem = Problem(needs, [Board.rectangle("B", 900, 300, 30, "teak")], RULES)
    state = BoardState(0)
    for number in range(3):
        figure = problem.figure(number, 0.0, is_over=False)
        state = state.with_part(Laid(number, figure, 5.0 + 250 * number, 5.0))
    first = tidy._laid_anew(state, problem, np.random.default_rng(1), is_first=True)
    assert [laid.need for laid in first.laid] == [1, 2, 0]
    orders = {
        tuple(
            laid.need
            for laid in tidy._laid_anew(
                state, problem, np.random.default_rng(seed), is_first=False
            ).laid
        )
        for seed in range(30)
    }
    assert {(1, 2, 0), (2, 1, 0)} <= orders
    # A third of its size at the least: the smallest is never before the largest.
    assert all(order.index(1) < order.index(0) for order in orders)


def test_board_without_room_for_all_is_not_laid_anew():
    problem, state = job()
    narrow = Problem(problem.needs, [Board.rectangle("B", 110, 50, 30, "teak")], RULES)
    assert tidy._laid_anew(state, narrow, np.random.default_rng(0), is_first=True) is None


def test_sums_are_of_all_boards_as_they_were_and_as_they_are(monkeypatch):
    problem, state = job()
    empty, better = BoardState(0), BoardState(0, state.laid)
    worths = {id(state): (1, 10.0), id(better): (2, 7.0)}
    monkeypatch.setattr(tidy, "_weighed", lambda one, _: worths[id(one)])
    monkeypatch.setattr(tidy, "_tidied", lambda one, *_: better if one is state else one)
    plan = PlanState((state, empty, state), (3,))
    tidied, eased = tidy.tidied_plan(plan, problem)
    assert [one is better for one in tidied.states] == [True, False, True]
    assert tidied.states[1] is empty
    assert tidied.missing == (3,)
    assert (eased.freed_without, eased.freed) == (2, 4)
    assert (eased.kept_without_mm2, eased.kept_mm2) == (20.0, 14.0)
    assert eased.price_mm2 == 6.0
