"""Outlines turned and turned over, and the ways true to the grain or leaning from it."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.tolerances import HULL_MM
from nesting.engine.geometry.turned import (
    INSIDE_DEG,
    MOST_LEANS,
    Pieces,
    angles,
    figure_key,
    most_lean,
    search_pieces,
    truest_lean,
    turned,
)
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.grain import straight_grain
from nesting.need import Need
from nesting.outline import BearingZone, Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board

ELL = Polygon([(5, 0), (95, 0), (95, 30), (35, 30), (35, 90), (5, 90)])


def need(shape=ELL, **given):
    return Need("P", "any", Outline(shape, 20, **given), ("oak",))


def board(shape=None, grain_deg=0.0):
    shape = box(0, 0, 1000, 100) if shape is None else shape
    return Board("B", shape, 30, "oak", grain=straight_grain(grain_deg))


def ways(outline, wood, *, is_leaning=False):
    return [(angle % 360, over) for angle, over in angles(outline, wood, is_leaning=is_leaning)]


@pytest.mark.parametrize("is_over", [False, True])
@pytest.mark.parametrize("angle", [0.0, 30.0, 250.0])
def test_pieces_lie_where_the_outline_lies_and_run_anticlockwise(angle, is_over):
    wanted = need()
    figure = turned(7, wanted, Pieces.of(convex_pieces(ELL)), angle, is_over)
    flat = affinity.scale(ELL, 1, -1, origin=(0, 0)) if is_over else ELL
    lying = affinity.rotate(flat, angle, origin=(0, 0))
    assert (figure.number, figure.need, figure.angle_deg) == (7, wanted, angle)
    assert figure.is_turned_over == is_over
    assert figure.shape.symmetric_difference(lying).area < 1e-6
    assert figure.box == pytest.approx(lying.bounds)
    pieces = [Polygon(ring) for ring in figure.pieces.rings()]
    assert len(figure.pieces) == len(pieces) == 2
    assert all(piece.exterior.is_ccw for piece in pieces)
    assert shapely.union_all(pieces).symmetric_difference(lying).area < 1e-6


def test_no_pieces_are_packed_as_none():
    nothing = Pieces.of(())
    assert (len(nothing), nothing.corners.shape, nothing.rings()) == (0, (0, 2), [])


def test_a_figure_has_its_place_and_its_zones_turned_with_it():
    zone = BearingZone(box(5, 0, 20, 30), "end")
    figure = turned(0, need(bearing_zones=(zone,)), Pieces.of(()), 90.0, False)
    assert figure.placed_zone(zone.region).bounds == pytest.approx((-30, 5, 0, 20))
    at = figure.at(100.0, 50.0)
    assert (at.x_mm, at.y_mm, at.angle_deg, at.is_turned_over) == (100, 50, 90, False)
    assert at.polygon.bounds == pytest.approx((10, 55, 100, 145))


def signs(shape, turns, **given):
    return [
        turned(0, need(shape, **given), Pieces.of(()), angle, over).sign for angle, over in turns
    ]


def test_ways_that_give_the_same_figure_with_the_same_zones_have_the_same_sign():
    plain = signs(box(0, 0, 60, 20), [(0, False), (180, False), (0, True), (90, False)])
    assert plain[0] == plain[1] == plain[2] != plain[3]
    zone = (BearingZone(box(0, 0, 10, 20), "end"),)
    zoned = signs(box(0, 0, 60, 20), [(0, False), (180, False), (0, True)], bearing_zones=zone)
    assert zoned[0] == zoned[2] != zoned[1]


def test_figures_are_told_apart_by_their_corners_and_not_by_where_they_lie():
    square = box(0, 0, 10, 10)
    moved = affinity.translate(square, 3.0, -7.0)
    begun_elsewhere = Polygon([(10, 10), (0, 10), (0, 0), (10, 0)])
    assert figure_key([square]) == figure_key([moved]) == figure_key([begun_elsewhere])
    assert figure_key([square]) != figure_key([box(0, 0, 10, 10.001)])
    assert figure_key([square, moved]) != figure_key([square, square])


def test_grain_of_part_and_board_lie_along_each_other_either_way_round_and_over():
    outline = Outline(box(0, 0, 300, 50), 20, grain=straight_grain(20.0))
    assert ways(outline, board(grain_deg=30.0)) == [
        (pytest.approx(10), False), (pytest.approx(190), False),
        (pytest.approx(50), True), (pytest.approx(230), True),
    ]  # fmt: skip
    one_face = Outline(box(0, 0, 300, 50), 20, may_turn_over=False)
    assert ways(one_face, board()) == [(0, False), (180, False)]


def slanting(angle, corners=()):
    """Return a plank whose long edges run at an angle, some corners standing on one of them."""
    plank = Polygon([*corners, (1000, 0), (1000, 100), (0, 100), (0, 0)])
    return affinity.rotate(plank, angle, origin=(0, 0))


@pytest.mark.parametrize("corners", [(), [(x, 0.2 * (x == 400)) for x in range(100, 1000, 100)]])
def test_leaning_parts_lie_along_long_edges_of_the_board_then_at_their_limits(corners):
    limit = math.degrees(math.atan(1 / 12)) - INSIDE_DEG
    outline = Outline(box(0, 0, 300, 50), 20, may_turn_over=False)
    found = ways(outline, board(slanting(3.0, corners)), is_leaning=True)
    leans = [angle if angle < 180 else angle - 360 for angle, _ in found[::2]]
    assert leans == pytest.approx([3.0, -limit, limit], abs=1e-5)
    assert [angle for angle, _ in found[1::2]] == pytest.approx(
        [(lean + 180) % 360 for lean in leans], abs=1e-5
    )


def test_part_with_slanting_edges_lies_along_them_turned_over_the_other_way():
    wedge = Polygon([(0, 0), (300, 0), (300, 50), (0, 40)])
    slope = math.degrees(math.atan(10 / 300))
    found = ways(Outline(wedge, 20), board(), is_leaning=True)
    leans = {over: [angle for angle, o in found[::2] if o == over] for over in (False, True)}
    assert leans[False][0] == pytest.approx(360 - slope, abs=1e-5)
    assert leans[True][0] == pytest.approx(slope, abs=1e-5)
    assert all(len(some) == 3 for some in leans.values())


def test_edges_beyond_the_limit_are_no_way_to_lie_and_few_ways_are_tried():
    outline = Outline(box(0, 0, 300, 50), 20, may_turn_over=False)
    assert len(ways(outline, board(slanting(6.0)), is_leaning=True)) == 2 * 2
    corners = [(0, 0), (500, 5), (1000, 25), (1000, 100), (500, 90), (0, 95)]
    wavy = board(Polygon(corners))
    assert len(ways(outline, wavy, is_leaning=True)) == 2 * MOST_LEANS


@pytest.mark.parametrize("share", [1.0, -1.0, 0.999, -0.999, 1e-3, -1e-3])
def test_part_as_large_as_its_board_is_placed_flush_at_any_allowed_slope_of_grain(share):
    """As steep as is allowed, nearly so, and so little off that it hardly shows."""
    grain = share * math.degrees(math.atan(1 / 12))
    rules = Rules(kerf_mm=0, trim_mm=1.5, cleaning_loss_mm=0)
    wanted = need(box(0, 0, 997, 97), slope_of_grain=12.0)
    plan = pack([wanted], [board(grain_deg=grain)], rules, stop=MaxRounds(0))
    assert not plan.unplaced and check_plan(plan, [wanted], rules) == ()


def limited(low, high, **more):
    """Stand in for an outline that may turn between two angles off straight grain."""
    plain = {"leans_deg": (low, high), "slope_of_grain": 12.0, "middle_grain_deg": 0.0}
    return SimpleNamespace(**plain | {"may_turn_over": True} | more)


def test_part_that_may_lie_only_off_the_grain_lies_as_little_off_it_as_it_may():
    assert ways(limited(2.0, 5.0), board()) == [
        (pytest.approx(2.0, abs=2e-4), False), (pytest.approx(182.0, abs=2e-4), False),
        (pytest.approx(358.0, abs=2e-4), True), (pytest.approx(178.0, abs=2e-4), True),
    ]  # fmt: skip
    assert ways(limited(2.0, 2.0), board())[0] == (2.0, False)
    assert ways(limited(2.0, 1.0), board()) == []
    assert ways(limited(2.0, 2.0 - 1e-7), board()) != []


@pytest.mark.parametrize(
    ("low", "high", "truest", "most"),
    [(-4, 6, 0, 4), (1, 4, 1, 0), (-5, -1, -1, 0), (-3, 2, 0, 2), (3, 1, 1, -2)],
)
def test_a_part_turns_off_its_truest_way_as_far_as_both_limits_let_it(low, high, truest, most):
    assert truest_lean(limited(low, high)) == truest
    assert most_lean(limited(low, high)) == most


def test_search_pieces_hold_the_outline_and_little_more_but_close_narrow_notches():
    turns = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    disc = Polygon(np.column_stack([200 * np.cos(turns), 200 * np.sin(turns)]))
    notched = disc.difference(box(-1, 150, 1, 250))
    pieces = [Polygon(ring) for ring in search_pieces(Outline(notched, 20)).rings()]
    held = shapely.union_all(pieces)
    assert disc.buffer(-0.2).difference(held.buffer(1e-6)).area < 1e-3
    assert disc.buffer(HULL_MM + 1e-6).contains(held)
    assert sum(len(piece.exterior.coords) for piece in pieces) < 80


def test_long_edges_are_long_beside_their_own_figure_wherever_it_lies():
    """An end sawn askew is no edge to lie along, though it would lie flush with the board's end."""
    outline = Outline(box(500, 20, 800, 70), 20, may_turn_over=False)
    assert len(ways(outline, board(slanting(3.0)), is_leaning=True)) == 2 * 3
    askew = Polygon([(0, 0), (300, 0), (302.6, 50), (0, 50)])
    found = ways(Outline(askew, 20, may_turn_over=False), board(), is_leaning=True)
    assert len(found) == 2 * 2


def test_a_figure_of_very_many_corners_has_a_thinner_one_within_it():
    turns = np.linspace(0, 2 * math.pi, 5000, endpoint=False)
    disc = Polygon(np.column_stack([200 * np.cos(turns), 200 * np.sin(turns)]))
    figure = turned(0, need(disc), Pieces.of(()), 30.0, False)
    assert figure.shape.buffer(1e-9).contains(figure.inner)
    assert len(figure.inner.exterior.coords) < 2500
    assert figure.shape.hausdorff_distance(figure.inner) < HULL_MM
    held = shapely.union_all([Polygon(r) for r in search_pieces(Outline(disc, 20)).rings()])
    assert held.buffer(1e-6).contains(disc)
    assert disc.buffer(HULL_MM + 1e-6).contains(held)
    assert turned(0, need(), Pieces.of(()), 0.0, False).inner.equals(ELL)
