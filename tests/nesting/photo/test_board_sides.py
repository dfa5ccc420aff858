"""Sides made smooth, and the corners that they are drawn out to: on rings made up of figures."""

import numpy as np
from shapely.geometry import Polygon
from test_edge_lines import STEP, ring

from nesting.photo import board_sides


def test_a_side_that_bends_before_its_corner_is_drawn_on_as_it_is_there(monkeypatch):
    monkeypatch.setattr(board_sides, "is_face", lambda *_: True)
    corners = [(0, 0), (1200, 0), (1200, 150), (60, 150), (0, 158)]
    found = Polygon(corners).buffer(-10).buffer(10)
    rounded = ring(*found.exterior.normalize().coords[-2::-1])
    made = board_sides.smooth_sides(rounded, STEP, None)
    assert np.linalg.norm(made.ring - (0, 158), axis=1).min() < 4.0


def test_a_corner_past_which_no_wood_is_seen_is_told_if_it_is_off_by_more_than_an_edge(monkeypatch):
    monkeypatch.setattr(board_sides, "is_face", lambda *_: False)
    soft = Polygon([(0, 0), (1200, 0), (1200, 150), (0, 150)]).buffer(-16).buffer(16)
    made = board_sides.smooth_sides(ring(*soft.exterior.normalize().coords[-2::-1]), STEP, None)
    assert len(made.cut) == 4
    assert all(5.0 < mm < 8.0 for mm, _ in made.cut)
