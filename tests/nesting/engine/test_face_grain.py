"""Parts of sheet goods that may lie square to the face grain, and all others that may not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from project_texts import BOARD, HEAD, PART, only_blocks, project_text, written
from shapely.geometry import box

from nesting.accounts.left_over_words import told
from nesting.engine.geometry.turned import angles
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.engine.wood.extents import least_extents, turnings_deg
from nesting.errors import ProjectFileError
from nesting.grain import straight_grain
from nesting.left_over import Cure, Remedy
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.project import read_project
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.units import Unit

RULES = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)
GUSSET = Outline(box(0, 0, 500, 200), 9)
EITHER = replace(GUSSET, may_lie_across=True)
SHEET = Board("S", box(0, 0, 300, 600), 9, "marine plywood")
"""Its face grain runs along its short side: of the gusset only square to that there is room."""


def need(outline, wood="marine plywood"):
    return Need("gusset", "any", outline, (wood,))


def faults(outline, angle, wood="marine plywood", **given):
    board = replace(SHEET, species=wood, **given)
    lying = Placement(need(outline, wood), 250.0 if angle == 90.0 else 50.0, 20.0, angle)
    return [fault.rule for fault in check_nest(Nest(board, (lying,)), RULES)]


@pytest.mark.parametrize(
    ("outline", "wood", "found"),
    [
        (EITHER, "marine plywood", []),
        (EITHER, "teak", ["slope of grain"]),
        (GUSSET, "marine plywood", ["slope of grain"]),
    ],
    ids=["sheet", "solid-wood", "along-only"],
)
def test_only_of_sheet_goods_and_only_if_it_may_a_part_lies_across(outline, wood, found):
    assert faults(outline, 90.0, wood) == found


def test_square_to_the_face_grain_the_same_slope_is_allowed():
    for grain, found in ((4.7, []), (4.8, ["slope of grain"])):
        assert faults(EITHER, 90.0, grain=straight_grain(grain)) == found


def test_a_limit_on_run_out_goes_by_the_nearer_of_both_ways():
    limited = replace(EITHER, run_out_limit=20.0)
    assert faults(limited, 90.0) == []
    assert faults(limited, 90.0, grain=straight_grain(3.0)) == ["run-out of grain"]


def ways(outline, wood):
    board = replace(SHEET, species=wood)
    return sorted({angle % 360 for angle, _ in angles(outline, board, is_leaning=False)})


def test_search_turns_by_a_quarter_what_may_lie_so():
    assert ways(EITHER, "marine plywood") == [0, 90, 180, 270]
    assert ways(EITHER, "teak") == ways(GUSSET, "marine plywood") == [0, 180]


def test_bounds_know_of_the_quarter_turn():
    assert least_extents(EITHER, 0.0)[0] < 205 < 495 < least_extents(GUSSET, 0.0)[0]
    spans = {(round(low + high) // 2, is_over) for is_over, low, high in turnings_deg(EITHER, 0.0)}
    assert spans == {(0, False), (90, False), (0, True), (90, True)}


@pytest.mark.parametrize(("outline", "placed"), [(EITHER, 1), (GUSSET, 0)])
def test_sheet_that_has_room_across_alone_gives_what_may_lie_so(outline, placed):
    plan = pack([need(outline)], [SHEET], RULES, stop=MaxRounds(0))
    assert sum(len(nest.placements) for nest in plan.nests) == placed
    assert all(not check_nest(nest, RULES) for nest in plan.nests)


def test_part_left_over_is_told_that_it_would_lie_across():
    plan = pack([need(GUSSET)], [SHEET], RULES, stop=MaxRounds(0))
    (left,) = plan.unplaced
    assert Remedy(Cure.ACROSS, "S") in left.prospect.remedies
    said = told(left.prospect, Unit.MM)
    assert any("if it might lie square to the face grain (face_grain: either)" in s for s in said)


@pytest.fixture
def only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def read(folder, wood):
    head = HEAD + "species: [marine plywood]\n"
    part = PART.replace("[teak]", f"[{wood}], face_grain: either")
    return read_project(written(folder, project_text(head=head, stock=BOARD, parts=part)))


def test_part_says_that_it_may_lie_either_way(tmp_path, only_block_family):
    (wanted,) = read(tmp_path, "marine plywood").needs
    assert wanted.outline.may_lie_across


def test_solid_wood_that_is_to_lie_either_way_is_refused(tmp_path, only_block_family):
    with pytest.raises(ProjectFileError, match=r"8:\d+: .*face_grain is either, and teak is no"):
        read(tmp_path, "teak")
