import math
import re

import numpy as np
import pytest
import shapely
from family_checks import assert_sound, built, refusal
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nesting.outline import MarkKind
from parts.families.floors import FloorTimber
from parts.registry import families

PLAIN = {
    "siding": 45,
    "moulding": 150,
    "half_span": 520,
    "tip_moulding": 75,
    "seat": 60,
    "deadrise": 22,
    "frame_lap": 230,
}
SECTION = {
    **PLAIN,
    "seat": None,
    "deadrise": None,
    "section": [(60, 10), (200, 35), (350, 80), (480, 160), (560, 260)],
}


def floor(**changes):
    return FloorTimber(**{**PLAIN, **changes})


def test_registry_knows_the_floor_timber():
    assert families()["floor timber"] is FloorTimber


def test_lower_edge_rises_at_the_deadrise_from_the_edge_of_the_seat():
    arm = floor().drawing().arm
    assert arm[0].tolist() == [60, 0]
    assert arm[-1].tolist() == pytest.approx([520, 460 * math.tan(math.radians(22))])


def test_moulding_and_tips_are_as_deep_as_asked():
    drawing = floor().drawing()
    plumb = LineString([(0, -100), (0, 900)]).intersection(drawing.shape())
    assert plumb.bounds[1::2] == pytest.approx((0, 150))
    tip = drawing.tip_top - drawing.arm[-1]
    assert math.hypot(*tip) == pytest.approx(75)
    assert tip @ (drawing.arm[1] - drawing.arm[0]) == pytest.approx(0, abs=1e-9)


def test_both_sides_are_alike():
    shape = floor(limber_width=40, bevel=7).outline().shape
    mirrored = shapely.transform(shape, lambda points: points * [-1, 1])
    assert shape.symmetric_difference(mirrored).area < 1e-6


def test_area_of_a_flat_floor_is_that_of_its_rectangles_and_triangles():
    # No deadrise: 120 wide landing at full depth, then straight tapers to the tips.
    part = floor(deadrise=0, landing=60, hollow_radius=0)
    assert part.outline().area_mm2 == pytest.approx(2 * (60 * 150 + 460 * (150 + 75) / 2))


def test_section_edge_is_fair_through_its_points_from_the_seat_up():
    part = FloorTimber(**SECTION)
    arm = LineString(part.drawing().arm)
    assert part.drawing().arm[0].tolist() == [60, 0]
    assert part.drawing().arm[-1, 0] == 520
    for half_breadth, height in SECTION["section"][:-1]:
        assert arm.distance(Point(half_breadth, height - 10)) < 1e-6


def test_section_along_a_straight_line_is_the_deadrise_floor():
    rise = math.tan(math.radians(22))
    straight = [(y, 7 + rise * (y - 60)) for y in (60, 150, 300, 700)]
    drawn = FloorTimber(**{**SECTION, "section": straight}).outline().shape
    assert drawn.symmetric_difference(floor().outline().shape).area < 1e-3


def test_upper_edge_is_hollow_where_the_tips_stand_higher_and_straight_where_not():
    assert len(floor().drawing().upper_edge()) > 3
    assert len(floor(hollow_radius=0).drawing().upper_edge()) == 2
    assert len(floor(deadrise=5).drawing().upper_edge()) == 2


def test_landing_is_level_at_the_moulding():
    ring = np.asarray(floor(landing=90).outline().shape.exterior.coords)
    top = ring[np.isclose(ring[:, 1], 150)]
    assert (top[:, 0].min(), top[:, 0].max()) == pytest.approx((-90, 90))


def test_limber_holes_stand_off_both_edges_of_the_seat():
    solid, holed = floor().outline(), floor(limber_width=40).outline()
    left, right = shapely.get_parts(solid.shape.difference(holed.shape))
    low, _, high, top = max(left, right, key=lambda hole: hole.centroid.x).bounds
    foot = 20 * math.tan(math.radians(22))
    # On the rising edge the arch springs a little inside its full width of 40.
    assert low == pytest.approx(60, abs=0.01)
    assert 98 < high < 100
    assert top == pytest.approx(foot + 20, abs=0.05)
    assert left.area == pytest.approx(right.area)


def test_low_limber_hole_is_a_flat_arch():
    holed = floor(deadrise=0, limber_width=60, limber_height=12).outline().shape
    lost = floor(deadrise=0).outline().area_mm2 - holed.area
    # Circular segment: area = R^2 (a - sin a) / 2, with R from chord and rise.
    radius = (60**2 / 4 + 12**2) / 24
    angle = 2 * math.asin(30 / radius)
    assert lost == pytest.approx(radius**2 * (angle - math.sin(angle)), rel=5e-3)


