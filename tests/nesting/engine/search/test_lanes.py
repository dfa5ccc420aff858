"""One lane: what it tries how often, what it goes on from, and what it tells."""

from collections import Counter

import numpy as np
import pytest
from shapely.geometry import box

from nesting.engine.search import lanes
from nesting.engine.search.lanes import CHAIN, CROWD, FILL, SQUEEZE, Searcher, Stretch, reached
from nesting.engine.state.plain_numbers import parts_of, written
from nesting.engine.state.plan_state import PlanState, cost, empty_plan, outlay
from nesting.need import Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)


@pytest.fixture
def searcher():
    lengths = (500, 400, 300)
    needs = [
        Need(f"P{i}", "any", Outline(box(0, 0, long, 100), 20), ("oak",), value=float(i + 1))
        for i, long in enumerate(lengths)
    ]
    boards = [Board(f"B{i}", box(0, 0, 1000, 100), 30, "oak") for i in range(3)]
    return Searcher(needs, boards, NO_SAW)


def plan_of(searcher, *rows):
    """Return the plan with some needs on each board."""
    plan = empty_plan(searcher.problem)
    for board, needs in enumerate(rows):
        for need in needs:
            state = plan.states[board]
            plan = plan.with_state(state.with_part(state.spot(need, searcher.problem)))
    return plan


def stretch_from(plan, rounds, used, **given):
    rows = written(plan)
    return Stretch(0, rows, rows, rounds, 0, used, may_crowd=True, seed=1, **given)


def walked(searcher, begin, plans, used, **given):
    """Return where a lane comes that meets some plans, and from which of them it went on."""
    came_from, coming = [], iter(plans)

    def another(current, *_):
        came_from.append(written(current))
        return next(coming)

    searcher._another = another
    found = searcher.search(stretch_from(begin, len(plans), used, **given))
    return found, came_from


def test_a_cold_lane_goes_on_from_what_is_better_alone_and_keeps_the_best(searcher):
    spread = plan_of(searcher, [0], [1], [2])
    worse, better = plan_of(searcher, [0], [1]), plan_of(searcher, [0, 1], [2])
    alike = plan_of(searcher, [2], [0, 1])
    plans = [worse, better, alike, spread]
    found, came_from = walked(searcher, spread, plans, (1.0, 1.0))
    assert came_from == [written(p) for p in (spread, spread, better, better)]
    assert found.best == found.current == written(better)
    assert found.best_outlay == outlay(better, searcher.problem)
    assert found.rounds == 4
    states = {(state.board, parts_of(state)) for p in plans for state in p.states if state.laid}
    assert set(found.met) == states
    assert len(found.met) == len(states)


def test_a_warm_lane_goes_on_from_what_is_a_little_dearer_now_and_then(searcher):
    """Dearer by 6,250 mm2: the last part on a board of its own. Warmth is up to 15,000 mm2."""
    one, other = plan_of(searcher, [0, 1], [2]), plan_of(searcher, [0, 2], [1])
    dearer = cost(other, searcher.problem) - cost(one, searcher.problem)
    assert 0 < dearer < 0.15 * 100_000
    _, came_from = walked(searcher, one, [other] * 300, (0.0, 0.0))
    # Once it has gone on from there it needs no luck to go on.
    assert came_from[0] == written(one)
    taken = []
    for seed in range(150):
        rows = written(one)
        stretch = Stretch(0, rows, rows, 1, 0, (0.5, 1.0), may_crowd=True, seed=seed)
        searcher._another = lambda *_: other
        taken.append(searcher.search(stretch).current == written(other))
    chance = max(0.0, 1 - dearer / (0.15 * 0.5**2 * 100_000))
    assert sum(taken) / 150 == pytest.approx(chance, abs=0.12)
    missing = plan_of(searcher, [0, 1])
    found, _ = walked(searcher, one, [missing] * 20, (0.0, 0.0))
    assert found.current == found.best == written(one)


def test_a_lane_ends_when_it_is_told_or_its_seconds_are_over(searcher):
    plan = plan_of(searcher, [0], [1], [2])
    found = searcher.search(stretch_from(plan, 5, (0.0, 1.0)), lambda: True)
    assert (found.rounds, found.current, found.met) == (0, written(plan), ())
    found, _ = walked(searcher, plan, [plan] * 5, (0.0, 1.0), seconds=0.0, seconds_left=9.0)
    assert found.rounds == 0


@pytest.fixture
def tried(monkeypatch):
    """Let a lane choose what to try, and note it instead of trying it."""
    noted = Counter()

    def note(name, answer):
        def noting(*given):
            noted[name] += 1
            return answer(*given)

        monkeypatch.setattr(lanes, name, noting)

    note("squeezed", lambda *_: None)
    note("chained", lambda plan, emptied, *_: noted.update([f"emptied {emptied}"]) or plan)
    note("cleared", lambda plan, *_: (plan, []))
    note("refilled", lambda plan, *_: plan)
    note("ruined", lambda plan, *_: plan)
    note("badly_filled", lambda *_: 1)
    note(
        "recreated", lambda plan, p, r, crowder, *_: noted.update([f"room {bool(crowder)}"]) or plan
    )
    return noted


