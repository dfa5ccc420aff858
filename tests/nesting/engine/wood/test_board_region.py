"""Where a figure may lie on a board, as shapely says it from the true shapes."""

import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.engine.geometry.no_fit import is_outside
from nesting.engine.pack import pack
from nesting.engine.state.problem import Problem
from nesting.engine.stop import MaxRounds
from nesting.engine.wood.board_region import CELL_MM, cells_of, core_pieces
from nesting.need import Holes, Need
from nesting.nest import Nest
from nesting.outline import BearingZone, Outline
from nesting.referee.check import check_nest, check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import OPENING, KeepOut, KeepOutKind, circle, region, slot

RULES = Rules(kerf_mm=2, trim_mm=1.5, cleaning_loss_mm=1.0)
PLANK = Polygon([(0, 0), (300, 8), (600, 0), (600, 130), (300, 118), (0, 130)])
FLAWS = (
    circle(KeepOutKind.METAL, 120, 40, 5),
    circle(KeepOutKind.HOLE, 300, 60, 4),
    circle(KeepOutKind.HOLE, 420, 90, 12),
    region(KeepOutKind.ROT, [(500, 20), (540, 25), (520, 50)]),
    slot(KeepOutKind.SPLIT, (30, 100), (90, 104), 2.0),
    circle(KeepOutKind.STAIN, 220, 80, 15),
    slot(KeepOutKind.GROOVE, (360, 20), (400, 20), 6.0),
    KeepOut("groove", box(320, 100, 350, 130), source=OPENING),
)
ZONE = BearingZone(box(0, 0, 30, 60), "end")
BEVELLED = Polygon([(0, 0), (108, 0), (108, 40), (60, 52), (12, 60)])
NOTCHED = Polygon([(0, 0), (60, 10), (120, 0), (120, 40), (60, 60), (0, 60)])
PART = Polygon([(0, 0), (120, 0), (120, 40), (60, 60), (0, 60)])


def is_legal(figure, x, y, board, rules, slack):
    """Ask shapely whether a figure may lie somewhere; a positive slack asks for more room."""
    need, lying = figure.need, affinity.translate(figure.shape, x, y)
    if not board.shape.buffer(-rules.trim_mm - slack, join_style="mitre").covers(lying):
        return False
    for keep_out in board.keep_outs:
        if need.ignores(keep_out, rules):
            continue
        edge = rules.trim_mm if keep_out.is_opening else 0.0
        gap = max(edge, rules.clearance_mm(keep_out.kind)) + slack
        if keep_out.polygon.distance(lying) >= gap - 1e-9 and not keep_out.polygon.within(lying):
            continue
        if not need.may_plug(keep_out, rules):
            return False
        bung = Point(keep_out.core).buffer(rules.plug_for(keep_out) / 2 + max(slack, -2.0), 64)
        whole = affinity.translate(figure.placed_zone(need.outline.bung_room), x, y)
        room = whole.buffer(-rules.plug_edge_mm - max(slack, 0.0))
        zones = [
            affinity.translate(figure.placed_zone(z.region), x, y)
            for z in need.outline.bearing_zones
        ]
        if not room.covers(bung) or any(zone.distance(bung) <= 0 for zone in zones):
            return False
    return True


@pytest.mark.parametrize("both_faces", [None, BEVELLED, NOTCHED])
@pytest.mark.parametrize("holes", Holes)
@pytest.mark.parametrize(("angle", "is_over"), [(0.0, False), (180.0, True), (12.0, False)])
def test_a_figure_may_lie_where_shapely_says_so(holes, angle, is_over, both_faces):
    outline = Outline(PART, 20, bearing_zones=(ZONE,), both_faces=both_faces)
    need = Need("P", "any", outline, ("oak",), holes=holes)
    board = Board("A", PLANK, 30, "oak", keep_outs=FLAWS)
    problem = Problem([need], [board], RULES)
    figure = problem.figure(0, angle, is_over=is_over)
    forbidden, limit = problem.grounds[0].region(figure), problem.limit(figure, 0)
    rng, seen = np.random.default_rng(1), set()
    for x, y in rng.uniform(limit[:2], limit[2:], (250, 2)):
        found = is_outside(forbidden, float(x), float(y))
        seen.add(found)
        if found:  # what the search takes is right, to a hair
            assert is_legal(figure, x, y, board, RULES, -1e-6)
        else:  # and it gives away little: arcs are met by tangents
            assert not is_legal(figure, x, y, board, RULES, 1.0)
    assert seen == {True, False}


def test_a_figure_as_large_as_its_board_has_one_place():
    rules = Rules(kerf_mm=0, trim_mm=2, cleaning_loss_mm=0)
    need = Need("P", "any", Outline(box(10, 20, 106, 56), 20), ("oak",))
    boards = [Board("A", box(0, 0, 100, 40), 30, "oak")]
    boards += [Board("B", box(0, 0, w, h), 30, "oak") for w, h in ((99.99, 40), (100, 39.99))]
    problem = Problem([need], boards, rules)
    figure = problem.figure(0, 0.0, is_over=False)
    assert problem.grounds[0].limit(figure) == pytest.approx((-8, -18, -8, -18))
    assert [ground.limit(figure) for ground in problem.grounds[1:]] == [None, None]
    assert [ground.has_room(figure) for ground in problem.grounds] == [True, False, False]


