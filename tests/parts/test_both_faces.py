"""Where a bevelled piece has wood from face to face, held against its solid's own two faces."""

import cadquery as cq
import pytest
import shapely
from shapely.geometry import Polygon, box

from nesting import part_from_solid
from parts.both_faces import both_faces
from parts.families.floors import FloorTimber
from parts.families.knees import Knee
from parts.families.planks import Plank
from parts.laid_flat import faceted

FLOOR = {"half_span_mm": 500, "siding_mm": 45, "moulding_mm": 120, "tip_moulding_mm": 50,
         "landing_mm": 60, "seat_mm": 50, "deadrise_deg": 18, "frame_lap_mm": 150}  # fmt: skip
KNEE = {"kind": "hanging", "siding_mm": 38, "beam_arm_mm": 250, "side_arm_mm": 300,
        "throat_mm": 110, "tip_moulding_mm": 40}  # fmt: skip
PLANK = {"length_mm": 900, "width_mm": 120, "thickness_mm": 30}
PIECES = [
    (FloorTimber, {**FLOOR, "bevel_deg": 12, "seat_bevel_deg": 4}),
    (FloorTimber, {**FLOOR, "bevel_deg": -9, "seat_bevel_deg": -3}),
    (Knee, {**KNEE, "bevel_deg": 15}),
    (Knee, {**KNEE, "bevel_deg": -15}),
    (Plank, {**PLANK, "left_bevel_deg": 30, "right_bevel_deg": 20}),
    (Plank, {**PLANK, "left_bevel_deg": -30, "right_bevel_deg": 20, "left_cut_deg": 12}),
]


def face(solid: cq.Workplane, which: str) -> shapely.Geometry:
    """Return what the upper or the lower face of a solid covers, by its facets."""
    points, triangles = faceted(solid.faces(which).val())
    return shapely.union_all([Polygon(points[each][:, :2]) for each in triangles], grid_size=1e-6)


@pytest.mark.parametrize(("family", "given"), PIECES)
def test_bungs_have_what_both_faces_of_the_finished_piece_have(family, given):
    part = family(**given)
    outline, solid = part.outline(), part.solid()
    common = face(solid, ">Z").intersection(face(solid, "<Z"))
    assert outline.bung_room.symmetric_difference(common).area < 0.5
    assert outline.bung_room.area < outline.area_mm2 - 100
    assert outline.bung_room.within(outline.shape.buffer(1e-3))


@pytest.mark.parametrize(("family", "given"), [(FloorTimber, FLOOR), (Knee, KNEE), (Plank, PLANK)])
def test_bungs_of_a_square_piece_have_all_of_it(family, given):
    outline = family(**given).outline()
    assert outline.both_faces is None
    assert outline.bung_room is outline.shape


def test_steep_sides_of_a_solid_are_bevels_and_hollows_and_crowns_are_not():
    wedge = cq.Workplane().rect(300, 60).workplane(offset=25).rect(280, 40).loft()
    room = part_from_solid(wedge).outline().bung_room
    assert room.symmetric_difference(box(10, 10, 290, 50)).area < 0.5
    ball = cq.Workplane().sphere(200).translate((0, 0, 207))
    hollowed = cq.Workplane().box(300, 60, 25).cut(ball)
    assert part_from_solid(hollowed).outline().both_faces is None
    assert part_from_solid(cq.Workplane().box(300, 60, 25)).outline().both_faces is None


def test_the_larger_piece_counts_where_a_cut_out_parts_what_both_faces_have():
    room = both_faces(box(0, 0, 100, 40), box(5, 0, 100, 40), [box(30, -1, 40, 41)])
    assert room.equals(box(40, 0, 100, 40))
    assert both_faces(box(0, 0, 10, 40), box(20, 0, 30, 40)).is_empty
