"""Run-out: what a part asks of the grain along its own edges, in the search and to the referee."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from nesting import cli
from nesting.accounts.strength import piece_strength
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.errors import ShapeError
from nesting.grain import GrainPath, straight_grain
from nesting.need import Misfit, Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.referee.check import check_nest, check_plan
from nesting.referee.grain import steepest_deg
from nesting.rules import Rules
from nesting.stock.board import Board
from parts.families.floors import FloorTimber
from parts.families.knees import Knee

RULES = Rules(kerf_mm=2, trim_mm=1, cleaning_loss_mm=1)
BOARD = Board("A", box(0, 0, 1500, 400), 40, "oak")
TAPER_DEG = 5.0
TAPER = Outline(
    Polygon([(0, 0), (800, 0), (800, 60 + 800 * math.tan(math.radians(TAPER_DEG))), (0, 60)]),
    20,
    run_out=1 / math.tan(math.radians(TAPER_DEG)),
)
"""Its lower edge lies along its grain, its upper edge five degrees off."""


def run(angle_deg):
    return 1 / math.tan(math.radians(angle_deg))


def wanted(outline, limit, **given):
    return Need("P", "any", replace(outline, run_out_limit=limit), ("oak",), **given)


def packed(need, *boards):
    return pack([need], boards, RULES, stop=MaxRounds(0), workers=1)


def floor():
    return FloorTimber(
        siding=30, moulding=80, half_span=300, tip_moulding=40, seat=40, deadrise=20,
        keel_bolt=None, frame_lap=100, frame_bolts=0,
    ).outline()  # fmt: skip


def grown_knee():
    return Knee(
        kind="hanging", siding=30, beam_arm=200, side_arm=220, throat=90, tip_moulding=30, bolts=0,
        grain="grown", slope_of_grain=3,
    ).outline()  # fmt: skip


def test_taper_may_lean_only_the_way_that_shares_it_between_both_edges():
    # Edges 0 and 5 degrees off: within 3 degrees only if turned back by 2 to 3.
    outline = replace(TAPER, run_out_limit=run(3))
    assert outline.leans_deg == pytest.approx((-3, -2))
    assert outline.best_run == pytest.approx(run(2.5))


def test_curve_that_is_the_same_both_ways_may_lean_by_what_its_limit_leaves():
    outline = floor()
    assert outline.best_run == pytest.approx(run(20))
    low, high = replace(outline, run_out_limit=run(22)).leans_deg
    assert (low, high) == pytest.approx((-2, 2))


def test_limit_steeper_than_one_in_one_is_refused():
    with pytest.raises(ShapeError, match=r"run-out of 1 in 0\.5: 1 in 1 is the steepest"):
        replace(TAPER, run_out_limit=0.5)


@pytest.mark.parametrize("may_turn_over", [False, True])
@pytest.mark.parametrize("grain_deg", [0.0, 7.0])
def test_search_lays_a_taper_as_its_limit_asks_and_the_referee_agrees(may_turn_over, grain_deg):
    need = wanted(replace(TAPER, may_turn_over=may_turn_over), run(2.8), quantity=2)
    board = replace(BOARD, grain=straight_grain(grain_deg))
    plan = packed(need, board)
    assert [len(nest.placements) for nest in plan.nests] == [2]
    assert check_plan(plan, [need], RULES) == ()
    for placement in plan.nests[0].placements:
        assert piece_strength(placement, board, RULES).run >= run(2.8) - 1e-3


def test_limit_that_the_curve_just_meets_is_met():
    need = wanted(floor(), floor().run_out)
    plan = packed(need, BOARD)
    assert plan.unplaced == ()
    assert check_plan(plan, [need], RULES) == ()


def test_part_whose_curve_is_past_its_limit_is_left_over_for_its_grain():
    need = wanted(floor(), 8.0)
    assert need.misfit(BOARD, RULES) is Misfit.CROSS_GRAIN
    plan = packed(need, BOARD, replace(BOARD, name="B", thickness_mm=10))
    assert [(left.count, left.reason) for left in plan.unplaced] == [(1, Misfit.CROSS_GRAIN)]


def test_referee_sees_run_out_that_a_slope_of_grain_limit_lets_pass():
    straight = Nest(BOARD, (Placement(wanted(floor(), None), 400, 100),))
    assert check_nest(straight, RULES) == ()
    limited = Nest(BOARD, (Placement(wanted(floor(), 8.0), 400, 100),))
    (fault,) = check_nest(limited, RULES)
    assert fault.rule == "run-out of grain"
    assert "20.0000 degrees off it, 7.1250 are allowed" in fault.measured


def test_referee_sees_a_taper_turned_the_wrong_way():
    need = wanted(TAPER, run(3))
    for angle, rules in ((-2.5, []), (2.5, ["run-out of grain"]), (-1.9, ["run-out of grain"])):
        nest = Nest(BOARD, (Placement(need, 100, 100, angle),))
        assert [fault.rule for fault in check_nest(nest, RULES)] == rules


def crook(outline):
    """Return a crook that a part just fits, its own grain along the wood's."""
    return Board("K", box(*outline.shape.buffer(1.5).bounds), 40, "oak", grain=outline.grain)