def test_what_is_beside_the_board_in_its_box_is_tiled():
    board = Board("A", PLANK, 30, "oak")
    problem = Problem([], [board], RULES)
    beside = [Polygon(ring) for ring in problem.grounds[0].outside.rings()]
    whole = box(*PLANK.bounds)
    assert sum(piece.area for piece in beside) == pytest.approx(whole.area - PLANK.area)
    assert not any(piece.intersection(PLANK).area > 1e-9 for piece in beside)
    assert not problem.grounds[0].is_crowded


@pytest.mark.parametrize(
    ("window", "columns", "rows"),
    [((0, 0, 10, 10), 1, 1), ((0, 0, CELL_MM, 0), 1, 1), ((5, 5, CELL_MM + 6, 5), 2, 1),
     ((0, 0, 3 * CELL_MM, 2.5 * CELL_MM), 3, 3)],
)  # fmt: skip
def test_a_window_falls_into_as_few_cells_as_their_size_allows(window, columns, rows):
    cells = cells_of(tuple(map(float, window)))
    assert len(cells) == columns * rows
    assert len({cell[0] for cell in cells}) == columns
    assert min(c[0] for c in cells) == window[0]
    assert max(c[3] for c in cells) == window[3]
    assert all(c[2] - c[0] <= CELL_MM and c[3] - c[1] <= CELL_MM for c in cells)


def test_cores_of_keep_outs_are_points_lines_and_convex_pieces():
    assert core_pieces(Point(3, 4)).rings()[0].tolist() == [[3, 4]]
    line = core_pieces(LineString([(0, 0), (5, 0), (5, 9)])).rings()
    assert [ring.tolist() for ring in line] == [[[0, 0], [5, 0]], [[5, 0], [5, 9]]]
    ell = Polygon([(0, 0), (9, 0), (9, 3), (3, 3), (3, 9), (0, 9)])
    assert sum(Polygon(ring).area for ring in core_pieces(ell).rings()) == pytest.approx(ell.area)


def test_a_board_with_many_keep_outs_is_crowded(monkeypatch):
    monkeypatch.setattr("nesting.engine.wood.board_region.MANY", len(FLAWS))
    problem = Problem([], [Board("A", PLANK, 30, "oak", keep_outs=FLAWS)], RULES)
    assert not problem.grounds[0].is_crowded
    monkeypatch.setattr("nesting.engine.wood.board_region.MANY", len(FLAWS) - 1)
    assert problem.grounds[0].is_crowded


STRIP = box(0, 0, 500, 22)


@pytest.mark.parametrize("moved", [0.0, 0.001, -0.001])
@pytest.mark.parametrize(
    ("shape", "zone", "x", "y"),
    [
        (STRIP, None, 200, 11),  # as near to both edges as a bung may lie
        (box(0, 0, 500, 60), None, 11, 11),  # to a corner
        (box(0, 0, 500, 60), box(0, 0, 50, 60), 55, 30),  # touching a bearing zone
    ],
)
@pytest.mark.parametrize("angle", [0.0, 180.0, 3.0])
def test_bung_may_come_exactly_as_near_to_edges_and_zones_as_the_rules_say(
    shape, zone, x, y, moved, angle
):
    """A bung of 10 mm, 6 mm from the edge: 11 mm from its centre."""
    zones = () if zone is None else (BearingZone(zone, "end"),)
    rules = Rules(plug_edge_mm=6, plug_sizes_mm=(10,), reaming_mm=0.5)
    need = Need("P", "any", Outline(shape, 20, bearing_zones=zones), ("oak",), holes="plugged")
    board = Board("A", box(0, 0, 2000, 1000), 30, "oak", keep_outs=[circle("hole", 1000, 500, 9)])
    problem = Problem([need], [board], rules)
    figure = problem.figure(0, angle, is_over=False)
    turn = math.radians(angle)
    at_x = 1000 - (x + moved) * math.cos(turn) + y * math.sin(turn)
    at_y = 500 - (x + moved) * math.sin(turn) - y * math.cos(turn)
    is_sound = shape is STRIP or moved >= 0
    assert is_outside(problem.grounds[0].region(figure), at_x, at_y) == is_sound
    lying = Nest(board, (figure.at(at_x, at_y),))
    assert (check_nest(lying, rules) == ()) == is_sound


def test_strip_as_wide_as_its_bungs_and_their_edges_need_is_placed_on_its_board():
    """Holes 1/2 in from the edges of a board: 1/16 in of trim, 3/16 of bung, 1/4 beside it."""
    inch = 25.4
    rules = Rules(
        kerf_mm=inch / 16, trim_mm=inch / 16, plug_edge_mm=inch / 4, plug_sizes_mm=(3 * inch / 8,)
    )
    holes = [circle("hole", x * inch, y * inch, 3 * inch / 16) for x in (6, 16) for y in (0.5, 4.5)]
    board = Board("A", box(0, 0, 30 * inch, 5 * inch), 30, "oak", keep_outs=holes)
    need = Need(
        "P", "any", Outline(box(0, 0, 29 * inch, 4.875 * inch), 20), ("oak",), holes="plugged"
    )
    plan = pack([need], [board], rules, stop=MaxRounds(0))
    assert not plan.unplaced and check_plan(plan, [need], rules) == ()
