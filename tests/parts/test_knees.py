import math
import re

import numpy as np
import pytest
import shapely
from family_checks import assert_sound, built, refusal
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nesting.grain import straight_grain
from nesting.outline import MarkKind
from parts.families.knees import Knee
from parts.registry import families
from parts.wood.cross_grain import strength_left

PLAIN = {
    "kind": "hanging",
    "siding": 50,
    "beam_arm": 380,
    "side_arm": 480,
    "throat": 150,
    "tip_moulding": 55,
}


def knee(**changes):
    return Knee(**{**PLAIN, **changes})


def test_registry_knows_the_knee():
    assert families()["knee"] is Knee


def test_throat_is_the_wood_on_the_diagonal():
    diagonal = LineString([(0, -1000), (0, 1000)])
    on_wood = diagonal.intersection(knee().outline().shape)
    assert on_wood.bounds[1::2] == pytest.approx((0, 150))


@pytest.mark.parametrize("angle", [60, 90, 118.5])
def test_arms_have_their_lengths_their_angle_and_their_tips(angle):
    corners = knee(angle=angle).outer_corners()
    arms = corners[[0, 2]] - corners[1]
    assert np.hypot(*arms.T) == pytest.approx([380, 480])
    cosine = arms[0] @ arms[1] / (380 * 480)
    assert math.degrees(math.acos(cosine)) == pytest.approx(angle)
    left, right = knee(angle=angle).inner_edges()
    assert np.hypot(*(left[0] - corners[0])) == pytest.approx(55)
    assert np.hypot(*(right[0] - corners[2])) == pytest.approx(55)


def test_hollow_is_one_arc_of_the_radius_given_square_to_the_diagonal():
    for edge in knee(hollow_radius=120).inner_edges():
        arc = edge[1:]
        assert np.hypot(arc[:, 0], arc[:, 1] - (150 + 120)) == pytest.approx(120)
        assert arc[-1] == pytest.approx([0, 150])


def test_arms_are_nowhere_thinner_than_their_tips():
    part = knee(angle=110, throat=120)
    for edge, outer in zip(part.inner_edges(), ((0, 1), (1, 2)), strict=True):
        line = LineString(part.outer_corners()[list(outer)])
        assert line.distance(LineString(edge)) >= 55 - 0.05


def test_grain_of_a_sawn_knee_runs_square_across_the_throat():
    outline = knee().outline()
    assert outline.grain.angles_deg == (0.0,)
    # Both arms of a right angled knee lie at 45 degrees to it: a run-out of 1 in 1.
    assert outline.run_out == pytest.approx(1, abs=0.05)


def test_grown_crook_keeps_far_nearer_to_the_grain():
    assert knee(grain="grown").outline().run_out > 4
    assert not knee(grain="grown").outline().grain.is_straight


def test_mirrored_knee_is_the_mirror_image():
    drawn, mirrored = knee(bevel=8).outline(), knee(bevel=8, hand="mirrored").outline()
    image = shapely.transform(drawn.shape, lambda points: points * [-1, 1])
    assert mirrored.shape.symmetric_difference(image).area < 1e-6


def test_bolts_run_square_from_the_outer_edges_through_both_arms():
    part = knee(bolts=2)
    bolts = [mark for mark in part.outline().marks if mark.kind is MarkKind.BOLT]
    assert len(bolts) == 4
    for bolt in bolts:
        start, end = (np.array(point) for point in bolt.points)
        side = math.copysign(1, start[0])
        assert abs((end - start) @ part.along(int(side))) < 1e-6
        assert np.hypot(*(end - start)) > 55
    labels = [zone.label for zone in part.outline().bearing_zones]
    assert labels == ["throat"] + ["knee bolt"] * 4


def test_outermost_knee_bolts_are_seven_diameters_from_the_tips():
    # US National Design Specification (from memory) and Eurocode 5, table 8.4: a loaded end.
    part = knee(bolts=2)
    ends = [LineString([t, part.inner_tip(s)]) for s, t in ((-1, part.outer_corners()[0]),)]
    bolts = [mark for mark in part.outline().marks if mark.kind is MarkKind.BOLT]
    assert min(ends[0].distance(LineString(b.points)) for b in bolts) == pytest.approx(7 * 12)


def test_ship_s_knees_of_the_sizes_in_use_can_be_made_and_are_deepest_at_the_throat():
    # Wing 2 to 9 ft, 4 to 12 in thick, commonly 3 1/2 ft by 6 to 8 in; "as deep as possible" at
    # the throat: P. Matthew, On Naval Timber and Arboriculture, 1831, part I.
    inch = 25.4
    for wing, thick in ((24, 4), (42, 7), (108, 12)):
        part = knee(
            siding=thick * inch, beam_arm=wing * inch, side_arm=wing * inch,
            throat=wing / 2.5 * inch, tip_moulding=thick * inch, bolt=22, grain="grown",
        )  # fmt: skip
        shape, diagonal = part.outline().shape, part.throat_mm
        circle = shapely.maximum_inscribed_circle(shape, tolerance=1.0)
        assert Point(circle.coords[0]).distance(Point(0, diagonal / 2)) < diagonal / 2
        assert part.outline().grain.points != straight_grain().points


