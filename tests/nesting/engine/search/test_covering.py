from itertools import product

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
