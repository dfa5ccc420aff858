"""Forbidden positions as regions: moved, joined, tiled, and the best places outside them."""

import itertools

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.no_fit import (
    EMPTY,
    OBJECTS_BYTES,
    forbidden,
    is_outside,
    joined,
    joined_moved,
    legal_spots,
    tiled,
)
from nesting.engine.geometry.tolerances import HULL_MM
from nesting.engine.geometry.turned import Pieces
from nesting.flat_geometry.overlay import polygons_of


def square(size):
    return Pieces.of((np.array([[0.0, 0], [size, 0], [size, size], [0, size]]),))


def about_square(gap=0.0):
    """Return where a square of 4 may not lie because of one of 10: from -4 to 10 both ways."""
    return forbidden(square(10.0), np.array([gap]), square(4.0))


def outside(region, points):
    return [is_outside(region, x, y) for x, y in points]


GRID = list(itertools.product(np.arange(-9.5, 16.0, 1.7), repeat=2))


@pytest.mark.parametrize("gap", [0.0, 2.0])
def test_squares_keep_their_gap(gap):
    fixed, region = box(0, 0, 10, 10), about_square(gap)
    for x, y in GRID:
        apart = fixed.distance(box(x, y, x + 4, y + 4))
        overlaps = fixed.intersection(box(x, y, x + 4, y + 4)).area > 0
        if not 0.95 * gap < apart < 1.05 * gap:
            assert is_outside(region, x, y) == (apart > gap or (gap == 0 and not overlaps))
    for x, y in [(-4.0, 3.0), (10.0, 3.0), (3.0, -4.0), (3.0, 10.0)]:
        if gap == 0.0:
            assert is_outside(region, x, y)  # touching is apart


RING = box(0, 0, 50, 40).difference(box(20, 10, 30, 20))


@pytest.mark.parametrize(("gap", "size"), [(0.0, 10.0), (1.5, 7.0)], ids=["touching", "with a gap"])
@pytest.mark.parametrize("turn", [0.0, 31.0])
def test_a_square_finds_the_opening_that_it_fills(turn, gap, size):
    """Where sums meet in one point, that point is free: nothing of their edges is."""
    around = Pieces.of(convex_pieces(affinity.rotate(RING, turn, origin=(20, 10))))
    filling = affinity.rotate(box(0, 0, size, size), turn, origin=(0, 0))
    region = forbidden(around, np.full(len(around), gap), Pieces.of(convex_pieces(filling)))
    spots = legal_spots(region, (0.0, 0.0, 40.0, 40.0), (1.0, 1.0), count=50)
    wanted = np.array(affinity.rotate(Point(20 + gap, 10 + gap), turn, origin=(20, 10)).coords[0])
    assert np.abs(spots[:, 1:] - wanted).max(axis=1).min() < 1e-6


def test_a_moved_region_forbids_what_it_did_there():
    region, (dx, dy) = about_square(), (7.25, -3.5)
    moved, shift = region.moved(dx, dy), np.array([dx, dy, dx, dy])
    assert outside(moved, [(x + dx, y + dy) for x, y in GRID]) == outside(region, GRID)
    assert moved.boxes == pytest.approx(region.boxes + shift)
    assert moved.segments == pytest.approx(region.segments + shift)
    assert region.boxes[0].tolist() == pytest.approx([-4, -4, 10, 10])


def test_joined_regions_forbid_what_any_of_them_does():
    one = about_square()
    other, third = one.moved(5.0, 9.0), one.moved(-8.0, 2.0)
    both = joined([one, EMPTY, other, third])
    each = zip(*(outside(region, GRID) for region in (one, other, third)), strict=True)
    assert outside(both, GRID) == [all(some) for some in each]
    assert joined_moved(
        [one, one, EMPTY, one], np.array([[0, 0], [5, 9], [1, 1], [-8, 2.0]])
    ).segments == pytest.approx(both.segments)
    assert joined([]) is EMPTY
    assert joined([EMPTY, one]) is one


def test_bytes_are_those_of_all_arrays_and_a_little():
    region = about_square()
    arrays = region.edges, region.first, region.boxes, region.segments
    assert region.nbytes - OBJECTS_BYTES == sum(array.nbytes for array in arrays) > 0


def test_the_best_places_touch_and_come_best_first():
    region, limit = about_square(), (-2.0, -2.0, 30.0, 5.0)
    assert legal_spots(region, limit, (1.0, 0.02)) == pytest.approx(np.array([[9.96, 10, -2]]))
    assert legal_spots(region, limit, (-1.0, -0.02))[0] == pytest.approx([-30.1, 30, 5])
    some = legal_spots(region, limit, (1.0, 0.02), 3)
    assert some[:, 0] == pytest.approx([9.96, 10.1, 29.96])
    assert len(legal_spots(region, (0.0, 0.0, 9.0, 9.0), (1.0, 0.02), 3)) == 0


PLATE = box(0, 0, 40, 30).difference(box(10, 10, 20, 20))
BESIDE = Polygon([(60, 0), (90, 0), (90, 10), (70, 10), (70, 30), (60, 30)])


def test_tiles_of_an_area_forbid_all_of_it_and_no_more():
    area = MultiPolygon([PLATE, BESIDE])
    region = tiled(area)
    for x, y in itertools.product(np.arange(-3.0, 95.0, 2.5), np.arange(-3.0, 35.0, 2.5)):
        off = area.boundary.distance(Point(x, y))
        if off > 1e-3:
            assert is_outside(region, x, y) == (not area.contains(Point(x, y)))
    drawn = [LineString(segment.reshape(2, 2)) for segment in region.segments]
    assert sum(line.length for line in drawn) == pytest.approx(area.boundary.length, abs=1e-2)
    assert all(area.boundary.buffer(1e-3).contains(line) for line in drawn)
    assert not any(area.contains(line) for line in drawn)


def test_no_place_slips_between_two_tiles():
    region = tiled(BESIDE)
    for at in np.linspace(0.5, 9.5, 19):
        assert not is_outside(region, 60 + at, at)
        assert not is_outside(region, 60 + at, 10.0)
        assert not is_outside(region, 70.0, at)
    assert tiled(Polygon()) is EMPTY


def test_polygons_are_found_in_any_geometry():
    far = affinity.translate(PLATE, 200, 0)
    nested = GeometryCollection(
        [Point(0, 0), MultiPolygon([PLATE, far]), LineString([(0, 0), (1, 1)]), BESIDE]
    )
    assert polygons_of(nested) == [PLATE, far, BESIDE]
    assert polygons_of(PLATE) == [PLATE]
    assert polygons_of(Polygon()) == polygons_of(Point(0, 0)) == []


def test_tiles_of_a_round_area_stand_out_by_half_the_tolerance_of_curves_at_most():
    disc = Point(0, 0).buffer(100, 90)
    region = tiled(disc)
    for turn in np.linspace(0, 2 * np.pi, 500):
        x, y = np.cos(turn), np.sin(turn)
        assert is_outside(region, (100 + HULL_MM / 2 + 0.001) * x, (100 + HULL_MM / 2 + 0.001) * y)
        assert not is_outside(region, 99.98 * x, 99.98 * y)


def test_nothing_in_the_way_forbids_nothing():
    assert forbidden(Pieces.of(()), np.empty(0), square(4.0)) is EMPTY