def test_keel_bolts_run_up_from_the_seat_and_frame_bolts_through_the_face():
    outline = floor(keel_bolt_offsets=(-30, 30)).outline()
    bolts = [mark for mark in outline.marks if mark.kind is MarkKind.BOLT]
    keel = [mark for mark in bolts if mark.label == "keel bolt"]
    frame = [mark for mark in bolts if mark.label == "frame bolt"]
    assert [sorted(x for x, _ in mark.points) for mark in keel] == [[-30, -30], [30, 30]]
    assert all(min(y for _, y in mark.points) == pytest.approx(0) for mark in keel)
    assert [len(mark.points) for mark in frame] == [1] * 4
    assert {mark.diameter_mm for mark in frame} == {10}


def test_frame_bolts_lie_half_a_tip_moulding_in_from_the_planking():
    part = floor(frame_bolts=3)
    arm = LineString(part.drawing().arm)
    places = [Point(mark.points[0]) for mark in part.outline().marks if mark.label == "frame bolt"]
    assert [arm.distance(place) for place in places if place.x > 0] == pytest.approx([37.5] * 3)


def test_keel_bolt_a_diameter_and_a_half_from_faces_and_edges_is_far_enough():
    # US National Design Specification, 11.5: 1.5 D at an edge along the grain.
    part = floor(keel_bolt=15, keel_bolt_offsets=(60 - 1.5 * 15,))
    assert part.siding_mm == 3 * part.keel_bolt_mm


def test_outermost_frame_bolt_is_seven_diameters_from_the_tip():
    # The end of an arm that ties: 7 D (National Design Specification; Eurocode 5, table 8.4).
    part = floor(frame_bolts=2)
    tip = LineString([part.drawing().arm[-1], part.drawing().tip_top])
    places = [Point(mark.points[0]) for mark in part.outline().marks if mark.label == "frame bolt"]
    assert min(tip.distance(place) for place in places) == pytest.approx(70)


def test_bearing_zones_lie_round_the_keel_bolt_and_along_both_laps():
    zones = floor().outline().bearing_zones
    assert [zone.label for zone in zones] == ["keel bolt", "frame lap", "frame lap"]
    assert zones[0].region.bounds[::2] == pytest.approx((-24, 24))
    assert zones[1].region.area == pytest.approx(230 * 40)


def test_standing_bevel_widens_the_outline_by_its_allowance():
    outline = floor(bevel=6).outline()
    (bevel,) = outline.bevels
    assert bevel.allowance_mm == pytest.approx(45 * math.tan(math.radians(6)))
    tip = floor().drawing().arm[-1]
    assert outline.shape.exterior.distance(Point(tip)) < 1e-9
    corner = np.array(tip) + bevel.allowance_mm * np.array(
        [math.sin(math.radians(22)), -math.cos(math.radians(22))]
    )
    assert outline.shape.exterior.distance(Point(corner)) < 1e-6
    assert "edge on this face" in {mark.label for mark in outline.marks}


def test_under_bevel_needs_no_allowance():
    outline = floor(bevel=-6).outline()
    assert outline.bevels[0].allowance_mm == 0
    assert outline.area_mm2 == pytest.approx(floor().outline().area_mm2)
    assert outline.shape.equals(floor().outline().shape)


def test_bevelled_floor_may_be_turned_over_as_both_sides_are_alike():
    assert floor(bevel=6).outline().may_turn_over
    assert floor(keel_bolt_offsets=(30,)).outline().may_turn_over
    assert not floor(bevel=6, keel_bolt_offsets=(30,)).outline().may_turn_over


def test_run_out_of_straight_grain_is_the_deadrise():
    assert floor().outline().run_out == pytest.approx(1 / math.tan(math.radians(22)))
    assert floor(grain="grown").outline().run_out > 6


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"deadrise": None}, r"deadrise or from section points: neither is given"),
        ({"section": SECTION["section"]}, r"both are given, give one"),
        ({"seat": None}, r"seat goes with deadrise"),
        ({"seat": 600}, r"seat's half width of 600 mm reaches the arm's tip at 520 mm"),
        ({"tip_moulding": 190}, r"the arms are .* less than at the tips, 190 mm"),
        ({"deadrise": 2, "hollow_radius": 100}, r"cannot be hollow: give a hollow radius of 0"),
        ({"hollow_radius": 5000}, r"radius of 5000 mm runs past the tips; the largest here is"),
        ({"landing": 500}, r"landing reaches 500 mm .* past the tip's upper corner"),
        ({"limber_width": 40, "limber_height": 90}, r"90 mm high takes more than half"),
        ({"limber_width": 40, "limber_offset": 15}, r"15 mm from the centreline crosses it"),
        ({"limber_width": 40, "limber_offset": 40}, r"run into the bearing wood of a bolt"),
        ({"limber_width": 40, "limber_offset": 400}, r"run into the bearing wood of a bolt"),
        (
            {"keel_bolt": 25},
            r"25 mm needs 1\.5 diameters .* a siding of 75 mm.* of 15\.0 mm or thin",
        ),
        (
            {"keel_bolt_offsets": (43,)},
            r"at 43 mm .* nearer than 1\.5 diameters .* move it in to 42",
        ),
        (
            {"keel_bolt_offsets": (-20, 20)},
            r"two keel bolts of 12 mm stand 40 mm apart.*4 diameters, 48 mm: move them apart",
        ),
        ({"seat": 15}, r"nearer than 1\.5 diameters to the edge of the seat.*give a thinner bolt"),
        ({"frame_bolt": 30}, r"takes more than a third of the tip moulding of 75 mm"),
        (
            {"frame_bolt": 22, "bevel": -15, "seat_bevel": -15},
            r"tip moulding of 75 mm, of which the bevel takes 12\.1 mm: give a thinner",
        ),
        ({"frame_bolts": 6}, r"6 bolts of 10 mm need 200\.0 mm in a row"),
        ({"frame_lap": 800}, r"laps 800 mm of an arm that is 496\.1 mm long"),
        ({"deadrise": 0, "bevel": 6}, r"sink the arms below the seat.*give the seat a bevel too"),
        ({"deadrise": 0, "bevel": -6}, r"leave no seat on the far face"),
        ({"seat": 20, "keel_bolt": 12, "bevel": -40}, r"leaves? no seat on the far face"),
    ],
)
def test_parameters_that_make_no_floor_are_refused_with_the_reason(changes, says):
    assert re.search(says, refusal(FloorTimber, {**PLAIN, **changes}))


