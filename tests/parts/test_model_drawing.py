"""Pieces in the three views: which edges are drawn, and what hides them."""

from pathlib import Path

import numpy as np
import pytest
import shapely
from model_parts import PARTS, Standing, beam_at, knee_pair

from parts.lines import read_hull
from parts.lines.views import views
from parts.model.hidden_lines import (
    FROM_ABOVE,
    FROM_AHEAD,
    FROM_ASTERN,
    FROM_CENTRELINE,
    NEVER_UNDER,
    Half,
    shadow_of,
    views_with_pieces,
    visible_lines,
)
from parts.model.mesh import Mesh, mesh_of
from parts.model.piece import pieces_in_boat
from parts.model.visible_edges import edges_towards

WITHY = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"


def box_half(name, low, high):
    import cadquery as cq

    size = np.subtract(high, low)
    solid = cq.Solid.makeBox(*(float(s) for s in size), cq.Vector(*low))
    return Half(name, solid, mesh_of(solid))


def drawn_length(lines, name):
    return sum(shapely.LineString(line.points).length for line in lines if line.name == name)


@pytest.fixture(scope="module")
def withy():
    return read_hull(WITHY)


@pytest.fixture(scope="module")
def drawn(withy):
    return views_with_pieces(withy, pieces_in_boat(PARTS))


def test_box_seen_square_shows_its_four_nearest_edges():
    edges = edges_towards(box_half("box", (0, 0, 0), (100, 60, 30)).mesh, (0.0, 0.0, 1.0))
    assert len(edges) == 4
    assert edges[..., 2] == pytest.approx(30)


def test_round_face_shows_its_rim_and_no_facets():
    import cadquery as cq

    mesh = mesh_of(cq.Solid.makeCylinder(50, 200))
    edges = edges_towards(mesh, (1.0, 0.0, 0.0))
    along = np.abs(np.diff(edges, axis=1)[:, 0, 2]) > 100
    # The two sides of the rim, and half of either end's circle.
    assert along.sum() == 2
    assert np.abs(edges[along][:, :, 1]) == pytest.approx(50, abs=1.0)


def test_box_behind_another_is_hidden_where_it_is_covered():
    near, far = (
        box_half("near", (0, 0, 50), (100, 100, 60)),
        box_half("far", (50, 0, 0), (150, 100, 10)),
    )
    lines = visible_lines([near, far], FROM_ABOVE)
    assert drawn_length(lines, "near") == pytest.approx(400, abs=1)
    # Of the far one 50 mm of two edges and the whole of its farther end.
    assert drawn_length(lines, "far") == pytest.approx(200, abs=6)


def test_seam_of_two_touching_planks_is_drawn():
    one, other = (
        box_half("one", (0, 0, 0), (500, 80, 12)),
        box_half("other", (0, 80, 0), (500, 160, 12)),
    )
    lines = visible_lines([one, other], FROM_ABOVE)
    for name in ("one", "other"):
        assert drawn_length(lines, name) == pytest.approx(1160, abs=1)


def test_shadow_is_the_area_a_solid_covers():
    half = box_half("box", (0, 0, 0), (100, 60, 30))
    assert shadow_of(half.mesh, FROM_ABOVE).area == pytest.approx(6000)
    assert shadow_of(half.mesh, FROM_CENTRELINE).area == pytest.approx(3000)
    assert shadow_of(half.mesh, FROM_AHEAD).area == pytest.approx(1800)


def test_looks_lie_on_paper_as_the_lines_do():
    place = np.array([[3000.0, 500.0, 900.0]])
    assert FROM_AHEAD.on_paper(place)[0] == pytest.approx([500, 900])
    assert FROM_ASTERN.on_paper(place)[0] == pytest.approx([-500, 900])
    assert FROM_CENTRELINE.on_paper(place)[0] == pytest.approx([3000, 900])
    assert FROM_ABOVE.on_paper(place)[0] == pytest.approx([3000, 500])