def test_grown_knee_is_held_to_its_limit_by_its_grown_grain():
    outline = grown_knee()
    plan = packed(wanted(outline, 8.0), BOARD, crook(outline))
    assert [nest.board.name for nest in plan.nests] == ["K"]
    assert check_plan(plan, [wanted(outline, 8.0)], RULES) == ()


def test_grown_knee_on_a_crook_of_another_bend_is_left_over_for_its_grain():
    outline = grown_knee()
    wood = crook(outline)
    flat = GrainPath(tuple((x, 0.7 * y) for x, y in wood.grain.points))
    other = replace(wood, grain=flat)
    assert packed(wanted(outline, None), other).unplaced == ()
    (left,) = packed(wanted(outline, 20.0), other).unplaced
    assert left.reason is Misfit.CROSS_GRAIN


@settings(deadline=None, max_examples=60)
@given(
    angle=st.floats(-180, 180),
    is_over=st.booleans(),
    kind=st.sampled_from(["taper", "floor", "grown knee"]),
    grain=st.sampled_from([straight_grain(0), straight_grain(-11), None]),
)
def test_referee_and_report_weigh_any_lie_alike(angle, is_over, kind, grain):
    outline = {"taper": TAPER, "floor": floor(), "grown knee": grown_knee()}[kind]
    board = crook(grown_knee()) if grain is None else replace(BOARD, grain=grain)
    # Where grown grain bends, either stretch of it is the nearest one: both answers are right.
    assume(grain is not None or (abs(angle) < 20 and not is_over))
    placement = Placement(wanted(outline, None), 10.137, 5.731, angle, is_over)
    off = steepest_deg(placement, board)
    told = piece_strength(placement, board, RULES).run
    assert math.degrees(math.atan2(1, told)) == pytest.approx(off, abs=0.06)


PROJECT = """\
version: 1
name: One floor
unit: mm
stock:
  - {board: D-01, species: white oak, thickness: 40, length: 1500, width: 400}
parts:
  - part: floor
    family: floor timber
    species: white oak
    RUN_OUT
    shape: {siding: 30, moulding: 80, half_span: 300, tip_moulding: 40, seat: 40, deadrise: 20,
            keel_bolt: 8, frame_lap: 120, frame_bolt: 6}
"""


def project(tmp_path, run_out):
    path = tmp_path / "floor.yaml"
    path.write_text(PROJECT.replace("RUN_OUT", run_out))
    return path


def test_check_says_that_no_lie_can_meet_a_limit(tmp_path, capsys):
    assert cli.main(["check", str(project(tmp_path, "run_out: 1 in 8"))]) == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert "part floor: no board can give it: laid at its best on straight grain it " in out
    assert "runs out 1 in 2.7" in out
    assert "asks for 1 in 8" in out


def test_check_is_silent_on_a_limit_that_can_be_met(tmp_path, capsys):
    cli.main(["check", str(project(tmp_path, "run_out: 1 in 2"))])
    assert "note" not in capsys.readouterr().out


def test_run_out_that_is_no_slope_is_told_with_its_place(tmp_path, capsys):
    assert cli.main(["check", str(project(tmp_path, "run_out: flat"))]) == cli.PROJECT_WRONG
    assert "floor.yaml:10:" in capsys.readouterr().err


def test_grain_of_a_drawn_line_has_no_length_along_the_edges():
    assert TAPER.weighed[:, 2].sum() == pytest.approx(800 + 800 / math.cos(math.radians(5)))
    assert np.isfinite(TAPER.weighed).all()
