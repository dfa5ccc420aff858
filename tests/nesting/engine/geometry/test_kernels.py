"""The compiled kernels against their plain twins, and both against shapely."""

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from puzzles import star
from shapely.geometry import MultiPoint, Point, Polygon

from nesting.engine.geometry import kernels, kernels_numba, sums_numba
from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.turned import Pieces

seeds = st.integers(0, 10**6)


def hull(rng, count, size=50.0):
    ring = MultiPoint(rng.uniform(-size, size, (count, 2))).convex_hull
    return np.asarray(ring.exterior.coords)[:-1][::-1].copy() if ring.exterior else None


def anticlockwise(ring):
    return ring if Polygon(ring).exterior.is_ccw else ring[::-1].copy()


def compiled_sum(a, b, gap):
    of_a, of_b = (np.array([0, len(ring)], np.int64) for ring in (a, b))
    edges, corners, _, _ = sums_numba.all_sums(a, of_a, np.array([gap]), b, of_b)
    return edges, corners


@pytest.mark.parametrize("gap", [0.0, 3.0])
@pytest.mark.parametrize("first", ["point", "line", "polygon"])
@given(seed=seeds)
@settings(max_examples=25, deadline=None)
def test_convex_sums_agree(first, gap, seed):
    rng = np.random.default_rng(seed)
    a = {
        "point": lambda: rng.uniform(-9, 9, (1, 2)),
        "line": lambda: rng.uniform(-9, 9, (2, 2)),
        "polygon": lambda: anticlockwise(hull(rng, 7)),
    }[first]()
    b = anticlockwise(hull(rng, 6))
    edges, corners = compiled_sum(a, b, gap)
    plain_edges, plain_corners = kernels.convex_sum(a, b, gap)
    assert edges == pytest.approx(plain_edges, abs=1e-7)
    assert corners == pytest.approx(plain_corners, abs=1e-5)


@given(seed=seeds)
@settings(max_examples=40, deadline=None)
def test_convex_sum_is_where_the_gap_is_broken(seed):
    rng = np.random.default_rng(seed)
    a, b = anticlockwise(hull(rng, 7)), anticlockwise(hull(rng, 6))
    gap = 4.0
    edges, _ = compiled_sum(a, b, gap)
    for shift in rng.uniform(-200, 200, (30, 2)):
        distance = Polygon(a).distance(Polygon(b + shift))
        depth = (edges[:, :2] @ shift - edges[:, 2]).max()
        if distance < gap - 1e-9:
            assert depth < 1e-9
        if distance > gap / math.cos(math.pi / 16) + 1e-9:
            assert depth > -1e-9


def random_region(seed, gap=2.0):
    rng = np.random.default_rng(seed)
    a, b = (Pieces.of(convex_pieces(star(rng, size, 9))) for size in (60.0, 40.0))
    gaps = np.full(len(a), gap)
    return sums_numba.all_sums(a.corners, a.first, gaps, b.corners, b.first)


@given(seed=seeds)
@settings(max_examples=25, deadline=None)
def test_exposed_boundary_is_that_of_the_union(seed):
    edges, corners, first, boxes = random_region(seed)
    segments = kernels_numba.exposed(edges, corners, first, boxes)
    rings = [Polygon(corners[a:b]) for a, b in itertools.pairwise(first)]
    union = shapely.union_all(rings)
    drawn = shapely.union_all([shapely.LineString(s.reshape(2, 2)) for s in segments])
    assert union.boundary.difference(drawn.buffer(1e-4)).length < 1e-2
    assert drawn.difference(union.boundary.buffer(1e-4)).length < 1e-2


@given(seed=seeds, wx=st.sampled_from([1.0, -1.0]), wy=st.sampled_from([0.02, 1.0]))
@settings(max_examples=30, deadline=None)
def test_lowest_spots_agree(seed, wx, wy):
    edges, corners, first, boxes = random_region(seed)
    segments = kernels_numba.exposed(edges, corners, first, boxes)
    limit = (-70.0, -60.0, 65.0, 80.0)
    spots = np.full((5, 3), np.inf)
    kernels_numba.lowest_spots(
        edges, first, boxes, segments, np.array(limit), np.array([wx, wy]), spots
    )
    plain = kernels.lowest_spots(edges, first, segments, limit, (wx, wy), 5)
    found = spots[np.isfinite(spots[:, 0])]
    # A candidate a hair either side of the strictness limit may be legal to one twin only; the
    # next best then lies some hundred-thousandths of a millimetre further.
    assert len(found) == len(plain)
    assert found[:, 0] == pytest.approx(plain[:, 0], abs=1e-4)


def test_degenerate_figures_give_no_sum_that_is_empty():
    sliver = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 1e-9]])
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    edges, corners = compiled_sum(sliver, square, 1.0)
    assert np.isfinite(edges).all()
    assert np.isfinite(corners).all()
    assert Polygon(corners).area > Point(0, 0).buffer(1).area


def test_repeated_points_do_not_disturb_a_sum():
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    twice = np.repeat(square, 2, axis=0)
    edges, corners = compiled_sum(twice, square, 0.0)
    assert Polygon(corners).area == pytest.approx(400.0)
    assert len(edges) == 4
