"""What the benches compare with is itself sound."""

from pathlib import Path

import pytest
from baselines import clear_rectangles, first_fit, only_placed, rectangles
from growing import RULES, project
from salvage_puzzles import COUNTS, SHARES, puzzle
from salvage_puzzles import RULES as PUZZLE_RULES
from shapely.geometry import box

from nesting.nest import CuttingPlan
from nesting.project import read_project
from nesting.referee.check import check_plan
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

DEMOS = Path(__file__).parents[2] / "demo_projects"


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("count", COUNTS)
def test_known_answer_of_a_puzzle_satisfies_the_referee(count, share):
    made = puzzle(1, count, share)
    assert check_plan(made.answer, made.needs, PUZZLE_RULES) == ()
    assert len(made.needs) == count
    free = made.board.shape.buffer(-PUZZLE_RULES.trim_mm, join_style="mitre").area
    parts = sum(need.outline.area_mm2 for need in made.needs)
    assert 0.97 * share < parts / free <= share


def test_same_seed_gives_the_same_puzzle():
    assert puzzle(3, 8, 0.85).needs == puzzle(3, 8, 0.85).needs


def test_first_fit_keeps_every_rule():
    demo = read_project(DEMOS / "first_cut" / "project.yaml")
    plan = first_fit(demo.needs, demo.stock, demo.rules)
    assert check_plan(plan, demo.needs, demo.rules) == ()
    assert plan.nests
    fulfilled = CuttingPlan(plan.nests)
    assert check_plan(fulfilled, only_placed(plan, demo.needs), demo.rules) == ()


def test_rectangles_keep_every_rule():
    pytest.importorskip("rectpack", reason="only benches need it")
    needs, boards = project(12, 6)
    plan = rectangles(needs, boards, RULES)
    assert check_plan(plan, needs, RULES) == ()
    assert plan.nests


def test_clear_rectangles_are_clear_and_apart():
    holes = tuple(circle(KeepOutKind.METAL, x, 50, 5) for x in (200, 500))
    board = Board("A", box(0, 0, 800, 100), 30, "oak", keep_outs=holes)
    found = [box(*sides) for sides in clear_rectangles(board, RULES)]
    assert len(found) >= 3
    assert all(r.distance(hole.core) > 10 for r in found for hole in holes)
    gaps = [a.distance(b) for i, a in enumerate(found) for b in found[:i]]
    assert min(gaps) >= RULES.part_gap_mm


def test_grown_projects_have_the_size_asked_for():
    needs, boards = project(40, 15, seed=2)
    assert sum(need.quantity for need in needs) == 40
    assert len(boards) == 15
