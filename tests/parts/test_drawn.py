import math

import ezdxf
import pytest
from ezdxf import units
from pydantic import ValidationError
from shapely.geometry import Polygon

from nesting.outline import STRAIGHT
from nesting.units import Unit
from parts.families.drawn import DrawnOutlinePart, run_out_of
from parts.registry import families
from parts.solids import volume_mm3

PLATE = [(100, 50), (700, 50), (700, 200), (100, 200)]


@pytest.fixture
def drawing():
    document = ezdxf.new("R2010", units=units.MM)
    document.layers.add("ZONES")
    return document


def part(document, folder, unit=Unit.MM, **given):
    document.saveas(folder / "part.dxf")
    data = {"file": "part.dxf", "siding": 40, **given}
    return DrawnOutlinePart.model_validate(data, context={"unit": unit, "folder": folder})


def _plate(document):
    document.modelspace().add_lwpolyline(PLATE, close=True)
    return document


def test_family_is_in_the_registry():
    assert families()["drawn outline"] is DrawnOutlinePart


def test_outline_is_moved_to_the_origin(drawing, tmp_path):
    outline = part(_plate(drawing), tmp_path).outline()
    assert outline.shape.bounds == (0, 0, 600, 150)
    assert (outline.siding_mm, outline.run_out, outline.may_turn_over) == (40, STRAIGHT, True)


def test_parameters_reach_the_outline(drawing, tmp_path):
    given = {"grain": 10, "slope_of_grain": "1 in 8", "may_turn_over": False}
    outline = part(_plate(drawing), tmp_path, **given).outline()
    assert outline.grain.angles_deg == pytest.approx((10,))
    assert (outline.slope_of_grain, outline.may_turn_over) == (8, False)
    assert outline.run_out == pytest.approx(1 / math.tan(math.radians(10)), rel=1e-6)


def test_siding_is_in_the_projects_unit_and_the_drawing_in_its_own(drawing, tmp_path):
    outline = part(_plate(drawing), tmp_path, unit=Unit.INCH, siding=2).outline()
    assert outline.siding_mm == pytest.approx(50.8)
    assert outline.length_mm == 600


def test_plank_out_of_a_drawing_has_a_thickness_and_a_timber_a_siding(drawing, tmp_path):
    timber = part(_plate(drawing), tmp_path).outline()
    plank = part(drawing, tmp_path, siding=None, thickness=18).outline()
    assert (timber.thickness_word, timber.siding_mm) == ("siding", 40)
    assert (plank.thickness_word, plank.siding_mm) == ("thickness", 18)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"siding": None}, "no thickness is given: give the thickness of a plank, or the siding"),
        ({"thickness": 18}, "both thickness and siding are given: give the thickness of a plank"),
    ],
)
def test_drawing_wants_one_thickness(drawing, tmp_path, given, says):
    with pytest.raises(ValidationError, match=says):
        part(_plate(drawing), tmp_path, **given)


def test_rings_inside_are_cut_out_of_the_solid_too(drawing, tmp_path):
    space = _plate(drawing).modelspace()
    space.add_lwpolyline([(200, 100), (300, 100), (300, 150), (200, 150)], close=True)
    made = part(drawing, tmp_path)
    assert len(made.outline().shape.interiors) == 1
    assert volume_mm3(made.solid()) == pytest.approx((600 * 150 - 100 * 50) * 40)


def test_bearing_zones_move_with_the_outline_and_are_no_cut_outs(drawing, tmp_path):
    space = _plate(drawing).modelspace()
    space.add_lwpolyline(
        [(100, 50), (160, 50), (160, 200), (100, 200)], close=True, dxfattribs={"layer": "ZONES"}
    )
    outline = part(drawing, tmp_path, bearing_zones="ZONES").outline()
    assert [zone.region.bounds for zone in outline.bearing_zones] == [(0, 0, 60, 150)]
    assert outline.shape.area == 600 * 150


def test_one_of_several_outlines_is_chosen_by_number(drawing, tmp_path):
    space = _plate(drawing).modelspace()
    space.add_lwpolyline([(0, 900), (300, 900), (300, 990), (0, 990)], close=True)
    assert part(drawing, tmp_path, number=2).outline().shape.bounds == (0, 0, 300, 90)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "there are 2 outlines, on layers 0; say which with layer: or number:"),
        ({"number": 3}, "there are 2 outlines"),
        ({"layer": "CUT"}, "nothing is drawn on a layer 'CUT'; layers in use: 0"),
        ({"file": "none.dxf"}, r"none\.dxf: there is no such file"),
        ({"siding": 900}, "less than or equal to 600"),
    ],
)
def test_drawing_that_gives_no_one_outline_says_why(drawing, tmp_path, given, message):
    space = _plate(drawing).modelspace()
    space.add_lwpolyline([(0, 900), (300, 900), (300, 990), (0, 990)], close=True)
    with pytest.raises(ValidationError, match=message):
        part(drawing, tmp_path, **given)


def test_run_out_of_a_taper_is_its_slope():
    taper = Polygon([(0, 0), (1200, 0), (1200, 100), (0, 200)])
    assert run_out_of(taper, 0) == pytest.approx(12)


def test_run_out_of_a_parallelogram_laid_along_its_edges_is_none():
    assert run_out_of(Polygon([(0, 0), (1000, 0), (1100, 100), (100, 100)]), 0) == STRAIGHT


def test_run_out_of_an_arc_is_worst_where_its_edges_end():
    """A ring segment of mean radius R over 2a: slope tan(a) at its ends, by geometry; the tenth
    at either end is left out, so it shows as sin(b) = 0.8 sin(a)."""
    angles = [math.radians(90 + 20 * (1 - i / 100)) for i in range(201)]
    outer = [(2000 * math.cos(a), 2000 * math.sin(a)) for a in angles]
    inner = [(1900 * math.cos(a), 1900 * math.sin(a)) for a in angles]
    reach = 2000 * math.sin(math.radians(20))
    worst = math.asin(0.8 * reach / 1900)
    assert run_out_of(Polygon(outer + inner[::-1]), 0) == pytest.approx(
        1 / math.tan(worst), rel=0.1
    )


def test_shoulder_of_a_notch_is_no_edge():
    notched = Polygon([(0, 0), (1000, 0), (1000, 100), (520, 100), (520, 60), (480, 60),
                       (480, 100), (0, 100)])  # fmt: skip
    assert run_out_of(notched, 0) == STRAIGHT
