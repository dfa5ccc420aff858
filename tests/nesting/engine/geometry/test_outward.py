"""Narrow notches closed, wide ones kept, and nothing of an outline lost."""

import math

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from nesting.engine.geometry.outward import FEW_CORNERS, simplified_outward, without_pockets

MOUTH = 5.0


def notched(*, mouth, depth=20.0, begin=0):
    """Return a square of 100 with a notch in its lower edge, its ring begun at some corner."""
    corners = [
        (0, 0), (40, 0), (40, depth), (40 + mouth, depth), (40 + mouth, 0), (100, 0), (100, 100),
        (0, 100),
    ]  # fmt: skip
    return Polygon(corners[begin:] + corners[:begin])


@pytest.mark.parametrize("begin", range(8))
@pytest.mark.parametrize(("mouth", "is_closed"), [(4.0, True), (5.0, True), (5.01, False)])
def test_notches_up_to_the_mouth_are_closed_wherever_the_ring_begins(mouth, is_closed, begin):
    polygon = notched(mouth=mouth, begin=begin)
    closed = without_pockets(polygon, MOUTH)
    assert closed.equals(box(0, 0, 100, 100) if is_closed else polygon)


def test_a_thin_tooth_is_wood_and_stays():
    tooth = box(0, 0, 100, 100).union(box(40, 100, 43, 130))
    assert without_pockets(tooth, MOUTH).equals(tooth)


def test_a_notch_with_a_tooth_in_it_is_bridged_only_below_the_tooth():
    """The tooth stands out of the notch: no chord across its mouth may cut it off."""
    polygon = notched(mouth=4.0).union(box(41, -30, 43, 20))
    closed = without_pockets(polygon, MOUTH)
    assert closed.contains(polygon)
    assert closed.bounds == polygon.bounds
    assert closed.area <= box(0, 0, 100, 100).area + 4 * 30 + 1e-6


def test_two_notches_are_closed_and_a_round_one_with_them():
    turns = np.linspace(0, math.pi, 20)
    bay = Polygon(np.column_stack([60 + 2.4 * np.cos(turns), 2.4 * np.sin(turns)]))
    polygon = box(0, 0, 100, 100).difference(box(20, -1, 24, 30)).difference(bay)
    assert without_pockets(polygon, MOUTH).symmetric_difference(box(0, 0, 100, 100)).area < 1e-6


def test_cut_outs_narrower_than_the_mouth_are_closed_whichever_way_they_lie():
    frame = box(0, 0, 100, 100)
    for narrow in (box(20, 20, 24, 80), box(20, 20, 80, 24)):
        assert without_pockets(frame.difference(narrow), MOUTH).equals(frame)
    wide = frame.difference(box(20, 20, 25, 80))
    assert without_pockets(wide, MOUTH).equals(wide)


def test_what_is_only_a_triangle_stays():
    sliver = Polygon([(0, 0), (3, 0), (1, 4)])
    assert without_pockets(sliver, MOUTH).equals(sliver)


def disc(corners, radius=100.0):
    turns = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    return Polygon(np.column_stack([radius * np.cos(turns), radius * np.sin(turns)]))


def test_figures_with_few_corners_come_back_as_they_are():
    few, more = disc(FEW_CORNERS), disc(FEW_CORNERS + 1)
    assert simplified_outward(few, 50.0) is few
    assert len(simplified_outward(more, 50.0).exterior.coords) < len(more.exterior.coords)


@pytest.mark.parametrize("tolerance", [0.1, 0.4, 2.0])
def test_tangents_about_a_disc_are_about_as_long_as_the_tolerance_lets_them_be(tolerance):
    """A corner half an angle a off both its tangents stands r (1 / cos a - 1) outside."""
    figure = disc(360)
    simple = simplified_outward(figure, tolerance)
    assert simple.buffer(1e-9).contains(figure)
    assert simple.hausdorff_distance(figure) <= tolerance + 1e-9
    longest = math.degrees(math.acos(100.0 / (100.0 + tolerance)))
    assert len(simple.exterior.coords) - 1 <= 360 / (2 * math.floor(longest)) + 2


@pytest.mark.parametrize("tolerance", [0.1, 0.4, 2.0])
def test_chords_across_a_round_hollow_are_about_as_long_as_the_tolerance_lets_them_be(tolerance):
    """A chord over half an angle a cuts off r (1 - cos a)."""
    turns = np.radians(np.arange(0.0, 181.0))
    bay = np.column_stack([200 + 100 * np.cos(turns), 100 * np.sin(turns)])[::-1]
    figure = Polygon([*bay, (400, 0), (400, 300), (0, 300), (0, 0)])
    simple = simplified_outward(figure, tolerance)
    assert simple.buffer(1e-9).contains(figure)
    assert simple.hausdorff_distance(figure) <= tolerance + 1e-9
    longest = math.degrees(math.acos(1 - tolerance / 100.0))
    assert len(simple.exterior.coords) - 1 <= 180 / (2 * math.floor(longest)) + 8


def test_a_round_cut_out_gets_smaller_and_no_wood_is_lost():
    plate = box(-200, -200, 200, 200).difference(disc(200))
    simple = simplified_outward(plate, 0.5)
    assert simple.buffer(1e-9).contains(plate)
    assert simple.hausdorff_distance(plate) <= 0.5 + 1e-9
    (hole,) = simple.interiors
    assert len(hole.coords) < 60
    assert simple.area - plate.area < 0.01 * disc(200).area