def test_sawn_knee_is_as_weak_in_its_arms_as_the_handbook_s_formula_says():
    # Knees are grown to form, "never from straight plank, where part would be cross grain"
    # (Nicholls's Seamanship, p. 104). At 45 degrees, by hand from the Wood Handbook's eq. 5-2
    # with the curve of p. 5-30 (FPL-GTR-282): 0.1 / (0.70711^1.5 + 0.1 * 0.70711^1.5) = 0.1529.
    sawn, grown = knee().outline(), knee(grain="grown").outline()
    assert strength_left(sawn.run_out).bending == pytest.approx(0.1529, abs=2e-4)
    assert strength_left(grown.best_run).bending < 0.5  # on straight wood a grown one is no better
    assert strength_left(grown.run_out).bending > 0.7


def test_quarter_knee_names_its_arms_transom_and_side():
    labels = {mark.label for mark in knee(kind="quarter").outline().marks}
    assert {"to the transom", "to the side"} <= labels
    assert "to the beam" in {mark.label for mark in knee().outline().marks}


def test_standing_bevel_is_held_by_the_outline_and_may_not_be_turned_over():
    plain, outline = knee().outline(), knee(bevel=10).outline()
    (bevel,) = outline.bevels
    assert bevel.allowance_mm == pytest.approx(50 * math.tan(math.radians(10)))
    assert plain.shape.difference(outline.shape.buffer(1e-6)).is_empty
    assert plain.may_turn_over
    assert not outline.may_turn_over
    assert "edge on this face" in {mark.label for mark in outline.marks}


def test_under_bevel_needs_no_allowance():
    outline = knee(bevel=-10).outline()
    assert outline.bevels[0].allowance_mm == 0
    assert outline.area_mm2 == pytest.approx(knee().outline().area_mm2)


def test_heel_cut_takes_a_triangle_off_the_heel():
    cut = knee(heel_cut=20).outline()
    assert knee().outline().area_mm2 - cut.area_mm2 == pytest.approx(20 * 20)
    assert cut.shape.bounds[1] == pytest.approx(20)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"throat": 70}, r"the throat is 70 mm.*must be over 77\.8 mm"),
        ({"throat": 320}, r"the throat is 320 mm.*under 307\.6 mm, where there is no hollow"),
        ({"hollow_radius": 900}, r"hollow radius of 900 mm.*the largest here is"),
        ({"beam_arm": 50}, r"arms of 50 mm and 480 mm are too short for a tip moulding of 55 mm"),
        ({"bolts": 8}, r"8 bolts of 12 mm need 336\.0 mm in a row, there is room for"),
        ({"bolt": 18}, r"knee bolt of 18 mm needs 1\.5 diameters .* a siding of 54 mm"),
        ({"heel_cut": 60}, r"60 mm off the heel.*take off 37\.5 mm at most"),
    ],
)
def test_parameters_that_make_no_knee_are_refused_with_the_reason(changes, says):
    assert re.search(says, refusal(Knee, {**PLAIN, **changes}))


@settings(deadline=None, max_examples=80)
@given(
    beam_arm=st.floats(80, 1500),
    ratio=st.floats(0.6, 1.6),
    angle=st.floats(40, 150),
    throat=st.floats(1.01, 3),
    tip=st.floats(15, 120),
    bolts=st.integers(0, 3),
    bevel=st.sampled_from([0.0]) | st.floats(-45, 45),
    hand=st.sampled_from(["as drawn", "mirrored"]),
    grain=st.sampled_from(["straight", "grown"]),
    heel=st.sampled_from([0.0, 8.0]),
)
def test_any_parameters_make_a_sound_knee_or_say_why_not(
    beam_arm, ratio, angle, throat, tip, bolts, bevel, hand, grain, heel
):
    part = built(
        Knee,
        {
            "kind": "lodging",
            "siding": 45,
            "beam_arm": beam_arm,
            "side_arm": ratio * beam_arm,
            "angle": angle,
            "throat": throat * tip / math.sin(math.radians(angle / 2)),
            "tip_moulding": tip,
            "bolts": bolts,
            "bevel": bevel,
            "hand": hand,
            "grain": grain,
            "heel_cut": heel,
        },
    )
    if part is None:
        return
    outline = part.outline()
    assert_sound(outline)
    assert sum(mark.kind is MarkKind.BOLT for mark in outline.marks) == 2 * bolts


@pytest.mark.parametrize(
    ("arms", "angle", "tip", "throat"),
    [
        ((80, 80), 105, 95, 123.49),  # both tips below where the grain of others bends
        ((111.3, 83.06), 131.54, 107.2, 129.14),
        ((108.6, 68.69), 138, 52.15, 71.98),  # one of them
    ],
)
def test_grain_of_a_blunt_grown_knee_runs_on_without_turning_back(arms, angle, tip, throat):
    given = {"beam_arm": arms[0], "side_arm": arms[1], "angle": angle, "throat": throat}
    knee = built(Knee, {**PLAIN, **given, "tip_moulding": tip, "bolts": 0, "grain": "grown"})
    points = np.array(knee.grain_path().points)
    assert np.isfinite(points).all()
    assert (np.diff(points[:, 0]) > -1e-9).all()
