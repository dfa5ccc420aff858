"""Shortest strips: outlines that fill them exactly, and what a search goes on from."""

import numpy as np
import pytest
from scenes import shape_of
from shapely.geometry import Polygon, box

from nesting.engine.stop import MaxRounds
from nesting.engine.strip import StripSearch

pytestmark = pytest.mark.xdist_group("separator")


def shortest(shapes, items, width, rounds=40):
    search = StripSearch(shapes, items, width)
    rng = np.random.default_rng(1)
    return search.improved(search.started(rng), rng, MaxRounds(rounds))[0]


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