def test_beam_is_cut_at_the_centreline_and_stands_at_its_place(drawn):
    plan = [line for line in drawn.half_breadth if line.name == "beam 1"]
    points = np.vstack([line.points for line in plan])
    assert (points[:, 0].min(), points[:, 0].max()) == pytest.approx((2500, 2545), abs=0.1)
    assert (points[:, 1].min(), points[:, 1].max()) == pytest.approx((0, 600), abs=0.1)


def test_fore_body_is_on_the_right_and_after_body_on_the_left(withy):
    pieces = pieces_in_boat({"fore": beam_at(2000.0), "aft": beam_at(5000.0)})
    body = views_with_pieces(withy, pieces).body
    x = {name: [p[0] for line in body if line.name == name for p in line.points]
         for name in ("fore", "aft")}  # fmt: skip
    assert min(x["fore"]) > -0.1 and max(x["aft"]) < 0.1


def test_port_piece_is_not_drawn(drawn):
    assert {line.name for line in drawn.profile if line.kind == "part"} == {
        "beam 1", "beam 2", "knee, 1 of 2",
    }  # fmt: skip


def test_port_piece_without_a_twin_lies_below_the_centreline_of_the_plan(withy):
    pair = knee_pair(4500.0)
    alone = Standing(pair.part, pair.places[1:])
    seen = views_with_pieces(withy, pieces_in_boat({**PARTS, "port knee": alone}))
    lines = [line for line in seen.half_breadth if line.name == "port knee"]
    points = np.vstack([line.points for line in lines])
    # A knee to starboard is drawn the same, the other way up.
    twin = views_with_pieces(withy, pieces_in_boat({"pair": pair})).half_breadth
    other = np.vstack([line.points for line in twin if line.name == "pair, 1 of 2"])
    assert points.min(axis=0) == pytest.approx([other[:, 0].min(), -other[:, 1].max()], abs=0.1)
    assert points.max(axis=0) == pytest.approx([other[:, 0].max(), -other[:, 1].min()], abs=0.1)
    starboard = drawn_length(twin, "pair, 1 of 2")
    assert drawn_length(lines, "port knee") == pytest.approx(starboard, rel=0.01)
    assert not any(line.name == "port knee" for line in (*seen.body, *seen.profile))


def test_port_side_of_the_plan_has_the_hulls_edges_only_where_something_lies_there(withy, drawn):
    assert min(y for line in drawn.half_breadth for _, y in line.points) > -1.0
    pair = knee_pair(4500.0)
    alone = Standing(pair.part, pair.places[1:])
    plan = views_with_pieces(withy, pieces_in_boat({"port knee": alone})).half_breadth
    starboard, port = [line.points for line in plan if line.kind == "sheer"]
    assert port == tuple((x, -y) for x, y in starboard)


def test_lines_of_the_hull_end_at_the_pieces_and_her_edges_run_on(withy, drawn):
    plain = views(withy)
    half = shapely.box(2510, 10, 2535, 590)
    for line in drawn.half_breadth:
        if line.kind != "part" and line.kind not in NEVER_UNDER:
            assert not shapely.LineString(line.points).crosses(half), line
    for kind in NEVER_UNDER:
        before = [line for line in plain.profile if line.kind == kind]
        assert [line for line in drawn.profile if line.kind == kind] == before


def test_views_without_pieces_are_those_of_the_hull(withy):
    assert views_with_pieces(withy, ()).profile == views(withy).profile


def test_knee_hides_nothing_of_itself_that_faces_the_eye(withy):
    pieces = pieces_in_boat({"knee": knee_pair(3000.0)})
    lines = [line for line in views_with_pieces(withy, pieces).body if line.name == "knee, 1 of 2"]
    ring = shapely.union_all([shapely.LineString(line.points) for line in lines])
    shadow = shadow_of(mesh_of(pieces[0].solid), FROM_AHEAD)
    # The rim of the shadow is drawn all round.
    assert shadow.boundary.difference(ring.buffer(0.5)).length < 0.01 * shadow.length


def test_triangles_without_area_do_no_harm():
    mesh = Mesh(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2], [0, 1, 1]]))
    assert edges_towards(mesh, (0.0, 0.0, 1.0)).shape == (0, 2, 3)
