"""Parts taken off badly filled boards, and what is tried in their place."""

from collections import Counter

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.search import ruin
from nesting.engine.search.ruin import (
    LEAST_ATTEMPTS,
    LEAST_BEGINNINGS,
    LEAST_UNUSED,
    MOST_ATTEMPTS,
    MOST_BEGINNINGS,
    MOST_BESIDE,
    badly_filled,
    cleared,
    recreated,
    refilled,
    ruined,
    squeezed,
)
from nesting.engine.state.plan_state import PlanState, empty_plan
from nesting.engine.state.problem import Problem
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


def plan_of(boards, *, missing=(), stock=("oak", 1000.0), closed=()):
    """Return a plan with parts of given lengths on each board, and the problem.

    Species of boards by their number; ``missing`` are further parts, ``closed`` boards more.
    """
    lengths = [length for row in boards for length in row] + list(missing)
    species = ["teak" if row and row[0] < 0 else stock[0] for row in boards]
    owners = [species[b] for b, row in enumerate(boards) for _ in row]
    kinds = [*owners, *[stock[0]] * len(missing)]
    needs = [
        Need(f"P{i}", "any", Outline(box(0, 0, abs(length), 100), 20), (kind,), value=1.0)
        for i, (length, kind) in enumerate(zip(lengths, kinds, strict=True))
    ]
    wood = [Board(f"B{i}", box(0, 0, stock[1], 100), 30, kind) for i, kind in enumerate(species)]
    wood += [Board(f"C{i}", box(0, 0, long, 100), 30, stock[0]) for i, long in enumerate(closed)]
    problem = Problem(needs, wood, NO_SAW)
    plan, number = empty_plan(problem), 0
    for b, row in enumerate(boards):
        for _ in row:
            spot = plan.states[b].spot(number, problem)
            plan, number = plan.with_state(plan.states[b].with_part(spot)), number + 1
    return plan, problem


def test_boards_are_chosen_as_often_as_they_have_wood_unused():
    plan, problem = plan_of([[900], [300], []])
    rng = np.random.default_rng(1)
    chosen = Counter(badly_filled(plan, None, problem, rng) for _ in range(800))
    assert set(chosen) == {0, 1}
    assert chosen[1] == pytest.approx(700, abs=40)


def test_where_prices_are_known_wood_is_unused_beyond_what_the_parts_are_worth():
    """By area 100 and 700 of 1000 are unused; by these prices 800 and 50, which is the least."""
    plan, problem = plan_of([[900], [300]])
    rng = np.random.default_rng(2)
    prices = [20_000.0, 99_000.0]
    chosen = Counter(badly_filled(plan, prices, problem, rng) for _ in range(850))
    least = LEAST_UNUSED * 100_000 / (80_000 + LEAST_UNUSED * 100_000)
    assert chosen[1] == pytest.approx(850 * least, abs=25)


def test_full_boards_may_be_chosen_too():
    plan, problem = plan_of([[1000], [1000]])
    rng = np.random.default_rng(3)
    assert {badly_filled(plan, None, problem, rng) for _ in range(40)} == {0, 1}


def taken_from(plan, after):
    """Return how many parts each board lost; nothing else may have changed."""
    lost = {}
    for before, now in zip(plan.states, after.states, strict=True):
        kept = {id(laid) for laid in before.laid}
        assert all(id(laid) in kept for laid in now.laid)
        if len(now.laid) < len(before.laid):
            lost[before.board] = (len(before.laid) - len(now.laid), len(before.laid))
    on_boards = Counter(laid.need for state in after.states for laid in state.laid)
    assert all(count + on_boards[n] == 1 for n, count in enumerate(after.missing))
    return lost


ROWS = [[300, 200, 100], [200, 200], [100, 100, 100, 100], [500], [400, 300], [-300, -200]]
OAK = set(range(5))


