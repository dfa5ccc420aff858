"""Strips filled on lines: every item once, true to its ways, and clear where all find room."""

import numpy as np
import pytest
from scenes import lying, shape_of
from shapely.geometry import Polygon, box

from nesting.engine.stop import MaxRounds
from nesting.engine.strip.strip import LEAST_STEP, STALE, Standing, StripSearch
from nesting.engine.strip.strip_fill import LAYOUTS, StripFiller

SQUARE = box(0, 0, 10, 10)
ELL = Polygon([(3, 5), (23, 5), (23, 15), (13, 15), (13, 25), (3, 25)])
HALF_TURN = (0.0, np.pi)


def least_apart(outlines, items, places):
    """Return the least distance of two items, or their largest overlap as a negative area."""
    laid = [lying(outlines[i], place) for i, place in zip(items, places, strict=True)]
    pairs = [(a, b) for k, a in enumerate(laid) for b in laid[:k]]
    overlap = max(a.intersection(b).area for a, b in pairs)
    return -overlap if overlap > 1e-6 else min(a.distance(b) for a, b in pairs)


def filled(outlines, items, width, length, gap=0.0, angles=HALF_TURN, seed=0):
    shapes = [shape_of(outline, angles=angles) for outline in outlines]
    filler = StripFiller(shapes, items, width, gap)
    return filler.layouts(length, np.random.default_rng(seed))


@pytest.mark.parametrize("seed", range(6))
def test_squares_that_fill_a_strip_exactly_find_room_from_its_end_or_its_edge(seed):
    items = [0] * 12
    layouts = filled([SQUARE], items, 40.0, 30.0, seed=seed)
    assert len(layouts) <= LAYOUTS
    assert least_apart([SQUARE], items, layouts[0]) == pytest.approx(0.0, abs=1e-6)
    for place in layouts[0]:
        assert box(0, 0, 30, 40).buffer(1e-6).contains(lying(SQUARE, place))


@pytest.mark.parametrize("seed", range(6))
def test_outlines_that_are_not_at_their_origin_lie_where_the_lines_say(seed):
    """Ells and squares: two of each on 24 x 40, with room to spare, either way round or over."""
    items = [0, 0, 1, 1]
    layouts = filled([ELL, SQUARE], items, 24.0, 48.0, seed=seed)
    assert least_apart([ELL, SQUARE], items, layouts[0]) >= -1e-6
    for place, item in zip(layouts[0], items, strict=True):
        outline = (ELL, SQUARE)[item]
        assert box(0, 0, 48, 24).buffer(1e-6).contains(lying(outline, place))


@pytest.mark.parametrize("seed", range(4))
def test_items_keep_the_gap(seed):
    layouts = filled([SQUARE], [0] * 6, 22.0, 40.0, gap=2.0, seed=seed)
    assert least_apart([SQUARE], [0] * 6, layouts[0]) >= 2.0 - 1e-6


def test_what_finds_no_room_lies_somewhere_in_one_of_its_ways():
    shapes = [shape_of(ELL, angles=(0.0, 0.5)), shape_of(SQUARE, angles=HALF_TURN)]
    items = [0, 1, 0, 1, 0]
    ways = [shape.ways for shape in shapes]
    for places in StripFiller(shapes, items, 30.0, 0.0).layouts(20.0, np.random.default_rng(3)):
        assert np.isfinite(places).all()
        for place, item in zip(places, items, strict=True):
            way = int(place[4]) - (len(ways[0]) if item else 0)
            assert ways[item][way] == (place[2], bool(place[3]))


def test_a_long_strip_is_filled_from_its_end():
    """Six metres of a 20 mm batten: lines along it only, or there would be 48,000 across."""
    items = [0] * 4
    for seed in range(3):
        layouts = filled([SQUARE], items, 20.0, 6000.0, seed=seed)
        assert max(lying(SQUARE, place).bounds[2] for place in layouts[0]) <= 40.0 + 1e-6


def test_no_layouts_when_time_is_over():
    filler = StripFiller([shape_of(SQUARE, angles=(0.0,))], [0] * 3, 15.0, 0.0)
    assert filler.layouts(20.0, np.random.default_rng(0), lambda: True) == []


def test_a_search_that_comes_no_nearer_goes_on_from_layouts_begun_anew():
    """Three squares of 10 on a width of 15 need 30; the bound by area is 20, so it never ends."""
    search = StripSearch([shape_of(SQUARE, angles=(0.0,))], [0] * 3, 15.0)
    rng = np.random.default_rng(1)
    standing = Standing(search.started(rng))
    steps, begun = set(), []
    for _ in range(4 * STALE):
        standing = search.improved(standing, rng, MaxRounds(1))
        steps.add(standing.least_step)
        begun += standing.begun
    assert len(steps - {LEAST_STEP}) >= 1
    assert standing.best.length == pytest.approx(30.0, abs=1e-6)
    assert begun
    assert all(one.length < 30.0 for one in begun)
