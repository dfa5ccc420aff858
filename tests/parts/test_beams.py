import re

import numpy as np
import pytest
import shapely
from family_checks import assert_sound, built, refusal
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.grain import straight_grain
from nesting.outline import MarkKind
from nesting.units import MM_PER_INCH, Unit
from parts.curves import CrownShape
from parts.families.beams import DeckBeam
from parts.registry import families

PLAIN = {"span": 3000, "siding": 45, "moulding": 90, "camber": 94, "bearing": 90}
MOULD = {"siding": 45, "moulding": 90, "bearing": 90}


def beam(**changes):
    return DeckBeam(**{**PLAIN, **changes})


def test_registry_knows_the_deck_beam():
    assert families()["deck beam"] is DeckBeam


def test_crown_of_three_eighths_in_a_foot_on_a_ten_foot_beam():
    # 3/8 in per foot of beam is a usual crown (common practice, no source); R is computed.
    given = {"span": "10 ft", "siding": "1 3/4 in", "moulding": "3 1/2 in", "bearing": "3 in"}
    part = DeckBeam.model_validate(
        {**given, "mould_radius": "481.875 in"}, context={"unit": Unit.INCH}
    )
    assert part.rise_mm == pytest.approx(10 * 3 / 8 * MM_PER_INCH)


@pytest.mark.parametrize(("inches", "rise"), [(96, 2.3966), (72, 1.3466), (48, 0.5980)])
def test_one_mould_gives_shorter_beams_less_rise(inches, rise):
    # Computed from R = 481.875 in; one mould for all beams is common practice,
    # no source.
    by_radius = DeckBeam(span=inches, mould_radius=481.875, **{**MOULD, "bearing": 5})
    by_mould = DeckBeam(span=inches, mould_span=120, mould_camber=3.75, **{**MOULD, "bearing": 5})
    assert by_radius.rise_mm == pytest.approx(rise, abs=5.1e-5)
    assert by_mould.rise_mm == pytest.approx(by_radius.rise_mm)


def test_beam_of_a_parabola_mould_lies_on_the_mould():
    short = DeckBeam(span=2000, mould_span=3000, mould_camber=90, curve="parabola", **MOULD)
    assert short.rise_mm == pytest.approx(90 * (2000 / 3000) ** 2)
    upper, _ = short.edges()
    mould = 90 * (1 - (2 * upper[:, 0] / 3000) ** 2)
    assert upper[:, 1] - upper[0, 1] == pytest.approx(mould - mould[0])


def test_ends_are_plumb_and_as_deep_as_asked():
    shape = beam(end_moulding=65).outline().shape
    ring = np.asarray(shape.exterior.coords)
    for x in (-1500.0, 1500.0):
        heights = np.unique(ring[np.isclose(ring[:, 0], x), 1])
        assert heights == pytest.approx([-65, 0])
    assert shapely.LineString([(0, -500), (0, 500)]).intersection(shape).length == pytest.approx(90)


def test_area_agrees_with_the_integral_of_a_parabolic_beam():
    # Both edges are parabolas: mean depth is end depth and two thirds of the difference.
    part = beam(curve="parabola", end_moulding=60)
    assert part.outline().area_mm2 == pytest.approx(3000 * (60 + 30 * 2 / 3), rel=1e-5)


def test_area_is_that_of_the_surveyors_formula():
    # Surveyor's (shoelace) formula: half the sum of x(i) y(i+1) - x(i+1) y(i).
    shape = beam(end_moulding=65).outline().shape
    x, y = np.asarray(shape.exterior.coords).T
    assert shape.area == pytest.approx(abs(x[:-1] @ y[1:] - x[1:] @ y[:-1]) / 2)


