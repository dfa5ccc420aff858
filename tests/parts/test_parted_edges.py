"""Parts that lie across a chine have its corner, and the bevels of both sides of it.

The boat is made of planes: a bottom z = 0.3 y, and a side that meets it in a straight chine. So
where a section is, which way its panels face, and where the corner runs is known exactly.
"""

import cadquery as cq
import numpy as np
import pytest
import shapely
from family_checks import assert_sound
from own_sums import in_the_boat

from parts.boat.boat import Boat
from parts.boat.plan import BoatPlan
from parts.fitted.beams import FittedSoleBeam
from parts.fitted.floors import FittedFloor
from parts.fitted.knees import FittedHangingKnee
from parts.fitted.parted_edges import parted, spread
from parts.fitted.plates import FloorPlate
from parts.fitted.two_faces import evenly
from parts.lines import hull_of, read_table

OPENS, DEADRISE, SIDE = 0.05, 0.3, (200.0, 450.0)
"""How fast the chine goes out over x, what the bottom rises over y, the side's run out and up."""

NEAR_MM = 0.05
"""Figures to a hundredth of a millimetre, and lines through them."""

STATIONS = np.arange(0.0, 4001.0, 500.0)


def chine(x):
    half = 500.0 + OPENS * x
    return np.array([half, DEADRISE * half])


def sheer(x):
    return chine(x) + SIDE


def rabbet(_x):
    return np.array([60.0, DEADRISE * 60.0])


def normal(*along):
    """Return the unit normal of a plane through two directions, outward."""
    square = np.cross(*along)
    return square / np.linalg.norm(square) * np.sign(square[1])


ALONG = (1.0, OPENS, DEADRISE * OPENS)
BOTTOM, TOPSIDE = normal((0.0, 1.0, DEADRISE), (1.0, 0.0, 0.0)), normal(ALONG, (0.0, *SIDE))


@pytest.fixture(scope="module")
def boat(tmp_path_factory):
    """Return the boat of planes, her table to the inside of planking."""
    rows = ["name, planes", "unit, mm", "to, inside of planking"]
    rows += [f"station, {', '.join(f'{n}' for n in range(len(STATIONS)))}"]
    rows += [f"from forward, {', '.join(f'{x:g}' for x in STATIONS)}"]
    for heading, axis in (("heights", 1), ("half-breadths", 0)):
        rows.append(heading)
        for name, at in (("sheer", sheer), ("chine", chine), ("rabbet", rabbet)):
            rows.append(f"{name}, {', '.join(f'{at(x)[axis]:.2f}' for x in STATIONS)}")
    file = tmp_path_factory.mktemp("planes") / "planes.csv"
    file.write_text("\n".join(rows))
    plan = {
        "lines": "planes.csv",
        "frames": {"first": 500, "spacing": 500, "count": 7, "siding": 30, "moulding": 40},
        "keel": {"siding": 100},
        "beam_mould": {"span": 2000, "camber": 40},
        "beams": {"ordinary": {"siding": 30, "moulding": 60}},
        "sole": 230,
    }
    return Boat(BoatPlan.model_validate(plan), hull_of(read_table(file)))


def off_section(boat, x, points):
    """Return how far (n, 2) points lie off a section of the faired boat, mm."""
    section = shapely.LineString(boat.hull.section(float(x)))
    return np.array([section.distance(shapely.Point(point)) for point in points])


def on_hull(part):
    """Return the edges of a part that lie on the hull to starboard, with both faces in her."""
    (place, *_), depth = part.positions(), part.faces().siding_mm
    for edge in part.faces().edges:
        faces = [
            in_the_boat(place, np.column_stack([face, np.full(len(face), z)]))
            for face, z in ((edge.near, 0.0), (edge.far, -depth))
        ]
        if min(face[:, 1].min() for face in faces) > 10.0:
            yield edge, faces


def across(part):
    """Return the name of what lies on the hull, where its corner must be."""
    return {"floor timber": "lower edge", "sole beam": "end", "hanging knee": "side arm, outer"}[
        part.family
    ]


PARTS = {
    FittedFloor: {"siding": 60, "moulding": 260, "arm": 760, "frame_bolts": 0, "keel_bolt": 10},
    FittedSoleBeam: {"siding": 40, "moulding": 70, "ends": "planking"},
    FittedHangingKnee: {
        "siding": 40, "beam_arm": 200, "side_arm": 520, "throat": 110, "tip_moulding": 40,
        "bolt": 8, "against": "planking",
    },
}  # fmt: skip