def test_a_board_is_emptied_and_up_to_three_of_its_kin_lose_some_parts():
    plan, problem = plan_of(ROWS, closed=(900.0,))
    rng = np.random.default_rng(4)
    counts, shares = Counter(), Counter()
    for _ in range(400):
        lost = taken_from(plan, ruined(plan, None, problem, rng))
        whole = [board for board, (gone, size) in lost.items() if gone == size]
        assert whole
        assert set(lost) <= OAK or set(lost) == {5}
        counts[len(lost)] += set(lost) <= OAK
        shares["some"] += any(gone < size for gone, size in lost.values())
        shares["all of another"] += len(whole) > 1
    assert set(counts) == {1, 2, 3, 4}
    assert [counts[n] / counts.total() for n in (1, 2, 3, 4)] == pytest.approx([0.25] * 4, abs=0.06)
    assert min(shares.values()) > 30


def test_a_partner_loses_all_its_parts_or_any_number_of_them(monkeypatch):
    """All four in 0.4 + 0.6 / 4 of the cases, one to three in 0.15 each."""
    monkeypatch.setattr(ruin, "badly_filled", lambda *_: 0)
    plan, problem = plan_of(ROWS)
    rng = np.random.default_rng(4)
    lost = [taken_from(plan, ruined(plan, None, problem, rng)) for _ in range(400)]
    gone = Counter(some[2][0] for some in lost if 2 in some)
    shares = [gone[n] / gone.total() for n in (1, 2, 3, 4)]
    assert shares == pytest.approx([0.15, 0.15, 0.15, 0.55], abs=0.08)
    assert all(some[0] == (3, 3) for some in lost)


def test_nothing_opened_is_nothing_to_take_off():
    plan, problem = plan_of([[], []], missing=[300])
    rng = np.random.default_rng(5)
    assert ruined(plan, None, problem, rng) is plan
    assert cleared(plan, None, problem, rng) == (plan, [])
    nothing_missing, problem = plan_of([[300]])
    assert squeezed(nothing_missing, problem, rng, Squeezing()) is None


def test_cleared_boards_and_a_few_closed_ones_of_their_kind_are_to_be_filled():
    plan, problem = plan_of(ROWS, closed=(900.0, 800.0, 700.0, 50.0))
    rng = np.random.default_rng(6)
    opened, beside, orders = Counter(), Counter(), set()
    for _ in range(200):
        after, boards = cleared(plan, None, problem, rng)
        lost = taken_from(plan, after)
        assert all(gone == size for gone, size in lost.values())
        assert len(set(boards)) == len(boards)
        closed = set(boards) - set(lost)
        assert set(lost) <= OAK or (set(lost), closed) == ({5}, set())
        assert closed <= {6, 7, 8}  # what is too short for all of them is not filled
        if set(lost) <= OAK:
            opened[len(lost)] += 1
            beside[len(closed)] += 1
            orders.add(boards[0] in lost)
    assert set(opened) == {1, 2, 3, 4, 5}
    assert opened[1] == pytest.approx(0.25 * opened.total(), abs=20)
    assert opened[4] == pytest.approx(0.75**3 * 0.25 * opened.total(), abs=15)
    assert set(beside) == set(range(MOST_BESIDE + 1))
    assert orders == {True, False}


class Filling:
    """Stand in for what fills boards: notes what it is asked, and leaves the board empty."""

    def __init__(self):
        self.asked = []

    def filled(self, board, wanted, width, rng, is_over):
        self.asked.append((board, tuple(wanted), width))
        return nothing_on(board)


def nothing_on(board):
    from nesting.engine.state.board_state import BoardState

    return BoardState(board)


