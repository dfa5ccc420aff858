"""Outlines of thousands of corners lose most of them, on the side that is asked for."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, Polygon, box

from nesting.flat_geometry.thinned import (
    LESS_MM,
    MANY_CORNERS,
    THIN_MM,
    thinned,
    thinned_inward,
    thinned_outward,
)

T = np.linspace(0, 2 * math.pi, 10_000, endpoint=False)


def ring(x, y):
    return Polygon(np.column_stack([x, y]))


WAVE = (250 + 6 * np.sin(40 * T)) * np.cos(T), 70 * np.sin(T)
ROUGH = np.random.default_rng(7).normal(0, 0.01, len(T))
SHAPES = {
    "disc": ring(120 * np.cos(T), 120 * np.sin(T)),
    "wave": ring(*WAVE),
    "jittery": ring((120 + ROUGH) * np.cos(T), (80 + ROUGH) * np.sin(T)),
    "ring with a hole": ring(120 * np.cos(T), 120 * np.sin(T)).difference(
        Point(10, 0).buffer(40, quad_segs=2 * MANY_CORNERS)
    ),
    "crook": ring(300 * np.cos(T), 300 * np.sin(T)).intersection(
        box(0, 0, 300, 300).difference(Point(0, 0).buffer(260, quad_segs=MANY_CORNERS))
    ),
}
EACH = pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)


def corners(shape):
    return int(shapely.get_num_coordinates(shape))


@EACH
def test_thinned_outward_holds_the_outline_and_little_more(shape):
    thin = thinned_outward(shape)
    assert corners(thin) < corners(shape) / 5
    assert thin.contains(shape)
    assert shape.buffer(THIN_MM + 1e-6, quad_segs=64).contains(thin)


@EACH
def test_thinned_inward_lies_within_the_outline_and_is_little_less(shape):
    thin = thinned_inward(shape)
    assert corners(thin) < corners(shape) / 5
    assert shape.contains(thin)
    jag = 0.1 if shape is SHAPES["jittery"] else 0.0
    assert thin.buffer(THIN_MM + jag + 2e-3, quad_segs=64).contains(shape)


@EACH
def test_thinned_is_nowhere_far_from_the_outline(shape):
    thin = thinned(shape)
    assert corners(thin) < corners(shape) / 5
    assert thin.hausdorff_distance(shape) <= LESS_MM + 1e-9
    assert thin.is_valid


@pytest.mark.parametrize("make", [thinned, thinned_inward, thinned_outward])
def test_outline_with_few_corners_is_left_as_it_is(make):
    shape = Point(0, 0).buffer(50, quad_segs=MANY_CORNERS // 4 - 1)
    assert corners(shape) <= MANY_CORNERS
    assert make(shape) is shape


def test_outline_that_would_fall_apart_is_left_as_it_is():
    """Two discs joined by a neck narrower than twice the shift: inward there are two."""
    neck = box(-60, -0.02, 60, 0.02)
    halves = [Point(x, 0).buffer(40, quad_segs=MANY_CORNERS) for x in (-60, 60)]
    shape = shapely.union_all([neck, *halves])
    assert corners(shape) > MANY_CORNERS
    assert thinned_inward(shape) is shape
    assert thinned_outward(shape).contains(shape)


@pytest.mark.parametrize("make", [thinned, thinned_inward, thinned_outward])
def test_an_outline_is_thinned_once_however_often_it_is_asked_for(make):
    assert make(SHAPES["wave"]) is make(ring(*WAVE))
