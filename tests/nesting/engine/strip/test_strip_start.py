"""First layouts on a strip: each item as far left as it will go, measured from outside."""

from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces
from nesting.engine.jostle.layout import Shape
from nesting.engine.strip.strip import StripSearch

SQUARE, BAR = box(0, 0, 10, 10), box(0, 0, 30, 10)
ELL = Polygon([(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)])
WEDGE = Polygon([(0, 0), (18, 0), (0, 12)])
KITE = Polygon([(0, 0), (14, 5), (9, 15), (2, 11)])
QUARTERS = (0.0, np.pi / 2)


def laid(polygons, items, width, *, angles=(0.0,), gap=0.0, seed=1):
    """Return a first strip's length, and its items as they lie."""
    ways = tuple((angle, False) for angle in angles)
    shapes = [Shape(Pieces.of(convex_pieces(each)), each.area, ways) for each in polygons]
    strip = StripSearch(shapes, items, width, gap).constructed(np.random.default_rng(seed))
    lying = [
        affinity.translate(affinity.rotate(polygons[o], angle, (0, 0), use_radians=True), x, y)
        for o, (x, y, angle, _, _) in zip(strip.outlines, strip.places, strict=True)
    ]
    return strip.length, lying


@pytest.mark.parametrize(
    ("polygons", "items", "width", "how", "length"),
    [
        ([SQUARE], [0] * 4, 20.0, {}, 20.0),
        ([SQUARE], [0] * 4, 40.0, {}, 10.0),
        ([SQUARE], [0] * 2, 10.0, {"gap": 3.0}, 23.0),
        ([SQUARE], [0] * 2, 23.0, {"gap": 3.0}, 10.0),
        ([SQUARE], [0] * 2, 22.9, {"gap": 3.0}, 23.0),
        ([BAR], [0], 40.0, {"angles": QUARTERS}, 10.0),
        ([BAR], [0], 20.0, {"angles": QUARTERS}, 30.0),
        ([BAR], [0], 40.0, {}, 30.0),
        ([ELL, SQUARE], [0, 1], 20.0, {}, 20.0),
    ],
    ids=[
        "two by two",
        "in a column",
        "a gap along",
        "a gap across",
        "no room for the gap",
        "stood up",
        "too long to stand",
        "may not be turned",
        "into the notch",
    ],
)
def test_items_go_as_far_left_as_they_will(polygons, items, width, how, length):
    found, lying = laid(polygons, items, width, **how)
    assert found == pytest.approx(length, abs=1e-6)
    assert shapely.total_bounds(lying)[0] == pytest.approx(0.0, abs=1e-6)


def test_one_item_lies_in_the_corner():
    _, (lying,) = laid([WEDGE], [0], 30.0, angles=QUARTERS)
    assert lying.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-6)


@pytest.mark.parametrize("gap", [0.0, 2.5])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_first_layouts_are_legal_and_as_long_as_is_said(gap, seed):
    polygons = [ELL, WEDGE, SQUARE, BAR]
    items = [0, 0, 1, 1, 1, 2, 2, 3]
    length, lying = laid(polygons, items, 35.0, angles=QUARTERS, gap=gap, seed=seed)
    low_x, low_y, high_x, high_y = shapely.total_bounds(lying)
    assert low_x == pytest.approx(0.0, abs=1e-6) and low_y > -1e-6 and high_y < 35.0 + 1e-6
    assert high_x == pytest.approx(length, abs=1e-9)
    for one, other in combinations(lying, 2):
        assert one.intersection(other).area < 1e-5
        assert one.distance(other) > gap - 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_no_item_of_a_first_layout_can_be_pushed_left_along_the_strip(seed):
    """By a tenth of a millimetre: each touches the end, or one beside it."""
    items = [0, 0, 1, 1, 1, 2, 2, 3, 3, 3]
    _, lying = laid([ELL, WEDGE, SQUARE, KITE], items, 41.0, seed=seed)
    for number, one in enumerate(lying):
        if one.bounds[0] < 0.1:
            continue
        moved = affinity.translate(one, -0.1)
        beside = shapely.union_all([each for k, each in enumerate(lying) if k != number])
        assert moved.intersection(beside).area > 1e-4


def test_a_first_layout_is_the_same_for_the_same_seed_and_another_for_another():
    strips = [laid([ELL, WEDGE], [0, 0, 1, 1], 35.0, seed=seed) for seed in (4, 4, 5)]
    first, again, other = [shapely.get_coordinates(lying) for _, lying in strips]
    assert np.array_equal(first, again) and not np.array_equal(first, other)
