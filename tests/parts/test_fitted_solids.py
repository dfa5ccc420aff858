"""Solids of fitted parts: volume, bevelled faces, and where they stand."""

import numpy as np
import pytest
import shapely
from fitted_boats import withy
from own_sums import in_the_boat
from shapely.geometry import Point, Polygon

from parts.fitted.bent import BentPlank
from parts.solids import volume_mm3

SAMPLES = (
    "floor, frame 4",
    "mast floor, frame 10",
    "aftermost floor",
    "mast beam, frame 8",
    "half beam amidships, frame 14",
    "half beam aft, frame 21",
    "carlin",
    "cabin sole beam, frame 12",
    "hanging knee of the mast beam, frame 8",
    "lodging knee forward of the mast beam",
    "lodging knee aft of the mast beam",
    "quarter knee",
)


def prismoid(faces):
    """Return the volume between two faces ruled from one to the other, by Simpson's rule.

    Exact: the area of a section is a quadratic of its depth.
    """
    middle = Polygon(np.vstack([(edge.near + edge.far) / 2 for edge in faces.edges]))
    ends = faces.near.area + faces.far.area
    cut = sum(middle.intersection(hole).area for hole in faces.cut_outs)
    whole = (ends + 4 * middle.area) / 6
    return (whole - cut) * faces.siding_mm


@pytest.mark.parametrize("name", SAMPLES)
def test_solid_holds_what_lies_between_its_faces(name):
    part = withy().parts[name]
    solid = part.solid()
    assert solid.val().isValid()
    assert volume_mm3(solid) == pytest.approx(prismoid(part.faces()), rel=1e-3)
    box = solid.val().BoundingBox()
    assert (box.zmin, box.zmax) == pytest.approx((-part.faces().siding_mm, 0.0), abs=1e-3)


@pytest.mark.parametrize("name", SAMPLES)
def test_outline_holds_both_faces_and_little_more(name):
    part = withy().parts[name]
    outline, faces = part.outline(), part.faces()
    holes = [hole.buffer(1e-3) for hole in faces.cut_outs]
    for face in (faces.near, faces.far):
        for hole in holes:
            face = face.difference(hole)
        assert outline.shape.buffer(1e-3).covers(face)
    spread = sum(bevel.allowance_mm for bevel in outline.bevels)
    assert outline.area_mm2 <= max(faces.near.area, faces.far.area) * (1.001 + spread / 20)
    inside = faces.near.buffer(-0.01).intersection(faces.far.buffer(-0.01))
    for hole in faces.cut_outs:
        inside = inside.difference(hole.buffer(0.01))
    room = outline.bung_room
    assert room.buffer(1e-3).covers(max(shapely.get_parts(inside), key=shapely.area))
    assert room.area - inside.area < 0.03 * room.length
    assert (outline.both_faces is None) is not bool(outline.bevels)


def test_square_part_is_its_outline_times_its_siding():
    part = withy().parts["bilge ceiling, strake 1, length 2"]
    outline = part.outline()
    exact = outline.area_mm2 * outline.siding_mm
    assert volume_mm3(part.solid()) == pytest.approx(exact, rel=1e-6)
    assert volume_mm3(part.solid_in_place()) == pytest.approx(exact, rel=5e-3)


def test_bent_plank_lies_against_the_frames_in_the_boat():
    part = withy().parts["side ceiling, strake 7, length 1"]
    assert isinstance(part, BentPlank)
    place = part.positions()[0]
    corners = [vertex.toTuple() for vertex in part.solid_in_place().val().Vertices()]
    placed = in_the_boat(place, np.array(corners))
    edge = part.net()[[0, 0, -1, -1], [0, -1, 0, -1]]
    for corner in edge:
        assert np.linalg.norm(placed - corner, axis=1).min() < 0.01


def test_pair_stands_on_both_sides_each_the_other_s_mirror_image():
    part = withy().parts["hanging knee of the mast beam, frame 8"]
    starboard, port = part.positions()
    points = np.random.default_rng(1).uniform(-100, 100, (5, 3))
    assert in_the_boat(port, points) == pytest.approx(in_the_boat(starboard, points) * [1, -1, 1])
    assert not starboard.is_mirrored
    assert port.is_mirrored
    assert starboard.origin[1] > 0


def test_part_for_port_alone_is_drawn_as_it_is_sawn():
    knee = withy().parts["hanging knee of the mast beam, frame 8"]
    given = {**knee.model_dump(by_alias=True, exclude_none=True), "side": "port"}
    port = type(knee).model_validate(given, context={"boat": withy().boat})
    (place,) = port.positions()
    assert not place.is_mirrored
    twin = knee.positions()[1]
    for mine, other in (
        (port.faces().near, knee.faces().near),
        (port.faces().far, knee.faces().far),
    ):
        mirrored = in_the_boat(twin, np.asarray(other.exterior.coords))
        placed = in_the_boat(place, np.asarray(mine.exterior.coords))
        for corner in placed[::5]:
            assert np.linalg.norm(mirrored - corner, axis=1).min() < 1e-6
    assert not port.outline().may_turn_over
    assert knee.outline().may_turn_over


def test_frame_bolts_keep_their_distance_from_the_edges_of_both_faces():
    """1.5 diameters, as the rule says that the families cite."""
    floors = [part for name, part in withy().parts.items() if "floor" in name]
    bolts = 0
    for outline in (part.outline() for part in floors):
        for mark in outline.marks:
            if mark.label == "frame bolt":
                at, room = Point(mark.points[0]), outline.bung_room
                assert room.contains(at)
                assert room.boundary.distance(at) >= 1.5 * mark.diameter_mm
                bolts += 1
    assert bolts > 40
