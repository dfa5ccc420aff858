"""Shapes whose edges run along each other but for their last digits."""

import numpy as np
import pytest
from shapely.geometry import GeometryCollection, LineString, Point, Polygon, box

from nesting.flat_geometry.overlay import shared, united, without

FRAME = np.array([(612, 88), (822, 0), (604, 0), (604, 842), (1000, 842), (1000, 542)], float)
WEDGE = np.array([(612, 88), (1000, 542), (1000, 0), (822, 0)], float)
FRAME_MM2, WEDGE_MM2 = 220_452.0, 112_980.0
LAST_DIGIT = 1e-14


def nearly(corners: np.ndarray, rng: np.random.Generator) -> Polygon:
    """Return a polygon each corner of which is off by a few of its last digits."""
    return Polygon(corners + LAST_DIGIT * rng.integers(-10, 11, corners.shape))


def test_two_parts_of_one_cut_share_nothing_and_cover_both_their_areas():
    """On corners as they come GEOS 3.14 gets about one in a hundred of these wrong."""
    rng = np.random.default_rng(1)
    for _ in range(2000):
        frame, wedge = nearly(FRAME, rng), nearly(WEDGE, rng)
        assert shared(frame, wedge).area == pytest.approx(0, abs=1e-3)
        assert united([frame, wedge]).area == pytest.approx(FRAME_MM2 + WEDGE_MM2, abs=1e-3)
        assert without(frame, wedge).area == pytest.approx(FRAME_MM2, abs=1e-3)


def test_areas_of_boxes_are_what_a_ruler_says():
    board, part, hole = box(0, 0, 1000, 100), box(0, 0, 400, 100), box(300, 40, 500, 60)
    assert without(without(board, part), hole).area == pytest.approx(58_000)
    assert shared(part, hole).area == pytest.approx(2_000)
    assert united([part, hole]).area == pytest.approx(42_000)


def test_nothing_taken_leaves_the_wood_and_nothing_united_is_empty():
    board = box(0, 0, 10, 10)
    assert without(board, united([])).equals(board)
    assert united([]).is_empty


@pytest.mark.parametrize("core", [Point(5, 5), LineString([(1, 1), (9, 9)])])
def test_a_hole_or_a_groove_without_width_shares_no_area(core):
    assert shared(box(0, 0, 10, 10), core).area == 0


STEP = Polygon([(0, 0), (30, 0), (30, 20), (10, 20), (10, 10), (0, 10)])
"""Above its lower step a strip from 10 to 20 only touches it; beside it, it lies in the upper."""


def test_what_is_shared_may_be_an_area_and_lines_and_is_laid_over_the_next_shape_all_the_same():
    touched = shared(box(0, 10, 30, 20), STEP)
    assert isinstance(touched, GeometryCollection)
    assert shared(touched, box(20, 0, 40, 40)).area == pytest.approx(100)
    assert shared(box(20, 0, 40, 40), touched).area == pytest.approx(100)
    assert shared(touched, touched).area == pytest.approx(200)
    assert without(STEP, touched).area == pytest.approx(300)
    left = without(touched, box(20, 0, 40, 40))
    assert (left.area, left.length) == (pytest.approx(100), pytest.approx(40 + 10))
    assert united([touched, STEP]).area == pytest.approx(500)


def test_a_mixture_of_nothing_is_nothing():
    for empty in (GeometryCollection(), shared(box(0, 0, 1, 1), box(5, 5, 6, 6))):
        assert shared(STEP, empty).is_empty
        assert without(STEP, empty).equals(STEP)
        assert without(empty, STEP).is_empty