def test_whole_beam_bears_the_centreline_and_both_shelves():
    outline = beam().outline()
    assert [mark.kind for mark in outline.marks] == [
        MarkKind.CENTRELINE,
        MarkKind.REFERENCE,
        MarkKind.REFERENCE,
    ]
    assert [zone.label for zone in outline.bearing_zones] == ["shelf bearing"] * 2
    for zone in outline.bearing_zones:
        low, _, high, _ = zone.region.bounds
        assert high - low == pytest.approx(90)
    assert outline.may_turn_over


def test_half_beam_ends_square_at_its_carlin_with_the_crown_of_the_whole():
    whole, half = beam(), beam(half_from=420)
    outline = half.outline()
    assert outline.shape.bounds[0] == 420
    assert outline.shape.difference(whole.outline().shape.buffer(0.06)).is_empty
    assert outline.bearing_zones[0].label == "carlin bearing"
    assert all(mark.kind is not MarkKind.CENTRELINE for mark in outline.marks)
    assert outline.run_out > whole.outline().run_out


def test_run_out_of_straight_grain_is_the_slope_of_the_crown_at_its_ends():
    # A parabola ends at the slope 4 s / c: 1 in 8 for 94 in 3008.
    outline = beam(span=3008, curve="parabola").outline()
    assert outline.run_out == pytest.approx(8, rel=0.03)
    assert outline.grain.angles_deg == straight_grain().angles_deg


def test_grown_sweep_of_even_depth_has_no_run_out():
    assert beam(grain="grown").outline().run_out > 1000
    assert beam(grain="grown", end_moulding=60).outline().run_out > 50


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"camber": None}, r"0 of the three ways .* must be one"),
        ({"mould_radius": 9000}, r"2 of the three ways"),
        ({"camber": None, "mould_span": 4000}, r"needs both its span and its camber"),
        ({"camber": None, "mould_radius": 9000, "curve": "parabola"}, r"a parabola has no radius"),
        ({"camber": None, "mould_radius": 1400}, r"1400 mm radius spans 2800 mm at most"),
        (
            {"camber": None, "mould_span": 2500, "mould_camber": 80},
            r"3000 mm long, the beam mould only 2500 mm",
        ),
        (
            {"camber": None, "mould_span": 3200, "mould_camber": 2000},
            r"the beam mould rises 2000\.0 mm over 3200 mm, must be at most a quarter",
        ),
        ({"camber": 800}, r"the beam rises 800\.0 mm over 3000 mm.*per foot"),
        ({"half_from": 1500}, r"begins 1500 mm from the centreline.*move the carlin inboard"),
        ({"half_from": 1350}, r"two bearings of 90 mm take more than the length of 150 mm"),
        ({"end_moulding": 95}, r"ends are 95 mm deep, more than the middle at 90 mm"),
        (
            {"span": 400, "camber": 0, "moulding": 180, "end_moulding": 60},
            r"with this taper the lower edge bends 120\.0 mm over 400 mm",
        ),
    ],
)
def test_parameters_that_make_no_beam_are_refused_with_the_reason(changes, says):
    assert re.search(says, refusal(DeckBeam, {**PLAIN, **changes}))


@settings(deadline=None, max_examples=60)
@given(
    span=st.floats(200, 8000),
    moulding=st.floats(20, 300),
    taper=st.floats(0.4, 1),
    crown=st.floats(0, 0.26),
    curve=st.sampled_from(CrownShape),
    half=st.none() | st.floats(0.05, 0.45),
    bearing=st.floats(10, 200),
    grain=st.sampled_from(["straight", "grown"]),
)
def test_any_parameters_make_a_sound_beam_or_say_why_not(
    span, moulding, taper, crown, curve, half, bearing, grain
):
    part = built(
        DeckBeam,
        {
            "span": span,
            "siding": 40,
            "moulding": moulding,
            "end_moulding": taper * moulding,
            "camber": crown * span,
            "curve": curve,
            "half_from": half and half * span,
            "bearing": bearing,
            "grain": grain,
        },
    )
    if part is None:
        return
    assert_sound(part.outline())
    assert len(part.outline().bearing_zones) == 2
