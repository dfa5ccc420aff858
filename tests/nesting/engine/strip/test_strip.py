"""Shortest strips: outlines that fill them exactly, and what a search goes on from."""

import numpy as np
import pytest
from scenes import shape_of
from shapely.geometry import Polygon, box

from nesting.engine.stop import MaxRounds
from nesting.engine.strip.strip import LARGEST_STEP, LEAST_STEP, Standing, StripSearch


def shortest(shapes, items, width, rounds=40):
    search = StripSearch(shapes, items, width)
    rng = np.random.default_rng(1)
    return search.improved(Standing(search.started(rng)), rng, MaxRounds(rounds)).best


def test_squares_that_fill_a_strip_exactly_are_laid_so():
    """Twelve in three columns of four: all touch all round, and none counts as overlapping."""
    strip = shortest([shape_of(box(0, 0, 10, 10), angles=(0.0,))], [0] * 12, 40.0)
    assert strip.length == pytest.approx(30.0, abs=1e-6)


def test_outlines_that_close_on_each_other_are_laid_so():
    """An L and a small square make a square of 20: four of each, a strip of 80."""
    ell = Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
    other = box(0, 0, 10, 10)
    shapes = [shape_of(ell, angles=(0.0, np.pi)), shape_of(other, angles=(0.0,))]
    strip = shortest(shapes, [0] * 4 + [1] * 4, 20.0, rounds=60)
    assert strip.length == pytest.approx(80.0, abs=1e-6)


def test_what_nearly_was_shorter_is_kept_from_stretch_to_stretch():
    """Three squares of 10 on a width of 15 need a length of 30; the bound by area is 20."""
    search = StripSearch([shape_of(box(0, 0, 10, 10), angles=(0.0,))], [0] * 3, 15.0)
    rng = np.random.default_rng(1)
    standing = Standing(search.started(rng))
    overlaps = []
    for _ in range(3):
        standing = search.improved(standing, rng, MaxRounds(4))
        assert standing.best.length == pytest.approx(30.0, abs=1e-6)
        assert all(one.layout.length < standing.best.length for one in standing.nearly)
        overlaps.append(min(one.overlap for one in standing.nearly))
    assert overlaps == sorted(overlaps, reverse=True)
    assert standing.step == LEAST_STEP < LARGEST_STEP