def another(searcher, plan, times=2000, crowder=True):
    rng = np.random.default_rng(1)
    made = [
        searcher._another(plan, None, rng, searcher._crowder if crowder else None, lambda: False)
        for _ in range(times)
    ]
    assert all(isinstance(one, PlanState) for one in made)


def shares(noted, *names, of=2000):
    return [noted[name] / of for name in names]


def test_rounds_are_shared_out_as_was_measured_to_be_good(searcher, tried):
    another(searcher, plan_of(searcher, [0], [1]))
    assert shares(tried, "squeezed", "chained") == pytest.approx([SQUEEZE, CHAIN], abs=0.03)
    assert shares(tried, "cleared", "ruined") == pytest.approx(
        [(1 - CHAIN) * FILL, (1 - CHAIN) * (1 - FILL)], abs=0.03
    )
    assert shares(tried, "recreated", "refilled") == pytest.approx([1.0, tried["cleared"] / 2000])
    crowded = (1 - CHAIN) * (FILL + (1 - FILL) * CROWD)
    assert shares(tried, "room True") == pytest.approx([crowded], abs=0.03)
    # Half of the chains are to place what is missing.
    assert shares(tried, "emptied None", "emptied 1") == pytest.approx([CHAIN / 2] * 2, abs=0.03)
    assert 0 < tried["squeezed"] < 120


def test_nothing_is_squeezed_in_where_all_is_placed_and_nothing_chained_where_none_is(
    searcher, tried
):
    another(searcher, plan_of(searcher, [0, 1], [2]), 300)
    assert tried["squeezed"] == tried["emptied None"] == 0
    assert tried["chained"] == tried["emptied 1"] > 0
    tried.clear()
    another(searcher, empty_plan(searcher.problem), 300)
    assert tried["chained"] == 0
    tried.clear()
    another(searcher, plan_of(searcher, [0]), 300, crowder=False)
    assert tried["squeezed"] == tried["room True"] == 0


def test_what_is_squeezed_in_is_the_round_and_no_room_is_sought_for_many_parts_left(
    searcher, tried, monkeypatch
):
    plan, full = plan_of(searcher, [0]), plan_of(searcher, [0, 1], [2])
    monkeypatch.setattr(lanes, "SQUEEZE", 1.0)
    monkeypatch.setattr(lanes, "squeezed", lambda *_: full)
    rng = np.random.default_rng(1)
    given = None, rng, searcher._crowder, lambda: False
    assert searcher._another(plan, *given) is full
    monkeypatch.setattr(lanes, "CHAIN", 0.0)
    monkeypatch.setattr(lanes, "FILL", 1.0)
    for late, is_tried in ((2, True), (3, False)):
        lost = PlanState(full.states, (late, 0, 0))
        monkeypatch.setattr(lanes, "refilled", lambda *_, lost=lost: lost)
        tried.clear()
        assert searcher._another(full, *given) is lost
        assert (tried["recreated"] == 1) == is_tried


def test_the_first_plan_places_dear_parts_first_and_says_where_it_stands(searcher):
    found = searcher.construct(is_quick=False)
    assert [[row[0] for row in parts] for parts in found.best] == [[2, 1], [0], []]
    plan = plan_of(searcher, [2, 1], [0])
    assert found == reached(plan, searcher.problem)
    assert found.best_outlay == outlay(plan, searcher.problem)
    assert searcher.construct(is_quick=True, is_over=lambda: True).met == ()


def test_a_lane_makes_room_only_where_it_may_and_tells_only_what_it_met_itself(searcher):
    plan, given = plan_of(searcher, [0, 1], [2]), []
    other = plan_of(searcher, [2])

    def another(current, prices, rng, crowder, is_over):
        given.append((crowder is not None, prices))
        searcher._filler.met.append(plan.states[1])
        return other

    searcher._another = another
    for may_crowd in (True, False):
        searcher._filler.met.append(plan.states[0])  # left from an earlier stretch
        rows = written(plan)
        stretch = Stretch(0, rows, rows, 1, 0, (0, 1), may_crowd=may_crowd, seed=1, prices=(7.0,))
        met = searcher.search(stretch).met
        assert [board for board, _ in met] == [0, 1]
        assert [row[0] for _, parts in met for row in parts] == [2, 2]
    assert given == [(True, (7.0,)), (False, (7.0,))]


def test_warmth_falls_from_round_to_round(searcher):
    """The second of two rounds is half way, and a quarter as warm."""
    one, other = plan_of(searcher, [0, 1], [2]), plan_of(searcher, [0, 2], [1])
    taken = Counter()
    for seed in range(200):
        rows, coming = written(one), iter([one, other])
        stretch = Stretch(0, rows, rows, 2, 0, (0.0, 1.0), may_crowd=True, seed=seed)
        searcher._another = lambda *_, coming=coming: next(coming)
        taken[searcher.search(stretch).current == written(other)] += 1
    dearer = cost(other, searcher.problem) - cost(one, searcher.problem)
    chance = max(0.0, 1 - dearer / (0.15 * 0.25 * 100_000))
    assert taken[True] / 200 == pytest.approx(chance, abs=0.1)
