import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from nesting.errors import ShapeError
from nesting.stock.keep_out import (
    PLUGGABLE,
    STEPS_PER_QUARTER,
    KeepOut,
    KeepOutKind,
    circle,
    region,
    slot,
)

TRIANGLE = [(0, 0), (30, 0), (0, 40)]


def test_only_holes_and_recesses_can_be_plugged():
    assert {KeepOutKind.HOLE, KeepOutKind.RECESS} == PLUGGABLE


def test_circle_has_an_exact_radius():
    hole = circle(KeepOutKind.HOLE, 10, 20, 9)
    assert hole.is_circle
    assert hole.bounding_circle == (10, 20, 4.5)


def test_circle_as_a_polygon_has_its_corners_on_the_circle():
    polygon = circle(KeepOutKind.HOLE, 0, 0, 10).polygon
    sides = 4 * STEPS_PER_QUARTER
    assert len(polygon.exterior.coords) == sides + 1
    assert polygon.area == pytest.approx(sides / 2 * 25 * math.sin(2 * math.pi / sides))


def test_slot_is_as_wide_as_it_says():
    groove = slot(KeepOutKind.GROOVE, (0, 0), (100, 0), 12)
    assert not groove.is_circle
    assert groove.polygon.bounds == pytest.approx((-6, -6, 106, 6))
    assert groove.bounding_circle == pytest.approx((50, 0, 56))


def test_region_is_its_own_polygon():
    rot = region(KeepOutKind.ROT, TRIANGLE)
    assert rot.polygon.area == 600
    assert rot.bounding_circle == pytest.approx((15, 20, 25), abs=0.2)


@settings(deadline=None)
@given(
    x=st.floats(-1e4, 1e4), y=st.floats(-1e4, 1e4), dx=st.floats(-1e4, 1e4), dy=st.floats(-1e4, 1e4)
)
def test_moved_keep_out_is_the_same_elsewhere(x, y, dx, dy):
    moved = circle(KeepOutKind.METAL, x, y, 8).moved(dx, dy)
    assert (moved.kind, moved.reach_mm) == (KeepOutKind.METAL, 4)
    assert (moved.core.x, moved.core.y) == pytest.approx((x + dx, y + dy))


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: circle(KeepOutKind.HOLE, 0, 0, 0), "hole: a keep-out must have a size"),
        (lambda: circle(KeepOutKind.HOLE, 0, 0, 0.004), "hole: it is 0.004 mm across"),
        (lambda: circle(KeepOutKind.HOLE, 0, 0, -3), "hole: its radius is -1.5 mm"),
        (lambda: circle(KeepOutKind.HOLE, 0, 0, math.nan), "hole: its radius is nan mm"),
        (lambda: slot(KeepOutKind.SPLIT, (1, 1), (1, 1), 2), "split: a slot must have two ends"),
        (lambda: KeepOut(KeepOutKind.ROT, Polygon()), "rot: "),
        (
            lambda: region(KeepOutKind.ROT, [(0, 0), (9, 9), (9, 0), (0, 9)]),
            r"rot: Self-intersection",
        ),
        (lambda: KeepOut(KeepOutKind.KNOT, LineString([(0, 0), (1, 1)])), "must have a size"),
        (lambda: KeepOut(KeepOutKind.KNOT, Point(0, 0), 3, depth_mm=0), "its depth is 0 mm"),
    ],
)
def test_keep_out_that_cannot_be_says_why(make, message):
    with pytest.raises(ShapeError, match=message):
        make()
