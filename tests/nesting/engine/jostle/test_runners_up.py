"""Where a search goes on from after a failed attempt."""

import numpy as np
from scenes import SQUARE, shape_of
from shapely import affinity

from nesting.engine.jostle.runners_up import MOST, Nearly, disturbed, go_on_from, with_another


def test_the_least_overlapping_layouts_are_kept_and_none_twice():
    nearly = []
    for overlap in [5.0, 3.0, 3.01, *np.linspace(10, 30, 12)]:
        nearly = with_another(nearly, Nearly(float(overlap), f"layout of {overlap:.2f}"))
    overlaps = [known.overlap for known in nearly]
    assert overlaps[:2] == [3.0, 5.0]
    assert len(overlaps) == MOST
    assert overlaps == sorted(overlaps)
    assert max(overlaps) < 25.0


def test_the_search_goes_on_from_the_best_now_and_then_and_mostly_from_little_overlap():
    nearly = [Nearly(float(k), f"layout {k}") for k in range(8)]
    rng = np.random.default_rng(4)
    chosen = [go_on_from("best", nearly, rng) for _ in range(1000)]
    counts = [chosen.count(name) for name in ["best", *(one.layout for one in nearly)]]
    assert 150 < counts[0] < 250
    assert counts[1] > counts[3] > counts[6]


def test_a_disturbance_exchanges_the_middles_of_two_unlike_items_or_throws_a_few():
    shapes = [shape_of(SQUARE), shape_of(affinity.scale(SQUARE, 2, 1, origin=(0, 0)))]
    items, rng = [0, 0, 1, 1], np.random.default_rng(2)
    places = np.array([[k * 50.0, 10.0, 0.0, 0.0, 0.0] for k in range(4)])
    exchanged = thrown = 0
    for _ in range(200):
        there = disturbed(places, shapes, items, (0.0, 0.0, 300.0, 100.0), rng)
        moved = [k for k in range(4) if not np.array_equal(there[k], places[k])]
        middles = there[:, 0] + np.array([10.0, 10.0, 20.0, 20.0])
        if np.allclose(sorted(middles), [10.0, 60.0, 120.0, 170.0]):
            exchanged += 1
            assert {items[k] for k in moved} == {0, 1}
            assert np.allclose(there[:, 1], 10.0)
        else:
            thrown += 1
            assert 1 <= len(moved) <= 3
            assert (there[moved, :2] >= 0).all()
            assert (there[moved, :2] <= [300.0, 100.0]).all()
    assert min(exchanged, thrown) > 60
