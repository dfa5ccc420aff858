"""Parts of the full demo lie on the faired hull, measured from the table's own surface.

Edges are to be within half a millimetre of the surface they fit: the planking's thickness below
the table's face, and the frame's and the clamp's below that.
"""

import numpy as np
import pytest
from fitted_boats import depth_below_table, withy
from own_sums import in_the_boat
from scipy.interpolate import make_interp_spline

from parts.fitted.bent import BentPlank
from parts.fitted.fitted import Fitted
from parts.fitted.two_faces import evenly
from parts.lines.table import LineKind, Measure

OFF_MM = 0.5
STRAIGHT_BEVEL_MM = 0.8
"""A bevel is cut straight from face to face: on the round quarter, of some 350 mm radius, the
middle of a siding of 44 mm lies 44^2 / (8 x 350) = 0.7 mm off."""

PLANKING, FRAME, CLAMP = 7 / 8 * 25.4, 1.5 * 25.4, 25.4

ON_HULL = {
    "floor timber": ("lower edge of the right arm", "lower edge of the left arm"),
    "deck beam": ("right end", "left end"),
    "half beam": ("outer end",),
    "sole beam": ("right end", "left end"),
    "hanging knee": ("side arm, outer edge",),
    "lodging knee": ("side arm, outer edge",),
    "quarter knee": ("side arm, outer edge",),
}
DEEP = {
    "floor timber": PLANKING,
    "deck beam": PLANKING,
    "half beam": PLANKING,
    "sole beam": PLANKING + FRAME,
    "hanging knee": PLANKING + FRAME + CLAMP,
    "lodging knee": PLANKING + FRAME + CLAMP,
    "quarter knee": PLANKING + FRAME + CLAMP,
}

PARTS = {
    name: part
    for name, part in withy().parts.items()
    if isinstance(part, Fitted) and part.family in ON_HULL
}
PLANKS = {name: part for name, part in withy().parts.items() if isinstance(part, BentPlank)}


HOLLOW_MM = 3.0
"""A clamp 4 in broad bridges sections of 500 mm radius by 102^2 / (8 x 500) = 2.6 mm: none of
the demo's is rounder there."""


def is_beside_clamp(boat, points):
    """Return which of (n, 3) points lie between the clamp's lower and its upper edge."""
    below = boat.plan.beams.ordinary.end_moulding_mm
    edge = np.array([boat.hull.sheer(x)[1] - boat.deck.thickness_mm for x in points[:, 0]])
    deep = edge - points[:, 2]
    # Its face leans, so that its corners stand a little higher or lower than on the frames.
    return (deep > below - CLAMP / 2) & (deep < boat.plan.clamp.depth_mm + CLAMP / 2)


def in_boat(part, line, z):
    """Return points along an edge of one face, at the first of the part's places."""
    points = evenly(line, 20)
    return in_the_boat(part.positions()[0], np.column_stack([points, np.full(len(points), z)]))


def test_full_demo_has_parts_of_every_fitted_kind():
    assert {part.family for part in PARTS.values()} == set(ON_HULL)
    assert len(PARTS) > 40
    assert len(PLANKS) == 16


@pytest.mark.parametrize("name", PARTS)
def test_both_faces_lie_on_the_fair_surface(name):
    part, boat = PARTS[name], withy().boat
    wanted = DEEP[part.family]
    edges = {edge.name: edge for edge in part.faces().edges}
    for edge in (edges[name] for name in ON_HULL[part.family]):
        deep = part.faces().siding_mm
        middle = (edge.near + edge.far) / 2
        for line, z, most in (
            (edge.near, 0.0, OFF_MM),
            (middle, -deep / 2, STRAIGHT_BEVEL_MM),
            (edge.far, -deep, OFF_MM),
        ):
            points = in_boat(part, line, z)
            off = depth_below_table(boat, points) - wanted
            if part.family == "hanging knee":
                is_flat = is_beside_clamp(boat, points)
                # A flat clamp bridges the hollow of the frames: so far its face lies further in.
                assert is_flat.any() and off[is_flat].min() > -OFF_MM
                assert off[is_flat].max() < HOLLOW_MM
                off = off[~is_flat]
            assert np.abs(off).max() < most, (edge.name, z)


@pytest.mark.parametrize("name", PLANKS)
def test_plank_lies_on_the_frames(name):
    net = PLANKS[name].net()
    off = np.abs(depth_below_table(withy().boat, net.reshape(-1, 3)) - PLANKING - FRAME)
    assert off.max() < OFF_MM


@pytest.mark.parametrize("name", PLANKS)
def test_plank_laid_flat_keeps_its_lengths(name):
    flat, net = PLANKS[name].development().net, PLANKS[name].net()
    for axis in (0, 1):
        laid = np.linalg.norm(np.diff(flat, axis=axis), axis=2).sum(axis=axis)
        bent = np.linalg.norm(np.diff(net, axis=axis), axis=2).sum(axis=axis)
        # A clamp in one length, 6 m on a hull round both ways, has to take up two in ten thousand.
        assert (np.abs(laid - bent) < np.maximum(OFF_MM, 2e-4 * bent)).all()
    assert PLANKS[name].outline().area_mm2 == pytest.approx(area_of(net), rel=1e-3)


def area_of(net):
    """Return the area of a net's triangles."""
    a, b, c, d = net[:-1, :-1], net[1:, :-1], net[1:, 1:], net[:-1, 1:]
    halves = (np.cross(b - a, c - a), np.cross(c - a, d - a))
    return sum(np.linalg.norm(half, axis=2).sum() / 2 for half in halves)


def test_beams_lie_under_the_deck_and_floors_on_the_keel():
    boat = withy().boat
    beam = PARTS["mast beam, frame 8"]
    upper = next(edge for edge in beam.faces().edges if edge.name == "upper edge")
    crown = boat.hull.table.crown
    for line, z in ((upper.near, 0.0), (upper.far, -beam.faces().siding_mm)):
        for x, y, height in in_boat(beam, line, z):
            half, sheer = boat.hull.sheer(x)
            mould = crown.height(np.array([y, half]))
            assert height == pytest.approx(sheer - 0.75 * 25.4 + mould[0] - mould[1], abs=OFF_MM)
    floor = PARTS["floor amidships, frame 14"]
    seat = next(edge for edge in floor.faces().edges if edge.name == "seat")
    for line, z in ((seat.near, 0.0), (seat.far, -floor.faces().siding_mm)):
        x, _, height = in_boat(floor, line, z)[0]
        rabbet = np.interp(x, *rabbet_heights(boat))
        assert height == pytest.approx(rabbet + 1.5 * 25.4, abs=1.0)


def rabbet_heights(boat):
    """Return the table's own figures, stations and heights, with a spline between them."""
    line = boat.hull.table.row(LineKind.RABBET, Measure.HEIGHT)
    places = np.linspace(boat.hull.table.x[0], boat.hull.table.x[-1], 2000)
    given = [offset.mm for offset in line.offsets]
    return places, make_interp_spline(boat.hull.table.x, given, k=3)(places)
