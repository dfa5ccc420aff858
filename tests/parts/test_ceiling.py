import math
import re
from itertools import pairwise

import numpy as np
import pytest
from family_checks import assert_sound, built, refusal
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.outline import STRAIGHT, MarkKind
from parts.curves import arc_radius
from parts.families.ceiling import CeilingStrake
from parts.registry import families

PLAIN = {
    "length": 6000,
    "thickness": 18,
    "width": 110,
    "frame_spacing": 300,
    "first_frame": 150,
}
SPRUNG = {**PLAIN, "width": None, "widths": [(0, 90), (3000, 140), (6000, 70)], "spring": 150}


def strake(**changes):
    return CeilingStrake(**{**PLAIN, **changes})


def test_registry_knows_the_ceiling_strake():
    assert families()["ceiling strake"] is CeilingStrake


def test_plain_strake_is_a_rectangle_along_the_grain():
    outline = strake().outline()
    assert outline.shape.bounds == (0, -55, 6000, 55)
    assert outline.area_mm2 == pytest.approx(6000 * 110)
    assert outline.siding_mm == 18
    assert outline.run_out == STRAIGHT
    assert outline.may_turn_over


def test_every_frame_is_marked_across_the_strake():
    marks = strake().outline().marks
    assert [mark.kind for mark in marks] == [MarkKind.FRAME] * 20
    assert [mark.points[0][0] for mark in marks] == [150 + 300 * n for n in range(20)]
    assert marks[0].label == "frame 1"


def test_strake_without_a_spacing_of_frames_has_none_drawn_on_it():
    part = strake(frame_spacing=None)
    assert part.outline().marks == ()
    assert part.outline().shape.equals(strake().outline().shape)


def test_strake_is_as_thick_as_it_is_called():
    assert strake().outline().thickness_word == "thickness"


def test_widths_hold_at_their_stations_square_to_the_middle_line():
    part = CeilingStrake(**{**SPRUNG, "first_frame": 0})
    widths = {mark.label: math.dist(*mark.points) for mark in part.outline().marks}
    assert widths["frame 11"] == pytest.approx(140)


def test_sprung_strake_of_one_width_is_a_ring_of_two_arcs():
    radius = arc_radius(6000, 150)
    ring = np.asarray(strake(spring=150).outline().shape.exterior.coords)
    from_centre = np.hypot(ring[:, 0] - 3000, ring[:, 1] - (150 - radius))
    off = np.minimum(abs(from_centre - radius - 55), abs(from_centre - radius + 55))
    assert off.max() < 1e-6


def test_lengths_of_a_strake_meet_at_their_butts_and_make_up_the_whole():
    whole = CeilingStrake(**SPRUNG)
    pieces = [CeilingStrake(**SPRUNG, butts=(2250, 4350), piece=piece) for piece in (1, 2, 3)]
    assert [piece.ends_mm for piece in pieces] == [(0, 2250), (2250, 4350), (4350, 6000)]
    total = sum(piece.outline().area_mm2 for piece in pieces)
    assert total == pytest.approx(whole.outline().area_mm2, rel=1e-5)
    for fore, aft in pairwise(pieces):
        shared = fore.outline().shape.intersection(aft.outline().shape)
        assert shared.area < 1e-6
        assert shared.length > 90


def test_butts_have_four_thicknesses_of_whole_wood():
    piece = strake(butts=(3150,), piece=2)
    fore, aft = piece.outline().bearing_zones
    assert (fore.label, aft.label) == ("butt", "aft end")
    assert fore.region.bounds == pytest.approx((3150, -55, 3150 + 72, 55))
    assert aft.region.bounds == pytest.approx((6000 - 72, -55, 6000, 55))


def test_run_out_of_a_short_length_is_less_than_of_the_whole():
    whole = strake(spring=150).outline().run_out
    # An arc leaves its chord at the angle whose half tangent is 2 s / c: 1 in 10.0 here.
    assert whole == pytest.approx(1 / math.tan(2 * math.atan(2 * 150 / 6000)), rel=0.03)
    assert strake(spring=150, butts=(3150,), piece=1).outline().run_out > 1.8 * whole


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"width": None}, r"no width is given"),
        ({"widths": [(0, 90), (6000, 80)]}, r"both width and widths are given"),
        ({"width": None, "widths": [(0, 90), (5000, 80)]}, r"from 0 mm to 5000 mm, the strake"),
        ({"width": None, "widths": [(0, 90), (0, 80)]}, r"stations of the widths must rise"),
        (
            {"width": None, "widths": [(0, 90), (3000, 20), (3200, 200), (6000, 90)]},
            r"the widths do not run fair",
        ),
        ({"butts": (2400,), "piece": 1}, r"butt at 2400 mm is on no frame; .* at 2250|2550 mm"),
        ({"butts": (2250,), "piece": 1, "frame_spacing": None}, r"land on frames: give frame_sp"),
        ({"butts": (2250,)}, r"in 2 lengths: say which one this is, piece: 1 to 2"),
        ({"butts": (2250,), "piece": 3}, r"piece 3 of a strake in 2 lengths"),
        ({"butts": (2550, 2250), "piece": 1}, r"butts must be in order"),
        ({"butts": (150,), "piece": 1, "thickness": 40}, r"from 0 mm to 150 mm.*need 320 mm"),
        ({"spring": 700}, r"spring of 700 mm in 6000 mm is more than a strake can have, 600 mm"),
    ],
)
def test_parameters_that_make_no_strake_are_refused_with_the_reason(changes, says):
    assert re.search(says, refusal(CeilingStrake, {**PLAIN, **changes}))


@settings(deadline=None, max_examples=60)
@given(
    length=st.floats(400, 9000),
    widths=st.lists(st.floats(60, 200), min_size=2, max_size=5),
    spring=st.floats(-0.11, 0.11),
    spacing=st.floats(120, 600),
    butt=st.none() | st.integers(0, 12),
    piece=st.integers(1, 2),
)
def test_any_parameters_make_a_sound_strake_or_say_why_not(
    length, widths, spring, spacing, butt, piece
):
    stations = np.linspace(0, length, len(widths)).tolist()
    part = built(
        CeilingStrake,
        {
            "length": length,
            "thickness": 15,
            "widths": list(zip(stations, widths, strict=True)),
            "spring": spring * length,
            "frame_spacing": spacing,
            "first_frame": spacing / 2,
            "butts": () if butt is None else (spacing * (butt + 0.5),),
            "piece": None if butt is None else piece,
        },
    )
    if part is None:
        return
    outline = part.outline()
    assert_sound(outline)
    assert len(outline.marks) == len(part.frames_mm)
    assert len(outline.bearing_zones) == 2


@pytest.mark.parametrize(
    ("shape", "cure"),
    [
        ({"length": 200}, "make it longer, or take a plank"),
        (
            {"length": 1500, "butts": [600, 900], "piece": 2, "thickness": 40},
            "move the butts apart",
        ),
    ],
)
def test_strake_too_short_for_its_fastenings_says_what_to_do(shape, cure):
    told = refusal(CeilingStrake, {**PLAIN, "thickness": 30, "first_frame": 0, **shape})
    assert "the fastenings of its two ends need" in told and told.endswith(cure)