@pytest.mark.parametrize("bevel", [-15, 0, 15])
def test_frame_bolts_stand_in_the_middle_of_what_both_faces_have(bevel):
    """Of the tip's 75 mm an under bevel takes 45 mm x tan(15 deg) on the far face."""
    outline = floor(bevel=bevel, seat_bevel=bevel).outline()
    left = 75 - (45 * math.tan(math.radians(15)) if bevel < 0 else 0)
    bolts = [mark for mark in outline.marks if mark.kind is MarkKind.BOLT and len(mark.points) == 1]
    assert len(bolts) == 4
    for bolt in bolts:
        off = outline.bung_room.boundary.distance(Point(bolt.points[0]))
        assert off == pytest.approx(left / 2, abs=0.05)


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ([(60, 0), (400, 100)], r"ends at a half-breadth of 400 mm, short of"),
        ([(0, 0), (600, 100)], r"has a half-breadth of 0 mm; it must be over 0"),
        ([(60, 0), (300, 80), (200, 90), (600, 200)], r"does not run fair outward and upward"),
        ([(60, 50), (300, 20), (600, 200)], r"does not run fair outward and upward"),
    ],
)
def test_section_that_makes_no_floor_is_refused_with_the_reason(section, says):
    assert re.search(says, refusal(FloorTimber, {**SECTION, "section": section}))


@settings(deadline=None, max_examples=80)
@given(
    half_span=st.floats(150, 1500),
    moulding=st.floats(60, 400),
    tip=st.floats(0.2, 1),
    seat=st.floats(15, 100),
    deadrise=st.floats(0, 60),
    landing=st.sampled_from([0.0, 30.0]),
    limber=st.sampled_from([0.0]) | st.floats(10, 60),
    bevel=st.sampled_from([0.0]) | st.floats(-25, 25),
    seat_bevel=st.sampled_from([0.0]) | st.floats(-10, 10),
    bolts=st.integers(0, 3),
    grain=st.sampled_from(["straight", "grown"]),
)
# Its tips lean in past the middle of the arms.
@example(150.0, 107.0, 1.0, 100.0, 37.0, 0.0, 0.0, 0.0, 1.0, 0, "straight")
def test_any_parameters_make_a_sound_floor_or_say_why_not(
    half_span, moulding, tip, seat, deadrise, landing, limber, bevel, seat_bevel, bolts, grain
):
    part = built(
        FloorTimber,
        {
            "siding": 40,
            "moulding": moulding,
            "half_span": half_span,
            "tip_moulding": tip * moulding,
            "seat": seat,
            "deadrise": deadrise,
            "landing": landing,
            "limber_width": limber,
            "bevel": bevel,
            "seat_bevel": seat_bevel,
            "keel_bolt": 10,
            "frame_lap": 0.4 * half_span,
            "frame_bolts": bolts,
            "frame_bolt": 8,
            "grain": grain,
        },
    )
    if part is None:
        return
    outline = part.outline()
    assert_sound(outline)
    assert len(outline.bearing_zones) == 3


@settings(deadline=None, max_examples=40)
@given(
    runs=st.lists(st.floats(40, 300), min_size=2, max_size=5),
    rises=st.lists(st.floats(0, 200), min_size=5, max_size=5),
    bevel=st.sampled_from([0.0]) | st.floats(-15, 15),
)
def test_any_section_makes_a_sound_floor_or_says_why_not(runs, rises, bevel):
    points = np.column_stack(
        [50 + np.cumsum([0, *runs]), np.cumsum([0, *rises[: len(runs)]])]
    ).tolist()
    part = built(
        FloorTimber,
        {
            **SECTION,
            "section": points,
            "half_span": 0.95 * points[-1][0],
            "moulding": 260,
            "tip_moulding": 50,
            "frame_lap": 60,
            "frame_bolts": 1,
            "bevel": bevel,
        },
    )
    if part is not None:
        assert_sound(part.outline())
