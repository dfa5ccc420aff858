import math
import re

import numpy as np
import pytest
from family_checks import assert_sound, built, refusal
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nesting.outline import STRAIGHT, MarkKind
from parts.families.planks import Plank
from parts.registry import families
from parts.solids import volume_mm3

PLAIN = {"length": 1000, "thickness": 20, "width": 120}


def plank(**changes):
    return Plank(**{**PLAIN, **changes})


def corners(outline):
    return sorted((round(x, 6), round(y, 6)) for x, y in outline.shape.exterior.coords[:-1])


def width_at(outline, x):
    return outline.shape.intersection(LineString([(x, -500), (x, 500)])).length


def test_registry_knows_the_plank():
    assert families()["plank"] is Plank


def test_plain_plank_is_a_rectangle_with_nothing_on_it():
    outline = plank().outline()
    assert corners(outline) == [(0, -60), (0, 60), (1000, -60), (1000, 60)]
    assert outline.siding_mm == 20
    assert outline.thickness_word == "thickness"
    assert outline.run_out == STRAIGHT
    assert outline.may_turn_over
    assert (outline.marks, outline.bearing_zones, outline.bevels) == ((), (), ())


def test_taper_runs_straight_and_its_edges_leave_the_grain_by_half_of_it():
    outline = plank(end_width=60).outline()
    assert corners(outline) == [(0, -60), (0, 60), (1000, -30), (1000, 30)]
    assert outline.area_mm2 == pytest.approx(1000 * (120 + 60) / 2)
    assert outline.run_out == pytest.approx(1000 / 30)


def test_taper_above_a_straight_lower_edge_has_its_grain_along_that():
    outline = plank(end_width=60, straight="lower edge").outline()
    assert corners(outline) == [(0, 0), (0, 120), (1000, 0), (1000, 60)]
    assert outline.run_out == pytest.approx(1000 / 60)


def test_widths_hold_at_their_stations_and_a_batten_runs_through_them():
    part = plank(width=None, widths=[(0, 80), (400, 120), (1000, 60)])
    outline = part.outline()
    for station, width in ((0, 80), (400, 120), (1000, 60)):
        assert outline.shape.covers(Point(station, width / 2 - 0.2))
        assert not outline.shape.covers(Point(station, width / 2 + 0.2))
    # A natural spline through three points over chords h1, h2 (nearly the spans): its second
    # derivative at the middle one is M = 3 (s2 - s1) / (h1 + h2), and halfway along the first
    # span it lies M h1^2 / 16 below the chord.
    bend = 3 * (-60 / 600 - 40 / 400) / 1000
    assert width_at(outline, 200) == pytest.approx(100 - bend * 400**2 / 16, abs=0.5)


def test_ends_are_cut_at_angles_and_the_length_holds_on_the_straight_line():
    outline = plank(left_cut=30, right_cut=-45).outline()
    up = 60 * math.tan(math.radians(30))
    expected = [(-up, 60), (up, -60), (1000 - 60, 60), (1000 + 60, -60)]
    assert corners(outline) == sorted((round(x, 6), round(y, 6)) for x, y in expected)
    assert outline.area_mm2 == pytest.approx(1000 * 120)
    assert outline.may_turn_over, "square through, so it is the same from either side"


@pytest.mark.parametrize("angle", [15, -15], ids=["standing", "under"])
def test_bevelled_end_has_its_allowance_and_its_solid_is_the_frustum(angle):
    part = plank(right_bevel=angle)
    outline, spread = part.outline(), 20 * math.tan(math.radians(angle))
    assert outline.shape.bounds == pytest.approx((0, -60, 1000 + max(0, spread), 60))
    [bevel] = outline.bevels
    assert (bevel.edge, bevel.angle_deg) == ("right end", angle)
    assert bevel.allowance_mm == pytest.approx(max(0, spread))
    assert volume_mm3(part.solid()) == pytest.approx((1000 + spread / 2) * 120 * 20)
    ends = [mark for mark in outline.marks if mark.label == "end on this face"]
    assert len(ends) == (1 if angle > 0 else 0)
    assert all(x == pytest.approx(1000) for mark in ends for x, _ in mark.points)