@pytest.fixture(params=PARTS, ids=lambda kind: kind.family)
def part(request, boat):
    given = {"at": "frame 4", **PARTS[request.param]}
    return request.param.model_validate(given, context={"boat": boat})


def test_part_across_a_chine_has_its_corner_in_both_faces(part, boat):
    found = [(edge, faces) for edge, faces in on_hull(part) if across(part) in edge.name]
    for face in (0, 1):
        lines = [faces[face] for _, faces in found]
        x = float(lines[0][0, 0])
        corners = {tuple(np.round(line[end], 3)) for line in lines for end in (0, -1)}
        assert len(corners) == 3, "two edges that share a corner"
        gaps = [np.hypot(*(np.array(corner)[1:] - chine(x))) for corner in corners]
        assert min(gaps) < NEAR_MM
        for line in lines:
            points = shapely.LineString(line[:, 1:]).segmentize(5.0).coords
            assert off_section(boat, x, points).max() < NEAR_MM


def test_part_across_a_chine_has_the_bevels_of_both_sides_of_it(part):
    for edge, (near, _) in on_hull(part):
        if across(part) not in edge.name:
            continue
        low = np.mean(near[:, 2]) < chine(near[0, 0])[1]
        way = np.array(part.positions()[0].axes[2])
        true = float(np.degrees(np.arcsin((BOTTOM if low else TOPSIDE) @ way)))
        told = edge.bevels_deg(part.faces().siding_mm)
        assert np.abs(told) == pytest.approx(abs(true), abs=0.2)


def test_solid_of_a_part_across_a_chine_is_plane_on_both_sides_of_it(part, boat):
    """Its side is no smooth surface through points on both panels: that swings at the corner."""
    assert_sound(part.outline())
    solid, depth = part.solid().val(), part.faces().siding_mm
    (place, *_) = part.positions()
    assert solid.isValid()
    for edge, _ in on_hull(part):
        if across(part) not in edge.name:
            continue
        for share in np.linspace(0.05, 0.95, 19):
            middle = [evenly(face, 101)[round(100 * share)] for face in (edge.near, edge.far)]
            point = np.array([*(sum(middle) / 2), -depth / 2])
            assert solid.distance(cq.Vertex.makeVertex(*point)) < NEAR_MM
            at = in_the_boat(place, point[None])[0]
            assert off_section(boat, at[0], [at[1:]]).max() < NEAR_MM


def test_flange_of_a_floor_plate_runs_round_the_chine(boat):
    given = {**PARTS[FittedFloor], "at": "frame 4", "flange": 8, "shrink": 0}
    plate = FloorPlate.model_validate(given, context={"boat": boat})
    marks = [mark for mark in plate.outline().marks if mark.label == "flange"]
    assert sum(shapely.LineString(mark.points).length for mark in marks) > 1400.0


def line_with_corner(at, far):
    """Return a straight line along x, a point every 10 mm, that goes up from a place on."""
    x = np.arange(0.0, far + 1.0, 10.0)
    return np.column_stack([x, np.maximum(x - at, 0.0)])


def test_corner_that_one_face_lacks_parts_the_other_at_the_like_place():
    near, far = line_with_corner(60.0, 100.0), line_with_corner(200.0, 50.0)
    (first, last) = parted("edge", (near, far), (np.array([[60.0, 0.0]]), np.array([[200.0, 0.0]])))
    assert (first.name, last.name) == ("edge to the chine", "edge past the chine")
    assert first.near[-1] == pytest.approx([60.0, 0.0])
    length = 60.0 + 40.0 * 2**0.5
    assert first.far[-1] == pytest.approx([50.0 * 60.0 / length, 0.0])


def test_corner_at_the_very_end_of_an_edge_parts_nothing():
    line = line_with_corner(100.0, 100.0)
    (whole,) = parted("edge", (line, line), (line[-1:], line[-1:]))
    assert whole.name == "edge"


def test_points_are_spread_between_corners():
    line = line_with_corner(60.0, 100.0)
    assert spread(line, line[6:7]).tolist().count([60.0, 0.0]) == 1
    assert [60.0, 0.0] not in spread(line, line[:0]).tolist()
