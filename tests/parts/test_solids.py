"""Solids against outlines: without bevels exactly a prism, with them the analytic volume."""

import math
import subprocess
import sys

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from parts.families.beams import DeckBeam
from parts.families.ceiling import CeilingStrake
from parts.families.floors import FloorTimber
from parts.families.knees import Knee
from parts.part import Part
from parts.solids import prism, volume_mm3

FLOOR = {
    "siding": 45,
    "moulding": 150,
    "half_span": 520,
    "tip_moulding": 75,
    "frame_lap": 230,
}
V_FLOOR = {**FLOOR, "seat": 60, "deadrise": 22}
SECTION = [(60, 10), (200, 35), (350, 80), (480, 160), (560, 260)]
KNEE = {
    "kind": "lodging",
    "siding": 50,
    "beam_arm": 380,
    "side_arm": 480,
    "throat": 150,
    "tip_moulding": 55,
}
SQUARE = {
    "floor": FloorTimber(**V_FLOOR, limber_width=40),
    "floor of a section": FloorTimber(**FLOOR, section=SECTION),
    "beam": DeckBeam(span=3000, siding=45, moulding=90, camber=94, bearing=90, end_moulding=70),
    "half beam": DeckBeam(
        span=3000, siding=45, moulding=90, camber=94, bearing=90, half_from=400, curve="parabola"
    ),
    "knee": Knee(**KNEE, heel_cut=15),
    "strake": CeilingStrake(
        length=6000,
        thickness=18,
        widths=[(0, 90), (3000, 140), (6000, 70)],
        spring=150,
        frame_spacing=300,
        butts=(2400,),
        piece=2,
    ),
}


def face_area(solid, selector: str) -> float:
    return float(solid.faces(selector).val().Area())


@pytest.mark.parametrize("name", SQUARE)
def test_square_part_is_its_outline_times_its_siding(name):
    part = SQUARE[name]
    assert isinstance(part, Part)
    outline, solid = part.outline(), part.solid()
    assert volume_mm3(solid) == pytest.approx(outline.area_mm2 * outline.siding_mm, rel=1e-9)
    corners = solid.val().BoundingBox()
    assert (corners.zmin, corners.zmax) == pytest.approx((0, outline.siding_mm), abs=1e-6)
    assert (corners.xmin, corners.xmax) == pytest.approx(outline.shape.bounds[::2], abs=1e-6)
    assert solid.val().isValid()


def test_prism_keeps_cut_outs():
    frame = Polygon(box(0, 0, 100, 50).exterior.coords, [box(20, 10, 60, 40).exterior.coords])
    assert volume_mm3(prism(frame, 8)) == pytest.approx((5000 - 1200) * 8)


@pytest.mark.parametrize("bevel", [8.0, -8.0], ids=["standing", "under"])
def test_volume_of_a_bevelled_floor_is_analytic(bevel):
    solid = FloorTimber(**V_FLOOR, bevel=bevel).solid()
    square = FloorTimber(**V_FLOOR).outline().area_mm2 * 45
    # Moved out by t, an arm's edge gains a strip of length L - t cot(deadrise), as the seat's
    # plane cuts it; with t = z tan(bevel) over the siding S that is, per arm,
    # L S^2 tan(bevel) / 2 - S^3 tan(bevel)^2 cot(deadrise) / 6.
    length, slope = 460 / math.cos(math.radians(22)), math.tan(math.radians(bevel))
    wedge = length * 45**2 * slope / 2 - 45**3 * slope**2 / math.tan(math.radians(22)) / 6
    assert volume_mm3(solid) == pytest.approx(square + 2 * wedge, rel=1e-9)
    assert solid.val().isValid()


@pytest.mark.parametrize(
    ("bevel", "seat_bevel"), [(8, 0), (-8, 0), (8, 3), (-8, -3), (6, -2), (-6, 2)]
)
def test_faces_of_a_bevelled_floor_are_the_sections_there(bevel, seat_bevel):
    part = FloorTimber(**V_FLOOR, bevel=bevel, seat_bevel=seat_bevel, limber_width=40)
    drawing, solid = part.drawing(), part.solid()
    far = drawing.shape(45 * math.tan(math.radians(bevel)), 45 * math.tan(math.radians(seat_bevel)))
    assert face_area(solid, "<Z") == pytest.approx(drawing.shape().area, rel=1e-9)
    assert face_area(solid, ">Z") == pytest.approx(far.area, rel=1e-9)
    assert volume_mm3(solid) <= part.outline().area_mm2 * 45


@pytest.mark.parametrize("bevel", [7, -7])
def test_floor_of_a_section_is_bevelled_along_the_whole_curve(bevel):
    part = FloorTimber(**FLOOR, section=SECTION, bevel=bevel)
    drawing, spread = part.drawing(), 45 * math.tan(math.radians(bevel))
    areas = [drawing.shape(share * spread).area for share in np.linspace(0, 1, 11)]
    # Simpson's first rule over eleven sections; exact for areas quadratic in z.
    weights = np.array([1, 4, 2, 4, 2, 4, 2, 4, 2, 4, 1])
    solid = part.solid()
    assert volume_mm3(solid) == pytest.approx(weights @ areas * 4.5 / 3, rel=1e-6)
    assert face_area(solid, "<Z") == pytest.approx(areas[0], rel=1e-9)
    assert face_area(solid, ">Z") == pytest.approx(areas[-1], rel=1e-9)


@pytest.mark.parametrize("hand", ["as drawn", "mirrored"])
@pytest.mark.parametrize("bevel", [12.0, -12.0], ids=["standing", "under"])
@pytest.mark.parametrize("angle", [75, 90, 110])
def test_volume_of_a_bevelled_knee_is_analytic(bevel, hand, angle):
    solid = Knee(**KNEE, bevel=bevel, hand=hand, angle=angle).solid()
    square = Knee(**KNEE, angle=angle).outline().area_mm2 * 50
    # Moved out by t, the side arm's edge gains a strip of length L + t cot(angle): the heel
    # runs on along the beam's arm.
    slope, cotangent = math.tan(math.radians(bevel)), 1 / math.tan(math.radians(angle))
    wedge = 480 * 50**2 * slope / 2 + 50**3 * slope**2 * cotangent / 6
    assert volume_mm3(solid) == pytest.approx(square + wedge, rel=1e-9)
    assert solid.val().isValid()


def test_families_and_their_outlines_do_not_load_the_solid_modeller():
    program = (
        "import sys\n"
        "from parts.registry import families\n"
        "families()['knee'](kind='hanging', siding=50, beam_arm=380, side_arm=480, throat=150,"
        " tip_moulding=55).outline()\n"
        "sys.exit('cadquery' in sys.modules)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