def test_bevels_of_slant_ends_are_square_to_the_ends():
    part = plank(left_cut=30, right_cut=-20, left_bevel=10, right_bevel=-12)
    far = part.shape(*(part.spread_mm(angle) for angle in (10, -12)))
    near = part.shape()
    # Each end moves outward by t tan(bevel), square to itself: its length times that is the strip.
    ends = (120 / math.cos(math.radians(30)), 120 / math.cos(math.radians(20)))
    grown = sum(
        end * 20 * math.tan(math.radians(a)) for end, a in zip(ends, (10, -12), strict=True)
    )
    assert far.area - near.area == pytest.approx(grown)
    # Plane sides, so the section's area changes evenly: the mean of both faces is the prismoid's
    # middle section.
    assert volume_mm3(part.solid()) == pytest.approx(20 * (near.area + far.area) / 2)
    outline = part.outline()
    assert outline.shape.buffer(1e-6).covers(near)
    assert outline.shape.buffer(1e-6).covers(far)
    assert_sound(outline)


@pytest.mark.parametrize(
    ("changes", "may"),
    [
        ({"left_bevel": 10}, True),
        ({"left_bevel": 10, "left_cut": 5}, False),
        ({"left_bevel": 10, "straight": "lower edge"}, False),
        ({"left_cut": 5}, True),
    ],
    ids=["symmetrical", "slant", "one-sided", "square"],
)
def test_bevelled_plank_is_turned_over_only_if_it_is_the_same_then(changes, may):
    assert plank(**changes).outline().may_turn_over is may


def test_bearings_are_the_only_zones_and_follow_the_ends():
    left, right = plank(bearing=50, right_cut=45).outline().bearing_zones
    assert (left.label, right.label) == ("left end", "right end")
    assert left.region.bounds == pytest.approx((0, -60, 50, 60))
    assert right.region.area == pytest.approx(50 * 120)
    assert right.region.bounds == pytest.approx((1000 - 50 - 60, -60, 1060, 60))


def test_no_plank_has_frame_marks():
    part = plank(left_bevel=10, right_bevel=-5, bearing=30)
    assert MarkKind.FRAME not in {mark.kind for mark in part.outline().marks}


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"width": None}, r"no width is given: give one width, or widths"),
        ({"widths": [(0, 90), (1000, 80)]}, r"both width and widths are given"),
        ({"width": None, "widths": [(0, 90), (500, 80)]}, r"0 mm to 500 mm, the plank from 0 to 1"),
        ({"width": None, "widths": [(0, 90), (0, 80)]}, r"must rise from left to right, none twi"),
        ({"width": None, "widths": [(0, 9), (1000, 8)], "end_width": 8}, r"end_width goes with wi"),
        ({"bearing": 501}, r"two bearings of 501 mm do not lie in 1000 mm"),
        ({"length": 60, "left_cut": -50, "right_cut": -50}, r"cuts or bevels of its two ends meet"),
        ({"length": 30, "right_bevel": -60}, r"cuts or bevels of its two ends meet"),
        (
            {
                "length": 50,
                "thickness": 5,
                "width": None,
                "widths": [[0, 30], [50, 74]],
                "left_cut": 53,
                "left_bevel": 3,
            },
            r"cuts or bevels of its two ends meet",
        ),
        ({"length": 100, "end_width": 12, "right_bevel": 60}, r"runs out to a point at its right"),
        ({"right_cut": 75}, r"less than or equal to 60"),
    ],
)
def test_parameters_that_make_no_plank_are_refused_with_the_reason(changes, says):
    assert re.search(says, refusal(Plank, {**PLAIN, **changes}))


ANGLES = st.floats(-60, 60)


@settings(deadline=None, max_examples=80)
@given(
    length=st.floats(50, 5000),
    thickness=st.floats(5, 80),
    widths=st.lists(st.floats(20, 300), min_size=2, max_size=5),
    straight=st.sampled_from(["middle line", "lower edge"]),
    cuts=st.tuples(ANGLES, ANGLES),
    bevels=st.tuples(ANGLES, ANGLES),
    bearing=st.sampled_from([0, 20]),
)
def test_any_parameters_make_a_sound_plank_or_say_why_not(
    length, thickness, widths, straight, cuts, bevels, bearing
):
    stations = np.linspace(0, length, len(widths)).tolist()
    part = built(
        Plank,
        {
            "length": length,
            "thickness": thickness,
            "widths": list(zip(stations, widths, strict=True)),
            "straight": straight,
            "left_cut": cuts[0],
            "right_cut": cuts[1],
            "left_bevel": bevels[0],
            "right_bevel": bevels[1],
            "bearing": bearing,
        },
    )
    if part is None:
        return
    outline = part.outline()
    assert_sound(outline)
    wood = outline.shape.buffer(1e-6)
    for face in (part.shape(), part.shape(*map(part.spread_mm, bevels))):
        assert wood.covers(face)
        # Both ends are whole: no edge was too short for a slant cut to reach it.
        assert len(set(np.round(np.asarray(face.exterior.coords)[:, 1], 9))) >= 2
