from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest

from nesting.engine.search import covering
from nesting.engine.search.covering import Columns, Wanted, best_cover

DEAR = 100.0


def random_case(rng, boards=4, needs=5, count=14):
    columns = Columns(
        rng.integers(boards, size=count),
        rng.integers(3, size=(count, needs)),
        rng.uniform(0.2, 0.7, count),
    )
    return columns, Wanted(rng.integers(1, 4, needs).astype(float), np.full(needs, DEAR))


def cost_of(chosen, columns, wanted):
    placed = columns.counts[list(chosen)].sum(axis=0) if len(chosen) else 0
    missing = np.maximum(wanted.copies - placed, 0)
    return columns.cost[list(chosen)].sum() + missing @ wanted.missing_cost


def cheapest_by_trying_all(columns, wanted):
    """Return the least cost over every choice of at most one filling on each board."""
    on_board = [[None, *np.flatnonzero(columns.board == b)] for b in np.unique(columns.board)]
    choices = ([i for i in choice if i is not None] for choice in product(*on_board))
    return min(cost_of(choice, columns, wanted) for choice in choices)


@pytest.mark.parametrize("seed", range(12))
def test_the_choice_is_as_cheap_as_trying_all(seed):
    columns, wanted = random_case(np.random.default_rng(seed))
    cover = best_cover(columns, wanted, np.inf)
    assert len(set(columns.board[list(cover.chosen)])) == len(cover.chosen)
    least = cheapest_by_trying_all(columns, wanted)
    assert cost_of(cover.chosen, columns, wanted) == pytest.approx(least, abs=1e-9)


def test_nothing_is_chosen_that_does_not_beat_what_is_known():
    columns, wanted = random_case(np.random.default_rng(3))
    least = cheapest_by_trying_all(columns, wanted)
    assert best_cover(columns, wanted, least).chosen is None
    assert best_cover(columns, wanted, least + 0.01).chosen is not None


def test_a_missing_part_is_dearer_than_any_wood():
    columns = Columns(np.array([0, 1]), np.array([[1], [1]]), np.array([0.2, 90.0]))
    cover = best_cover(columns, Wanted(np.array([2.0]), np.array([DEAR])), np.inf)
    assert cover.chosen == (0, 1)


def test_prices_are_what_one_more_copy_takes():
    """Two planks for a part each, at 0.3 and 0.5 m2: the second copy takes the dearer plank."""
    columns = Columns(np.array([0, 1]), np.array([[1], [1]]), np.array([0.3, 0.5]))
    one = best_cover(columns, Wanted(np.array([0.5]), np.array([DEAR])), np.inf)
    two = best_cover(columns, Wanted(np.array([1.5]), np.array([DEAR])), np.inf)
    assert (one.prices[0], two.prices[0]) == pytest.approx((0.3, 0.5))


def test_a_choice_among_the_fillings_nearest_to_paying_is_still_one(monkeypatch):
    monkeypatch.setattr(covering, "MOST_FILLINGS", 6)
    monkeypatch.setattr(covering, "MOST_A_BOARD", 1)
    columns, wanted = random_case(np.random.default_rng(5), count=40)
    cover = best_cover(columns, wanted, np.inf)
    assert cost_of(cover.chosen, columns, wanted) < cost_of([], columns, wanted)


def test_what_no_filling_places_is_missing_and_the_rest_is_chosen():
    columns = Columns(np.array([0, 1]), np.array([[1, 0], [1, 0]]), np.array([0.3, 0.2]))
    wanted = Wanted(np.array([1.0, 2.0]), np.array([DEAR, DEAR]))
    assert best_cover(columns, wanted, np.inf).chosen == (1,)
    assert best_cover(columns, wanted, 2 * DEAR + 0.2).chosen is None
    assert best_cover(columns, wanted, 2 * DEAR + 0.21).chosen == (1,)


def test_a_part_that_is_cheaper_to_miss_than_its_wood_is_left_over():
    columns = Columns(np.array([0]), np.array([[1]]), np.array([0.3]))
    assert best_cover(columns, Wanted(np.array([1.0]), np.array([0.1])), np.inf).chosen == ()
    assert best_cover(columns, Wanted(np.array([1.0]), np.array([0.4])), np.inf).chosen == (0,)


def asked_of_the_whole_programme(monkeypatch, columns, wanted, known_cost, seconds=None):
    """Return how many fillings come into the programme in whole numbers, and its seconds."""
    seen = []

    def noted(some, wanted, known_cost, left):
        seen.append((len(some.board), left))

    monkeypatch.setattr(covering, "_whole", noted)
    best_cover(columns, wanted, known_cost, seconds)
    return seen[0]


def test_fillings_dearer_by_fractions_than_all_there_is_to_gain_are_left_out(monkeypatch):
    """The second takes 0.5 m2 more than the least."""
    columns = Columns(np.array([0, 1]), np.array([[1], [1]]), np.array([1.0, 1.5]))
    wanted = Wanted(np.array([1.0]), np.array([DEAR]))
    asked = [asked_of_the_whole_programme(monkeypatch, columns, wanted, c)[0] for c in (1.3, 1.6)]
    assert asked == [1, 2]


@pytest.mark.parametrize(("most", "a_board", "kept"), [(6, 4, 16), (20, 4, 20), (6, 1, 6)])
def test_so_many_fillings_or_so_many_a_board_come_into_it(monkeypatch, most, a_board, kept):
    monkeypatch.setattr(covering, "MOST_FILLINGS", most)
    monkeypatch.setattr(covering, "MOST_A_BOARD", a_board)
    columns, wanted = random_case(np.random.default_rng(5), count=40)
    assert asked_of_the_whole_programme(monkeypatch, columns, wanted, np.inf)[0] == kept


def test_the_whole_programme_has_the_time_that_fractions_leave(monkeypatch):
    clock = iter((100.0, 100.75))
    monkeypatch.setattr(covering, "time", SimpleNamespace(monotonic=lambda: next(clock)))
    columns, wanted = random_case(np.random.default_rng(5))
    assert asked_of_the_whole_programme(monkeypatch, columns, wanted, np.inf, 2.0)[1] == 1.25
    assert covering._limit(1.25) == {"time_limit": 1.25}
    assert covering._limit(-3.0) == {"time_limit": 0.0}
    assert covering._limit(None) == {}
