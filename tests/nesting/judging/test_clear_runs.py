"""Clear runs: against every case counted out, against closed form and against drawing by lot."""

from itertools import product

import numpy as np
import pytest

from nesting.judging.clear_runs import Places


def runs_of(length, places, blocked):
    """Return the clear runs of one case: an independent walk along the piece."""
    found, begin = [], 0.0
    for (at, half), is_blocked in zip(places, blocked, strict=True):
        if is_blocked:
            found.append(max(0.0, at - half - begin))
            begin = max(begin, at + half)
    return [*found, max(0.0, length - begin)]


def runs_over(made, length):
    """Return how many clear runs of at least a length are to be expected."""
    return float(made._chance[made._runs >= length].sum())


def counted_out(length, places, chances, measure):
    """Return what is to be expected, by going through all cases."""
    total = 0.0
    for blocked in product((False, True), repeat=len(places)):
        odds = np.prod([q if b else 1 - q for q, b in zip(chances, blocked, strict=True)])
        total += odds * measure(runs_of(length, places, blocked))
    return total


@pytest.mark.parametrize("seed", range(4))
def test_expectations_are_those_of_all_cases_counted_out(seed):
    chance = np.random.default_rng(seed)
    length = 2000.0
    places = [(at, chance.uniform(5, 30)) for at in chance.uniform(50, 1950, 5)]
    # Stretches that may be rotten, wide, side by side, some with those places in them.
    places += [(250.0, 250.0), (750.0, 250.0), (1250.0, 250.0), (1750.0, 250.0)]
    places.sort(key=lambda place: place[0] - place[1])
    odds = chance.uniform(0.1, 0.9, len(places))
    made = Places(length, *zip(*places, strict=True), odds)
    assert runs_over(made, 300.0) == pytest.approx(
        counted_out(length, places, odds, lambda runs: sum(run >= 300.0 for run in runs))
    )
    assert made.expected_pieces(250.0, 4.0) == pytest.approx(
        counted_out(length, places, odds, lambda runs: sum((r + 4.0) // 254.0 for r in runs))
    )
    assert made.expected_length() == pytest.approx(counted_out(length, places, odds, sum))
    assert made.expected_length(300.0) == pytest.approx(
        counted_out(length, places, odds, lambda runs: sum(r for r in runs if r >= 300.0))
    )
    assert made.mean_longest() == pytest.approx(counted_out(length, places, odds, max))


def test_regular_places_give_runs_of_the_geometric_distribution():
    """Between two stuck fasteners k spaces lie with chance q (1 - q)^(k - 1): closed form."""
    spacing, q, count = 300.0, 0.25, 400
    places = [(k + 0.5) * spacing for k in range(count)]
    made = Places(count * spacing, places, [0.0] * count, [q] * count)
    for k in (1, 2, 3, 5):
        found = runs_over(made, (k - 0.5) * spacing) / (count * q)
        assert found == pytest.approx((1 - q) ** (k - 1), rel=0.02)


def test_places_at_random_give_runs_of_the_poisson_process():
    """On a length L with rate r, (1 + r (L - l)) exp(-r l) gaps are over l: closed form."""
    chance, length, rate = np.random.default_rng(7), 4000.0, 1 / 400.0
    found = []
    for _ in range(4000):
        at = chance.uniform(0.0, length, chance.poisson(rate * length))
        found.append(runs_over(Places(length, at, [0.0] * len(at), [1.0] * len(at)), 600.0))
    closed = (1 + rate * (length - 600.0)) * np.exp(-rate * 600.0)
    assert np.mean(found) == pytest.approx(closed, abs=4 * np.std(found) / np.sqrt(len(found)))


def test_no_more_wood_is_clear_than_is_sound():
    """Screws in a rotten stretch end no run that begins there: the stretch is lost as a whole."""
    stretches = [(k + 0.5) * 500.0 for k in range(8)]
    screws = [(k + 0.5) * 240.0 for k in range(16)]
    made = Places(
        4000.0, [*stretches, *screws], [250.0] * 8 + [4.0] * 16, [0.4] * 8 + [1.0] * 16
    )  # fmt: skip
    assert made.expected_length() == pytest.approx(0.6 * (4000.0 - 16 * 8.0))


def test_nothing_in_the_way_leaves_the_whole_piece():
    made = Places(1500.0, [], [], [])
    assert made.mean_longest() == 1500.0
    assert made.expected_pieces(499.0, 1.5) == 3.0


def test_run_just_as_long_as_is_asked_for_is_one():
    made = Places(1500.0, [1000.0], [100.0], [1.0])
    assert runs_over(made, 900.0) == pytest.approx(1)
    assert runs_over(made, 400.0) == pytest.approx(2)
    assert made.expected_length(900.0) == pytest.approx(900)


def test_longest_of_very_many_runs_is_known_to_a_part_in_many():
    at = np.sort(np.random.default_rng(3).uniform(0.0, 1e5, 500))
    longest = np.diff([0.0, *at, 1e5]).max()
    made = Places(1e5, at, [0.0] * 500, [1.0] * 500)
    assert made.mean_longest() == pytest.approx(longest, rel=0.01)


def test_place_that_reaches_over_an_end_of_the_piece_leaves_no_run_beyond_it():
    made = Places(1000.0, [-20.0, 10.0, 990.0, 1030.0], [5.0, 50.0, 50.0, 5.0], [1.0] * 4)
    assert made.expected_length() == pytest.approx(940 - 60)
    assert runs_over(made, 1.0) == pytest.approx(1)
