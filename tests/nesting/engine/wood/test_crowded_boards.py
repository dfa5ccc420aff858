"""Boards with very many keep-outs: what is gathered near a part is all that matters to it."""

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from nesting.engine.geometry.no_fit import EMPTY, is_outside, joined, joined_moved
from nesting.engine.pack import pack
from nesting.engine.state.board_state import TOWARD_LEFT, BoardState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import MaxRounds
from nesting.engine.wood import board_region as ground
from nesting.engine.wood.board_region import cells_of
from nesting.engine.wood.crossing_lines import free_lines
from nesting.engine.wood.room_bounds import free_region
from nesting.engine.wood.runs import free_beside, runs_beside, runs_of
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region, slot

KINDS = (KeepOutKind.METAL, KeepOutKind.HOLE, KeepOutKind.KNOT)


def nailed(seed=0, count=60, length=1500.0, width=200.0):
    rng = np.random.default_rng(seed)
    flaws = [
        circle(KINDS[int(rng.integers(3))], float(x), float(y), float(rng.choice([3, 6])))
        for x, y in zip(rng.uniform(5, length, count), rng.uniform(5, width, count), strict=True)
        if x < length - 5 and y < width - 5
    ]
    flaws.append(region(KeepOutKind.ROT, [(700, 20), (760, 25), (740, 60)]))
    flaws.append(slot(KeepOutKind.GROOVE, (1000, 150), (1100, 160), 8))
    return Board("B", box(0, 0, length, width), 30, "teak", keep_outs=tuple(flaws))


def needs():
    knee = Outline(Polygon([(0, 0), (120, 0), (120, 30), (40, 40), (30, 110), (0, 110)]), 25)
    return [
        Need("strip", "plank", Outline(box(0, 0, 160, 25), 25), ("teak",), 4, Holes.PLUGGED),
        Need("knee", "knee", knee, ("teak",), 2, Holes.CLEAR),
    ]


@pytest.fixture
def crowded(monkeypatch):
    monkeypatch.setattr(ground, "MANY", 10)


def test_regions_moved_together_are_those_moved_one_by_one():
    problem = Problem(needs(), [nailed()], Rules())
    figures = [problem.figure(n, 0.0, is_over=False) for n in (0, 1)]
    kinds = [problem.between(figures[0], figures[1]), problem.between(figures[1], figures[0])]
    regions, moves = [kinds[0], EMPTY, kinds[1], kinds[0]], np.arange(8.0).reshape(4, 2) / 3
    one_by_one = joined(r.moved(x, y) for r, (x, y) in zip(regions, moves, strict=True))
    together = joined_moved(regions, moves)
    for name in ("edges", "first", "boxes", "segments"):
        assert np.array_equal(getattr(together, name), getattr(one_by_one, name))


@pytest.mark.usefixtures("crowded")
def test_what_is_gathered_for_a_window_forbids_all_that_the_whole_board_does():
    board, rng = nailed(), np.random.default_rng(1)
    problem = Problem(needs(), [board], Rules())
    for need in (0, 1):
        for figure in problem.turnings(need, 0, is_leaning=False):
            limit = problem.grounds[0].limit(figure)
            whole = problem.grounds[0].region(figure)
            for cell in cells_of(limit):
                near = problem.grounds[0].region(figure, cell)
                assert len(near.first) < len(whole.first)
                for _ in range(6):
                    x, y = rng.uniform(cell[0], cell[2]), rng.uniform(cell[1], cell[3])
                    assert is_outside(near, x, y) == is_outside(whole, x, y)


def test_cells_cover_a_window_and_are_small():
    cells = cells_of((-10.0, 0.0, 810.0, 95.0))
    assert len(cells) == 6
    assert sum((c - a) * (d - b) for a, b, c, d in cells) == pytest.approx(820 * 95)


def test_lines_across_many_keep_outs_are_free_where_the_wood_is():
    board, rules = nailed(), Rules()
    for need in needs():
        lines = free_lines(board, need, rules)
        whole = runs_of(free_region(board, need, rules), 0, 1500)
        assert len(lines.first) == len(whole.first)
        lengths = [
            float((runs.y[1::2] - runs.y[::2]).sum()) for runs in (lines, whole)
        ]  # Chords cut a circle's corners: a little less is taken of the whole.
        assert lengths[0] <= lengths[1] + 1e-6
        assert lengths[0] == pytest.approx(lengths[1], rel=2e-3)
        assert lines.first.tolist() == whole.first.tolist()
        assert lines.y == pytest.approx(whole.y, abs=0.5)


def test_parts_taken_from_lines_leave_what_they_leave_of_the_wood():
    wood = box(0, 0, 1500, 200).difference(Point(300, 80).buffer(30))
    parts = [box(100.2, 20, 700.7, 90), Point(900, 150).buffer(45), box(1400, -5, 1600, 300)]
    for given in (parts, parts[:1], []):
        found = runs_beside(runs_of(wood, 0, 1500), given)
        wanted = runs_of(free_beside(wood, given), 0, 1500)
        assert np.array_equal(found.first, wanted.first)
        assert found.y == pytest.approx(wanted.y, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_best_place_on_a_crowded_board_is_the_one_found_all_at_once(seed, monkeypatch):
    board = nailed(seed)
    places = []
    for most in (10, 1000):
        monkeypatch.setattr(ground, "MANY", most)
        problem, state, found = Problem(needs(), [board], Rules()), BoardState(0), []
        for need in (1, 1, 0, 0):
            for figure in problem.turnings(need, 0, is_leaning=False)[:2]:
                laid = state.best_place(need, figure, problem, TOWARD_LEFT)
                found.append(None if laid is None else laid.x_mm + 0.02 * laid.y_mm)
        places.append(found)
    assert places[0] == pytest.approx(places[1], abs=1e-6)


@pytest.mark.usefixtures("crowded")
def test_plan_on_a_crowded_board_is_sound_and_places_what_has_room():
    rules = Rules()
    plan = pack(needs(), [nailed(3)], rules, stop=MaxRounds(2))
    assert not check_plan(plan, needs(), rules)
    assert sum(len(nest.placements) for nest in plan.nests) >= 4


def test_keep_outs_near_a_box_are_those_whose_own_box_meets_it():
    board = nailed()
    near = board.keep_outs_near((690.0, 10.0, 770.0, 50.0))
    meeting = box(690, 10, 770, 50)
    wanted = [k for k in board.keep_outs if box(*k.polygon.bounds).distance(meeting) <= 1e-3]
    assert list(near) == wanted
    assert any(k.kind is KeepOutKind.ROT for k in near)