@pytest.mark.parametrize(
    ("boards", "widths"),
    [(2, {128, 256, 512, 1024}), (10, {128, 204}), (100, {20}), (1000, {4})],
)
def test_fewer_beginnings_are_kept_at_a_time_where_there_are_many_boards(boards, widths):
    plan, _ = plan_of([[300]])
    plan = PlanState(tuple(nothing_on(b) for b in range(boards)), plan.missing)
    filler, rng = Filling(), np.random.default_rng(7)
    for _ in range(60):
        after = refilled(plan, [0, 1], filler, rng, lambda: False)
        assert len(after.states) == boards
    assert {width for *_, width in filler.asked} == widths
    assert [board for board, *_ in filler.asked[:4]] == [0, 1, 0, 1]
    few = sum(width == min(widths) for *_, width in filler.asked)
    assert len(widths) == 1 or few == pytest.approx(60, abs=18)
    assert LEAST_BEGINNINGS <= MOST_BEGINNINGS


def test_what_is_missing_is_tried_again_and_no_more():
    plan, problem = plan_of([[600], [500]], missing=[450, 300, 2000])
    rng = np.random.default_rng(8)
    found = [recreated(plan, problem, rng, None) for _ in range(12)]
    assert max(sum(len(state.laid) for state in after.states) for after in found) == 4
    for after in found:
        assert after.missing[4] == 1
        assert all(count >= 0 for count in after.missing)
        assert {laid.need for laid in after.states[0].laid} >= {0}
    starts = {
        laid.x_mm + laid.figure.box[0]
        for after in found for state in after.states for laid in state.laid if laid.need >= 2
    }  # fmt: skip
    assert len(starts) > 3  # they drift to either end
    assert recreated(plan, problem, rng, None, lambda: True).missing == plan.missing


class Squeezing:
    """Stand in for what squeezes parts in: notes what it is asked; a board holds so much."""

    def __init__(self, room=1e9, answer=None):
        self.room, self.answer, self.asked = room, answer, []

    def may_fit(self, state, needs):
        return len(needs) <= self.room

    def squeezed(self, state, needs, stall, rng, is_over):
        self.asked.append((state, list(needs), stall))
        return self.answer


def test_missing_parts_are_squeezed_in_alone_or_all_together():
    plan, problem = plan_of([[600], [500], [-400]], missing=[450, 350, 2000])
    crowder, rng = Squeezing(), np.random.default_rng(9)
    for _ in range(200):
        assert squeezed(plan, problem, rng, crowder) is None
    states, needs, stalls = zip(*crowder.asked, strict=True)
    assert {state.board for state in states} == {0, 1}
    anew = [n for state, n in zip(states, needs, strict=True) if not state.laid]
    kept = [n for state, n in zip(states, needs, strict=True) if state.laid]
    assert len(anew) == pytest.approx(200 * ruin.ANEW, abs=20)
    assert {tuple(sorted(n)) for n in kept} == {(3,), (4,), (3, 4)}
    alone = sum(len(n) == 1 for n in kept)
    assert alone == pytest.approx(len(kept) * ruin.ALL, abs=25)
    assert {n[0] for n in anew} == {0, 1}  # what lay there before comes first
    assert all(set(n[1:]) <= {3, 4} and len(n) > 1 for n in anew)
    patient = {s for s, state in zip(stalls, states, strict=True) if state.laid}
    assert patient == {LEAST_ATTEMPTS, 2 * LEAST_ATTEMPTS, MOST_ATTEMPTS}
    assert {s for s, state in zip(stalls, states, strict=True) if not state.laid} == {MOST_ATTEMPTS}


def test_only_so_many_are_squeezed_in_as_may_fit_and_the_plan_has_them():
    plan, problem = plan_of([[600]], missing=[450, 350])
    full, rng = Squeezing(room=0), np.random.default_rng(10)
    assert squeezed(plan, problem, rng, full) is None
    assert full.asked == []
    lying = nothing_on(0).with_part(plan.states[0].laid[0])
    crowder = Squeezing(room=1, answer=lying)
    after = squeezed(plan, problem, rng, crowder)
    assert after.states[0] is lying
    assert after.missing == plan.missing
    assert all(sum(n > 0 for n in needs) == 1 for _, needs, _ in crowder.asked)
