"""Which line parts are marked out from: the lower edge where it is straight, else a string."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon

from nesting.marking.base_line import MARGIN_MM, BaseKind, base_line
from nesting.marking.batten_points import batten_points
from nesting.marking.tape import Tape
from nesting.units import Unit

MM, INCH = Tape.of(Unit.MM), Tape.of(Unit.INCH)


@pytest.mark.parametrize(("bow", "kind"), [(0.2, BaseKind.EDGE), (0.6, BaseKind.STRING)])
def test_edge_that_leaves_a_straight_line_by_more_than_a_tape_shows_is_none(bow, kind):
    shape = Polygon([(0, 0), (500, -bow), (1000, 0), (1000, 200), (0, 200)])
    assert base_line(shape, (10, 990), MM).kind is kind


def test_lower_edge_begins_at_its_own_corner_though_another_one_lies_further_left():
    shape = Polygon([(50, 10), (1000, 30), (950, 230), (0, 210)])
    base = base_line(shape, (60, 900), MM)
    assert (base.kind, base.origin) == (BaseKind.EDGE, (50.0, 10.0))
    assert base.reaches_mm == pytest.approx(math.hypot(950, 20))
    assert base.angle_deg == pytest.approx(math.degrees(math.atan2(20, 950)))


@pytest.mark.parametrize(("ends", "kind"), [(710, BaseKind.EDGE), (690, BaseKind.STRING)])
@pytest.mark.parametrize("is_mirrored", [False, True])
def test_edge_along_six_tenths_of_the_parts_may_be_carried_on(ends, kind, is_mirrored):
    """Parts lie from 100 to 1100: an edge up to 700 is along six tenths of them."""
    points = [(0, 0), (ends, 0), (ends + 100, 90), (1200, 90), (1200, 300), (0, 300)]
    if is_mirrored:
        points = [(1200 - x, y) for x, y in points[::-1]]
    assert base_line(Polygon(points), (100, 1100), MM).kind is kind


def test_of_two_lower_edges_the_one_along_more_of_the_parts_is_taken():
    shape = Polygon([(0, 100), (650, 100), (650, 0), (2000, 0), (2000, 300), (0, 300)])
    assert base_line(shape, (500, 2000), MM).origin == (650.0, 0.0)
    assert base_line(shape, (0, 1000), MM).origin == (0.0, 100.0)


@pytest.mark.parametrize("lean_deg", [19.0, 21.0])
def test_edge_that_leans_by_more_than_a_third_of_a_right_angle_is_no_lower_one(lean_deg):
    rise = 800 * math.tan(math.radians(lean_deg))
    shape = Polygon([(0, 0), (800, rise), (800, rise + 400), (0, 400)])
    kind = base_line(shape, (10, 790), MM).kind
    assert kind is (BaseKind.EDGE if lean_deg < 20 else BaseKind.STRING)


def ellipse(half_length, half_width, count=200):
    turns = np.linspace(0, 2 * math.pi, count, endpoint=False)
    return Polygon(np.column_stack([half_length * np.cos(turns), half_width * np.sin(turns)]))


@pytest.mark.parametrize("tape", [MM, INCH])
def test_board_without_corners_is_measured_from_its_ends(tape):
    shape = ellipse(1000.0, 150.0)
    base = base_line(shape, (-300, 300), tape)
    assert base.kind is BaseKind.STRING
    assert [end.from_corner[0] for end in base.ends] == pytest.approx([-1000, 1000], abs=0.5)
    assert base.ends[0].measure_mm > 0


def test_string_lies_low_and_level_and_well_in_the_wood_along_all_parts():
    shape = ellipse(1000.0, 150.0)
    base = base_line(shape, (-300, 300), MM)
    left, right = (end.at for end in base.ends)
    # Ends are told to half a millimetre along an edge that leans: the string is level to that.
    assert abs(base.angle_deg) < 0.05
    beside = LineString([(-300, left[1]), (300, left[1])]).buffer(MARGIN_MM, cap_style="flat")
    assert shape.buffer(1.0).contains(beside)
    # A step of 10 mm lower it would not be: the edge at 300 is at -143.
    assert left[1] == pytest.approx(-150 * math.sqrt(1 - 0.3**2) + MARGIN_MM, abs=10.5)
    assert left[0] < -300 < 300 < right[0]


def test_end_beside_a_notch_is_measured_from_the_corner_of_the_notch():
    """Turns to the right are corners as well: nothing else is near."""
    left = [(0, 0), (0, 300)]
    bowed = [(x, -40 * math.sin(math.pi * x / 1500)) for x in np.linspace(0, 1500, 61)]
    notch = [(1500, 60), (1450, 60), (1450, 90), (1500, 90)]
    shape = Polygon([*bowed, *notch, (1500, 300), left[1]])
    base = base_line(shape, (100, 1400), MM)
    assert base.kind is BaseKind.STRING
    corners = {(round(x), round(y)) for x, y in [*notch, *left, (1500, 0), (1500, 300)]}
    for end in base.ends:
        assert tuple(map(round, end.from_corner)) in corners
        nearest = min(
            abs(
                shape.exterior.project(shapely.Point(corner))
                - shape.exterior.project(shapely.Point(end.at))
            )
            for corner in corners
        )
        assert end.measure_mm == pytest.approx(nearest, abs=0.5)


def test_teeth_finer_than_any_batten_are_all_told():
    """No spline holds teeth of 6 mm at every 2 mm: each corner is told, to a tenth."""
    run = np.array([(2.0 * n + 0.04, 6.0 * (n % 2) + 0.13) for n in range(12)])
    told = batten_points(run, MM)
    assert np.array(told) == pytest.approx(run, abs=0.05 + 1e-9)
