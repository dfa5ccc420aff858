"""Bevels of fitted parts against what geometry gives on hulls of known shape."""

import numpy as np
import pytest
from fitted_boats import (
    box_boat,
    cone,
    cone_bevel,
    cone_boat,
    trough_boat,
    wigley,
    wigley_bevel,
    wigley_boat,
)
from own_sums import in_the_boat
from pydantic import ValidationError

from parts.fitted.beams import FittedBeam, FittedHalfBeam, FittedSoleBeam
from parts.fitted.floors import FittedFloor
from parts.fitted.two_faces import FacedEdge, TwoFaces, square

QUARTER_DEG = 0.25
SIDING = 45.0


def floor(boat, at, **given):
    parameters = {
        "siding": SIDING,
        "moulding": 130,
        "arm": 300,
        "frame_bolts": 0,
        "keel_bolt": None,
    }
    return FittedFloor.model_validate({**parameters, "at": at, **given}, context={"boat": boat})


def beam(boat, at, kind=FittedBeam, **given):
    return kind.model_validate(
        {"siding": SIDING, "moulding": 60, "at": at, **given}, context={"boat": boat}
    )


def edge_of(part, name):
    return next(edge for edge in part.faces().edges if edge.name == name)


def along_the_middle(part, edge):
    """Return points half way between both faces of an edge, in the boat, starboard."""
    flat = (edge.near + edge.far) / 2
    points = np.column_stack([flat, np.full(len(flat), -part.faces().siding_mm / 2)])
    placed = in_the_boat(part.positions()[0], points)
    return placed * [1, np.sign(placed[:, 1].sum()), 1]


@pytest.mark.parametrize("at", ["900 mm", "1600 mm", "3000 mm", "4400 mm", "5100 mm"])
def test_floor_in_the_wigley_form_has_the_bevel_of_its_normal_everywhere(at):
    part = floor(wigley_boat(), at)
    for name in ("lower edge of the right arm", "lower edge of the left arm"):
        edge = edge_of(part, name)
        x, y, z = along_the_middle(part, edge)[2:-2].T
        assert y == pytest.approx(wigley(x, z), abs=1.0)
        # The marked face is the larger, so that every bevel is under, whichever way it faces.
        off = edge.bevels_deg(SIDING)[2:-2] + np.abs(wigley_bevel(x, z))
        assert np.abs(off).max() < QUARTER_DEG


def test_floor_amidships_in_the_wigley_form_is_square():
    assert floor(wigley_boat(), "3000 mm").outline().bevels == ()


def test_floor_in_the_wigley_form_is_marked_on_the_face_nearer_amidships():
    labels = {
        at: {mark.label for mark in floor(wigley_boat(), at).outline().marks}
        for at in ("1600 mm", "4400 mm")
    }
    assert "after face" in labels["1600 mm"]
    assert "fore face" in labels["4400 mm"]


@pytest.mark.parametrize("at", ["frame 2", "frame 5", "3333 mm"])
def test_floor_in_a_cylinder_is_square(at):
    part = floor(trough_boat(), at)
    assert part.outline().bevels == ()
    for edge in part.faces().edges:
        assert np.abs(edge.bevels_deg(SIDING)).max() < QUARTER_DEG


@pytest.mark.parametrize("at", ["2600 mm", "4000 mm", "5500 mm"])
def test_sole_beam_in_a_cone_has_the_bevel_of_the_cone(at):
    part = beam(cone_boat(), at, FittedSoleBeam, ends="planking", bearing=40)
    for name in ("right end", "left end"):
        edge = edge_of(part, name)
        x, y, z = along_the_middle(part, edge).T
        assert y == pytest.approx(cone(x, z), abs=0.5)
        # It widens aft: the marked face is the after one, and the bevel from it under.
        assert np.abs(edge.bevels_deg(SIDING) - cone_bevel(x, z)).max() < QUARTER_DEG


def test_beam_in_a_box_is_square():
    part = beam(box_boat(), "frame 4", bearing=50)
    assert part.outline().bevels == ()
    assert part.outline().length_mm == pytest.approx(96 * 25.4, abs=0.1)


