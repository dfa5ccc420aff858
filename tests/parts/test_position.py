"""Where parts stand in the boat."""

import numpy as np
import pytest
from own_sums import in_the_boat

from nesting.errors import ShapeError
from parts.families.floors import FloorTimber
from parts.position import Position, position

AFT, STARBOARD, UP = np.eye(3)


def knee_place():
    return position(np.array([3000.0, 800.0, 1200.0]), STARBOARD + UP, UP - STARBOARD)


def test_points_go_to_the_boat_and_come_back():
    points = np.array([[100.0, 20.0, -30.0], [0.0, 0.0, 0.0]])
    assert knee_place().in_part(in_the_boat(knee_place(), points)) == pytest.approx(points)
    assert in_the_boat(knee_place(), points)[1] == pytest.approx([3000.0, 800.0, 1200.0])


def test_points_of_the_marked_face_need_no_third_coordinate():
    flat = np.array([[100.0, 20.0]])
    assert in_the_boat(knee_place(), flat) == pytest.approx(
        in_the_boat(knee_place(), np.array([[100.0, 20.0, 0.0]]))
    )


def test_twin_is_the_mirror_image_across_the_centreline():
    twin = knee_place().twin()
    assert twin.is_mirrored and not knee_place().is_mirrored
    points = np.array([[100.0, 20.0, -30.0]])
    assert in_the_boat(twin, points) == pytest.approx(
        in_the_boat(knee_place(), points) * [1, -1, 1]
    )
    assert twin.twin() == knee_place()


def test_axes_that_are_not_square_are_refused():
    with pytest.raises(ShapeError, match="not unit and square"):
        Position((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.6, 0.8, 0.0), (0.0, 0.0, 1.0))


def test_part_given_by_numbers_has_no_place():
    floor = FloorTimber(
        siding=45, moulding=120, half_span=350, tip_moulding=50, seat=50, deadrise=25, frame_lap=150
    )
    assert floor.positions() == ()
