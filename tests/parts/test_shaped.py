"""Any solid becomes a part: laid flat, its outline all that it covers."""

import math

import cadquery as cq
import pytest
import shapely
from shapely.geometry import Polygon, box

from nesting.errors import ShapeError
from nesting.grain import angle_between
from parts.curves import CHORD_ERROR_MM
from parts.part import Part
from parts.shaped import part_from_outline, part_from_solid
from parts.solids import volume_mm3


def plank(length=300, width=60, thick=25):
    return cq.Workplane().box(length, width, thick)


def test_rounded_cleat_gives_its_outline_within_a_chord():
    part = part_from_solid(plank().edges("|Z").fillet(20))
    true = box(20, 20, 280, 40).buffer(20, quad_segs=500)
    assert shapely.hausdorff_distance(part.outline().shape, true) <= CHORD_ERROR_MM
    assert part.outline().siding_mm == 25
    assert part.outline().may_turn_over
    assert isinstance(part, Part)


def test_solid_stands_on_its_outline():
    part = part_from_solid(plank().translate((1000, -70, 33)))
    extent = part.solid().val().BoundingBox()
    assert (extent.zmin, extent.zmax) == (pytest.approx(0), pytest.approx(25))
    assert part.outline().shape.bounds == pytest.approx((0, 0, 300, 60))
    assert volume_mm3(part.solid()) == pytest.approx(300 * 60 * 25)


def test_hole_through_it_is_a_cut_out_and_a_pocket_is_not():
    drilled = plank().faces(">Z").workplane().pushPoints([(-90, 0)]).hole(20)
    (ring,) = part_from_solid(drilled).outline().shape.interiors
    assert Polygon(ring).area == pytest.approx(math.pi * 100, rel=0.01)
    sunk = plank().faces(">Z").workplane().rect(50, 20).cutBlind(-8)
    part = part_from_solid(sunk)
    assert not part.outline().shape.interiors
    assert not part.outline().may_turn_over


@pytest.mark.parametrize("axis", [(1, 0, 0), (0, 1, 0), (1, 1, 0), (1, 2, 3)], ids=str)
@pytest.mark.parametrize("degrees", [37, 90, 143])
def test_however_it_is_turned_in_space_its_outline_is_the_same(axis, degrees):
    chamfered = plank().faces(">Z").chamfer(3).rotate((0, 0, 0), axis, degrees)
    outline = part_from_solid(chamfered).outline()
    assert (outline.length_mm, outline.width_mm) == pytest.approx((300, 60), abs=1e-5)
    assert outline.siding_mm == pytest.approx(25, abs=1e-5)
    assert not outline.may_turn_over


def test_bevelled_piece_has_the_outline_of_its_larger_face():
    wedge = cq.Workplane().rect(300, 60).workplane(offset=25).rect(280, 40).loft()
    outline = part_from_solid(wedge).outline()
    assert (outline.length_mm, outline.width_mm) == pytest.approx((300, 60))
    assert not outline.may_turn_over
    assert part_from_solid(wedge, may_turn_over=True).outline().may_turn_over


def test_grain_runs_along_the_longest_side_of_one_that_lies_flat():
    assert part_from_solid(plank(60, 300)).outline().middle_grain_deg == pytest.approx(90)
    leaning = plank().rotate((0, 0, 0), (0, 0, 1), 30)
    assert angle_between(part_from_solid(leaning).outline().middle_grain_deg, 30) < 1e-6
    assert part_from_solid(plank(60, 60)).outline().middle_grain_deg == 0
    assert part_from_solid(plank(), grain_deg=12).outline().middle_grain_deg == pytest.approx(12)


def test_thickness_may_be_asked_for_in_another_direction():
    outline = part_from_solid(plank(), square_to=(0, 1, 0)).outline()
    assert (outline.length_mm, outline.width_mm) == pytest.approx((300, 25))
    assert outline.siding_mm == pytest.approx(60)


def test_shape_and_solid_are_taken_as_a_workplane_is():
    for given in (plank().val(), cq.Compound.makeCompound([plank().val()])):
        assert part_from_solid(given).outline().shape.area == pytest.approx(18000)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (cq.Workplane().rect(4, 4), "there are 0 solids, a part is one"),
        (cq.Workplane().pushPoints([(0, 0), (90, 0)]).box(9, 9, 9), "there are 2 solids"),
        (cq.Workplane().sphere(50), "no flat face to be laid on: give square_to"),
        ("cleat.step", "'cleat.step' is no solid: give a cadquery Workplane or Shape"),
    ],
)
def test_what_is_not_one_solid_is_refused(given, said):
    with pytest.raises(ShapeError, match=said):
        part_from_solid(given)


def test_outline_may_be_given_with_cut_outs_in_it():
    part = part_from_outline(
        [(0, 0), (400, 0), (400, 90), (0, 90)], "1 in", cut_outs=[[(50, 30), (90, 30), (90, 60)]]
    )
    assert part.outline().siding_mm == pytest.approx(25.4)
    assert part.outline().shape.area == pytest.approx(400 * 90 - 600)
    assert volume_mm3(part.solid()) == pytest.approx((400 * 90 - 600) * 25.4)
    assert (part.positions(), part.butted()) == ((), None)


def test_outline_with_sloping_edges_knows_its_run_out():
    assert part_from_outline([(0, 0), (1000, 0), (1000, 50), (0, 150)], 20).outline().run_out == (
        pytest.approx(10)
    )


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([(0, 0), (9, 0)], "needs three points or more, this one has 2"),
        ([(0, 0), (9, 9), (9, 0), (0, 9)], "not usable: Self-intersection"),
        ([1, 2, 3], r"must be a point \(x, y\)"),
    ],
)
def test_points_that_make_no_outline_are_refused(points, said):
    with pytest.raises(ShapeError, match=said):
        part_from_outline(points, 20)


@pytest.mark.parametrize(
    ("make", "size"),
    [
        (lambda: part_from_outline([(0, 0), (0.3, 0), (0.3, 0.06), (0, 0.06)], 25), "0.3 x 0.06"),
        (lambda: part_from_outline([(0, 0), (300, 0), (300, 0.9), (0, 0.9)], 25), "300 x 0.9"),
        (lambda: part_from_solid(cq.Workplane().box(0.3, 0.06, 0.025)), "0.3 x 0.06"),
    ],
    ids=["outline in metres", "sliver", "solid in metres"],
)
def test_part_that_no_saw_cuts_out_is_refused_and_its_unit_asked_for(make, size):
    with pytest.raises(ShapeError, match=f"{size} mm; a part is at least 1 mm each way: is the un"):
        make()


def test_part_may_be_as_small_as_a_millimetre():
    part = part_from_outline([(0, 0), (1, 0), (1, 1), (0, 1)], 1)
    assert (part.outline().length_mm, part.outline().width_mm) == (1, 1)
