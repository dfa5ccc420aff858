"""A ring is laid on the fair course of its sides; what departs in earnest is left."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from nesting.photo.fair_ring import on_fair_course
from nesting.photo.rings import resampled


def ring(*corners):
    return resampled(np.array(corners, float), 3.0)


def off(made, *places):
    """Return how far places lie off a ring at most."""
    rim = Polygon(made).exterior
    return max(rim.distance(Point(place)) for place in places)


BOARD = [(0, 0), (1600, 0), (1580, 150), (15, 150)]


@pytest.mark.parametrize("deep", [-9.0, 9.0], ids=["bay", "bulge"])
def test_a_bulge_or_bay_of_some_millimetres_is_laid_on_its_side(deep):
    bent = [(1000, 150), (950, 150 + deep), (750, 150 + deep), (700, 150)]
    made = on_fair_course(ring(*BOARD[:3], *bent, BOARD[3]))
    assert off(made, (750, 150), (850, 150), (950, 150)) < 3.0


def test_a_step_and_what_is_fair_already_are_left():
    step = [(900, 150), (900, 100), (200, 100), (200, 150)]
    made = on_fair_course(ring(*BOARD[:3], *step, BOARD[3]))
    assert off(made, (550, 100), (900, 125), (1200, 150)) < 3.0
    plain = on_fair_course(ring(*BOARD))
    assert LineString(plain).hausdorff_distance(LineString(ring(*BOARD))) < 1.5


def test_ends_and_corners_are_left():
    askew = [(0, 0), (1600, 0), (1560, 150), (15, 150)]
    assert off(on_fair_course(ring(*askew)), (1600, 0), (1580, 75), (1560, 150)) < 2.0
