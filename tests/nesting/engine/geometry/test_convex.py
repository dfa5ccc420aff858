import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from puzzles import star
from shapely.geometry import Point, Polygon

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.outward import simplified_outward

L_SHAPE = Polygon([(0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10)])
FRAME = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(3, 3), (7, 3), (7, 7), (3, 7)]])


def assert_tiles(polygon: Polygon) -> None:
    pieces = [Polygon(piece) for piece in convex_pieces(polygon)]
    assert sum(piece.area for piece in pieces) == pytest.approx(polygon.area, rel=1e-9)
    assert shapely.union_all(pieces).symmetric_difference(polygon).area < 1e-6 * polygon.area
    for piece in pieces:
        assert piece.exterior.is_ccw
        assert piece.convex_hull.area == pytest.approx(piece.area, rel=1e-7)


@pytest.mark.parametrize("polygon", [L_SHAPE, FRAME], ids=["hollow corner", "with a cut-out"])
def test_pieces_tile_the_polygon(polygon):
    assert_tiles(polygon)


def test_l_shape_needs_two_pieces():
    assert len(convex_pieces(L_SHAPE)) == 2


def test_clockwise_convex_polygon_comes_back_anticlockwise_as_one_piece():
    (piece,) = convex_pieces(Polygon([(0, 0), (0, 5), (5, 5), (5, 0)]))
    assert Polygon(piece).exterior.is_ccw


def test_corners_on_a_straight_edge_are_dropped():
    (piece,) = convex_pieces(Polygon([(0, 0), (2, 0), (5, 0), (5, 5), (0, 5)]))
    assert len(piece) == 4


@given(st.integers(0, 10**6), st.integers(5, 30))
@settings(max_examples=60, deadline=None)
def test_pieces_tile_any_star(seed, corners):
    assert_tiles(star(np.random.default_rng(seed), 100.0, corners))


def arched_beam(length: float = 2400.0, rise: float = 60.0, moulding: float = 60.0) -> Polygon:
    x = np.linspace(-length / 2, length / 2, 200)
    radius = (length**2 / 4 + rise**2) / (2 * rise)
    y = np.sqrt(radius**2 - x**2) - radius + rise
    return Polygon(np.vstack([np.column_stack([x, y - moulding]), np.column_stack([x, y])[::-1]]))


@pytest.mark.parametrize("tolerance", [0.1, 0.4, 1.0])
def test_simplified_curve_contains_the_true_one_within_the_tolerance(tolerance):
    for figure in (arched_beam(), Point(0, 0).buffer(100, 64)):
        simple = simplified_outward(figure, tolerance)
        assert figure.difference(simple).area < 1e-6
        assert simple.hausdorff_distance(figure) <= tolerance + 1e-6
        assert len(simple.exterior.coords) < len(figure.exterior.coords) / 2


def test_straight_sided_figure_is_left_alone():
    assert simplified_outward(L_SHAPE, 5.0) is L_SHAPE


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_simplified_star_never_loses_wood(seed):
    figure = star(np.random.default_rng(seed), 100.0, 40)
    simple = simplified_outward(figure, 0.5)
    assert figure.difference(simple).area < 1e-6