@pytest.mark.parametrize(("span_in", "rise_in"), [(96, 2.3966), (72, 1.3466), (48, 0.5980)])
def test_beam_takes_the_middle_of_the_one_mould(span_in, rise_in):
    # Circular segment, R = (c^2/4 + s^2) / 2s, rise = R - sqrt(R^2 - c^2/4): mould of 120 in that
    # rises 3.75 in (R 481.875 in); worked by hand.
    boat = box_boat()
    upper = edge_of(beam(boat, "frame 4", bearing=50), "upper edge").near
    y = np.abs(upper[:, 0])
    there = np.interp(span_in / 2 * 25.4, np.sort(y), upper[np.argsort(y), 1])
    assert upper[:, 1].max() - there == pytest.approx(rise_in * 25.4, abs=0.02)


def test_beams_of_constant_camber_all_rise_as_the_mould():
    boat = wigley_boat()
    deck = {"crown": "constant camber"}
    plan = boat.plan.model_validate({**_written(boat.plan), "deck": deck, "beam_mould": MOULD})
    changed = type(boat)(plan, boat.hull)
    for at in ("1500 mm", "3000 mm"):
        upper = edge_of(beam(changed, at, bearing=50), "upper edge").near
        assert upper[:, 1].max() - upper[:, 1].min() == pytest.approx(40.0, abs=0.5)


MOULD = {"span": 1600, "camber": 40}


def _written(plan):
    return plan.model_dump(by_alias=True, exclude_none=True)


def test_straight_centreline_puts_the_middles_of_beams_on_one_line():
    boat = wigley_boat()
    deck = {"crown": "straight centreline"}
    plan = boat.plan.model_validate({**_written(boat.plan), "deck": deck, "beam_mould": MOULD})
    changed = type(boat)(plan, boat.hull)
    middles = [changed.deck.height(x, np.zeros(1))[0] for x in (1000.0, 3000.0, 5000.0)]
    assert middles[1] == pytest.approx((middles[0] + middles[2]) / 2, abs=1e-6)


def test_half_beam_ends_at_its_carlin():
    part = beam(box_boat(), "frame 3", FittedHalfBeam, inner_end=500, bearing=50)
    inner = edge_of(part, "inner end").near
    assert np.abs(inner[:, 0]) == pytest.approx([500, 500])
    assert part.outline().length_mm == pytest.approx(48 * 25.4 - 500, abs=0.1)


def test_half_beam_shorter_than_its_two_bearings_is_refused():
    # The box is 48 in from the centreline to its side: 19.2 mm are left of the beam.
    with pytest.raises(ValidationError, match=r"more than the length of 19\.2"):
        beam(box_boat(), "frame 3", FittedHalfBeam, inner_end=1200, bearing=50)


@pytest.mark.parametrize("at", ["900 mm", "4400 mm"])
def test_varying_bevels_are_told_from_the_corner_with_the_edge_named(at):
    part = floor(wigley_boat(), at)
    edges = part.faces().edges
    assert part.outline().bevels
    for bevel in part.outline().bevels:
        edge, start = edge_of(part, bevel.edge), edge_of(part, bevel.along_from)
        assert start.near[-1] == pytest.approx(edge.near[0])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge.near, axis=0).T))])
        found = np.interp(bevel.along_mm, along, edge.bevels_deg(SIDING))
        assert bevel.angle_deg == pytest.approx(found, abs=1e-6)
    assert len({edge.name for edge in edges}) == len(edges)


def test_an_edge_that_does_not_vary_has_one_bevel_for_all_of_it():
    corners = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [0.0, 40.0]])
    sides = [np.array([corners[i], corners[(i + 1) % 4]]) for i in range(4)]
    upper = FacedEdge("upper edge", sides[2], sides[2] + [0.0, 5.0])
    others = [square(name, sides[i]) for i, name in ((0, "lower edge"), (1, "fore end"))]
    faces = TwoFaces((*others, upper, square("after end", sides[3])), 50.0)
    (bevel,) = faces.bevels()
    # A standing bevel of one in ten: arctan 0.1, by hand.
    assert bevel.angle_deg == pytest.approx(5.7106, abs=1e-4)
    assert (bevel.edge, bevel.along_mm, bevel.along_from) == ("upper edge", None, "")


@pytest.mark.parametrize("at", ["900 mm", "4400 mm"], ids=["forward", "aft"])
def test_ends_of_a_beam_are_right_and_left_as_seen_on_the_marked_face(at):
    part = beam(wigley_boat(), at, bearing=50)
    assert edge_of(part, "right end").near[:, 0].min() > 0
    assert edge_of(part, "left end").near[:, 0].max() < 0
