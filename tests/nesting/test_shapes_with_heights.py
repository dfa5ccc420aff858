"""Shapes with a third figure at each point, as maps and drawings have them: as flat ones, or no."""

import pytest
import shapely
from shapely.geometry import LineString, Point, box

import nesting as n

FLAT = box(0, 0, 500, 40)
MADE = {
    "board": (lambda shape: n.Board("D", shape, 26, "teak"), "the outline"),
    "outline": (lambda shape: n.Outline(shape, 20), "the outline's shape"),
    "both faces": (lambda shape: n.Outline(FLAT, 20, both_faces=shape), "what both faces have"),
    "zone": (lambda shape: n.BearingZone(shape, "end"), "the bearing zone's region"),
    "keep-out": (lambda shape: n.KeepOut("rot", shape), "rot: the core"),
    "part": (lambda shape: n.part_from_outline(shape, 20).outline(), "the outline's shape"),
}


@pytest.mark.parametrize("name", MADE)
@pytest.mark.parametrize("figure", ["Z", "M", "ZM"])
def test_shape_all_at_one_height_is_the_flat_one(name, figure):
    make, _ = MADE[name]
    points = [f"{x:g} {y:g}{' 7' * len(figure)}" for x, y in FLAT.exterior.coords]
    high = shapely.from_wkt(f"POLYGON {figure} (({', '.join(points)}))")
    assert shapely.get_coordinate_dimension(high) > 2
    assert make(high) == make(FLAT)
    assert hash(make(high)) == hash(make(FLAT))


@pytest.mark.parametrize("name", MADE)
def test_shape_that_slopes_is_refused_with_its_heights(name):
    make, called = MADE[name]
    sloping = shapely.transform(
        shapely.force_3d(FLAT), lambda at: at + [[0, 0, 1]] * at[:, :1] / 100, include_z=True
    )
    with pytest.raises(n.ShapeError, match=f"^{called} has points at heights from 0 to 5 mm"):
        make(sloping)


def test_holes_and_splits_at_a_height_lie_where_they_would_without():
    for core in (Point(100, 20), LineString([(100, 20), (200, 20)])):
        high = n.KeepOut("split", shapely.force_3d(core, 7.0), 5)
        assert high == n.KeepOut("split", core, 5)


def test_plan_of_shapes_with_heights_is_that_of_flat_ones():
    def packed(lifted):
        rung = n.Outline(lifted(FLAT), 20, bearing_zones=[n.BearingZone(lifted(FLAT), "all")])
        hole = n.KeepOut("hole", lifted(Point(700, 60)), 5)
        board = n.Board("D", lifted(box(0, 0, 1200, 120)), 26, "teak", keep_outs=[hole])
        plan = n.pack([n.Need.of("rung", rung, ["teak"], quantity=3)], [board], rounds=0)
        n.require_sound(plan)
        return plan

    flat = packed(lambda shape: shape)
    assert packed(lambda shape: shapely.force_3d(shape, 7.0)) == flat
    assert len(flat.nests[0].placements) == 3
