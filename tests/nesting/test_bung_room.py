"""Where an outline with bevels has room for bungs, if its family does not say."""

import math

import pytest
from shapely.geometry import box

from nesting.outline import Bevel, Outline

SHAPE = box(0, 0, 300, 80)


def with_bevels(*degrees: float) -> Outline:
    return Outline(SHAPE, 20, bevels=tuple(Bevel("edge", each, 0.0) for each in degrees))


@pytest.mark.parametrize("degrees", [(12.0,), (-12.0, 3.0), (5.0, 12.0)])
def test_its_deepest_bevel_is_taken_off_all_round(degrees):
    off = 20 * math.tan(math.radians(12))
    wanted = box(off, off, 300 - off, 80 - off)
    assert with_bevels(*degrees).bung_room.symmetric_difference(wanted).area < 1e-6


def test_a_bevel_across_all_of_it_leaves_no_room():
    assert with_bevels(65.0).bung_room.is_empty


def test_what_a_family_says_of_both_faces_counts():
    said = box(0, 0, 300, 70)
    assert Outline(SHAPE, 20, bevels=(Bevel("edge", 12, 0.0),), both_faces=said).bung_room is said
    assert Outline(SHAPE, 20).bung_room is SHAPE
