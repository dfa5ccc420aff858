"""What is named to be weighed before sawing, and what stands beside each piece of its grain."""

import json
import math
import re
from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting import cli
from nesting.accounts.account import account_for
from nesting.accounts.strength import PieceStrength, piece_strength
from nesting.accounts.weigh import out_of_the_ordinary, steep_as_usual
from nesting.grain import GrainPath
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.drawing import Role, Text
from nesting.sheets.lists import parts_table
from nesting.sheets.part_labels import warning
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle
from nesting.units import Unit
from nesting.words import whole_percent
from parts.families.floors import FloorTimber
from parts.families.knees import Knee
from parts.wood.cross_grain import strength_left

RULES = Rules(plug_sizes_mm=(20.0,), cleaning_loss_mm=2.0)
BOARD = Board("A", box(0, 0, 3000, 600), 44, "white oak")
BENT = Outline(box(0, 0, 100, 20), 20, grain=GrainPath(((0, 0), (50, 10), (100, 30))))


def named(*runs, family="floor timber", is_plank=False, outline=None):
    """Return needs with pieces that run out so much: one part each, in order."""
    outline = outline or Outline(box(0, 0, 100, 20), 20)
    needs = [
        Need(f"{family} {n}", family, outline, ("white oak",), is_plank=is_plank)
        for n in range(len(runs))
    ]
    pieces = [
        PieceStrength(need.part, need.part, "A", run, 0.0, 0.0, 0, None, None)
        for need, run in zip(needs, runs, strict=True)
    ]
    return needs, pieces


def told(*groups):
    needs = [need for group, _ in groups for need in group]
    pieces = [piece for _, group in groups for piece in group]
    plan = CuttingPlan((Nest(BOARD, tuple(Placement(need, 0, 0) for need in needs)),))
    return [piece.piece for piece in out_of_the_ordinary(plan, pieces)]


def test_floors_with_the_run_out_that_floors_have_are_not_named():
    assert told(named(1.7, 1.8, 1.7, 1.6, 1.9)) == []


def test_floor_far_steeper_than_the_others_is_named_worst_first():
    assert told(named(1.7, 0.9, 1.8, 0.5, 1.7, 1.9)) == ["floor timber 3", "floor timber 1"]


def test_beams_that_keep_half_are_not_named_however_straight_the_others_are():
    assert told(named(30, 30, 30, 5.0, family="deck beam")) == []


def test_one_steep_piece_with_none_to_hold_it_against_is_named():
    assert told(named(1.2), named(12, 12, 12, family="deck beam")) == ["floor timber 0"]


def test_three_of_a_family_are_held_against_each_other_and_two_against_all():
    """The third keeps what its own family keeps in the middle; beside stout beams it would not."""
    beams = named(20, 20, 20, 20, family="deck beam")
    assert told(named(1.5, 1.5, 1.5), beams) == []
    assert told(named(1.5, 1.5), beams) == ["floor timber 0", "floor timber 1"]


def as_usual(*groups):
    needs = [need for group, _ in groups for need in group]
    pieces = [piece for _, group in groups for piece in group]
    plan = CuttingPlan((Nest(BOARD, tuple(Placement(need, 0, 0) for need in needs)),))
    return [piece.piece for piece in steep_as_usual(plan, pieces)]


def test_pieces_as_steep_as_their_like_are_counted_worst_first_without_those_named():
    floors, beams = named(1.7, 0.5, 1.8, 1.7, 1.6), named(30, 4.2, 30, 30, family="deck beam")
    assert told(floors, beams) == ["floor timber 1", "deck beam 1"]
    rest = ["floor timber 4", "floor timber 0", "floor timber 3", "floor timber 2"]
    assert as_usual(floors, beams) == rest


def test_planks_and_pieces_that_keep_half_are_not_counted():
    assert as_usual(named(0.9, 0.9, 0.9, family="ceiling strake", is_plank=True)) == []
    assert as_usual(named(5.0, 5.0, 5.0)) == []


def test_planks_are_never_named():
    assert told(named(0.9, 0.5, family="ceiling strake", is_plank=True)) == []


def test_grown_pieces_are_held_against_grown_ones():
    # A sawn knee keeps little; beside it the grown ones are none of its like.
    sawn, grown = named(1.0, family="knee"), named(4, 5, 4.5, family="grown", outline=BENT)
    both = (grown[0] and [replace(need, family="knee") for need in grown[0]], grown[1])
    assert told(sawn, both) == ["knee 0"]


def test_pair_of_a_family_of_its_own_is_held_against_all_that_are_grown():
    pair = named(3.9, 3.9, family="quarter knee", outline=BENT)
    assert told(pair) == ["quarter knee 0", "quarter knee 1"]
    assert told(pair, named(3.0, 3.5, 4.2, family="lodging knee", outline=BENT)) == []


def test_of_copies_the_worst_is_named():
    needs, pieces = named(1.9, 1.8, 1.8, 0.5)
    twin = replace(pieces[3], piece="floor timber 3.2", run=0.4)
    plan = CuttingPlan((Nest(BOARD, tuple(Placement(need, 0, 0) for need in needs)),))
    found = out_of_the_ordinary(plan, [*pieces, twin])
    assert [piece.piece for piece in found] == ["floor timber 3.2"]


def floor_need(deadrise):
    outline = FloorTimber(
        siding=30, moulding=120, half_span=220, tip_moulding=40, seat=40, deadrise=deadrise,
        keel_bolt=None, frame_lap=80, frame_bolts=0,
    ).outline()  # fmt: skip
    return Need("mast floor", "floor timber", outline, ("white oak",))


def test_sheet_tells_run_out_and_strength_left_beside_the_piece_and_in_its_row():
    nest = Nest(BOARD, (Placement(floor_need(40), 400, 100),))
    account = account_for(CuttingPlan((nest,)), RULES).boards[0]
    left = strength_left(1 / math.tan(math.radians(40))).bending
    words = f"run-out 1 in 1.2: {whole_percent(left)} % strength left"
    assert 0.15 < left < 0.19
    (row,) = parts_table(nest, account, Unit.MM).rows
    assert row[-2:] == ("1 in 1.2", f"{whole_percent(left)} %")
    drawing = cut_sheet(nest, account, RULES, project_name="P", unit=Unit.MM)
    shown = [e.text for e in drawing.entities if isinstance(e, Text) and e.role is Role.PART_NAME]
    assert [text for text in shown if text.endswith(words)]


def test_warning_off_the_board_names_its_piece_by_number_and_draws_no_line_over_the_wood():
    """A thin floor low on a broad board: a leader to it ran over all the wood between."""
    wide = replace(BOARD, shape=box(0, 0, 2000, 700))
    nest = Nest(wide, (Placement(replace(floor_need(50), part="floor"), 400, 5),))
    account = account_for(CuttingPlan((nest,)), RULES).boards[0]
    drawing = cut_sheet(nest, account, RULES, project_name="P", unit=Unit.MM)
    words = warning(account.pieces[0])
    told = [e for e in drawing.entities if isinstance(e, Text) and e.text == f"1: {words}"]
    assert told
    assert all(text.at[1] > 700 for text in told)
    assert not [e for e in drawing.entities if e.role is Role.LEADER]


def test_piece_that_keeps_its_strength_carries_no_warning():
    placement = Placement(Need("bar", "any", Outline(box(0, 0, 900, 90), 30), ("white oak",)), 9, 9)
    assert warning(piece_strength(placement, BOARD, RULES)) == ""


def test_piece_weakened_by_holes_alone_says_so():
    holed = replace(BOARD, keep_outs=(circle(KeepOutKind.HOLE, 450, 35, 18),))
    need = Need("bar", "any", Outline(box(0, 0, 900, 90), 30), ("white oak",), holes="plugged")
    piece = piece_strength(Placement(need, 9, 9), holed, RULES)
    assert warning(piece) == f"holes: {whole_percent(piece.left)} % strength left"


def test_grown_knee_is_told_alike_by_sheet_summary_and_strength():
    outline = Knee(
        kind="hanging", siding=30, beam_arm=200, side_arm=220, throat=90, tip_moulding=30, bolts=0,
        grain="grown", slope_of_grain=3,
    ).outline()  # fmt: skip
    need = Need("knee", "knee", outline, ("white oak",))
    board = Board("K", box(*outline.shape.buffer(5).bounds), 44, "white oak", grain=outline.grain)
    placement = Placement(need, 0.0, 0.0)
    piece = piece_strength(placement, board, RULES)
    assert outline.run_out < 10  # its taper, which is not its grain
    assert math.isinf(piece.run)
    account = account_for(CuttingPlan((Nest(board, (placement,)),)), RULES).boards[0]
    assert account.pieces == (piece,)


PROJECT = """\
version: 1
name: Three floors and a knee
unit: mm
stock:
  - {board: D-01, species: white oak, thickness: 40, length: 3000, width: 500}
parts:
  - {part: floor A, family: floor timber, species: white oak, shape: &floor {siding: 30,
     moulding: 120, half_span: 220, tip_moulding: 40, seat: 40, deadrise: 20, keel_bolt: 8,
     frame_lap: 100, frame_bolt: 6}}
  - {part: floor B, family: floor timber, species: white oak, shape: {<<: *floor, deadrise: 22}}
  - {part: floor C, family: floor timber, species: white oak, shape: {<<: *floor, deadrise: 24}}
  - {part: mast floor, family: floor timber, species: white oak, shape: {<<: *floor, deadrise: 50}}
"""


@pytest.fixture
def nested(tmp_path, capsys):
    path = tmp_path / "floors.yaml"
    path.write_text(PROJECT)
    folder = tmp_path / "out"
    assert cli.main(["nest", str(path), "-o", str(folder), "--rounds", "0"]) == cli.ALL_PLACED
    return path, folder, " ".join(capsys.readouterr().out.split())


def test_nest_and_strength_and_summary_tell_the_same_run_out(nested, capsys):
    path, folder, out = nested
    assert "Weigh before sawing" in out
    assert "mast floor: 1 in 0.8, 13 % left" in out
    assert re.search(
        r"As is usual among pieces like them, 3 pieces keep less than half of straight-grained "
        r"bending strength, the worst floor [ABC]: 1 in \d\.\d, \d\d % left; salvage-nest strength "
        r"names every one\.",
        out,
    )
    summary = json.loads((folder / "summary.json").read_text())
    (weighed,) = summary["weigh_before_sawing"]
    rows = {row["label"]: row for board in summary["boards"] for row in board["parts"]}
    assert rows["mast floor"]["run_out"] == weighed["run_out"] == pytest.approx(0.839, abs=1e-3)
    assert rows["floor A"]["left_by_holes_percent"] == 100
    assert rows["floor A"]["left_percent"] == rows["floor A"]["left_by_grain_percent"]
    cli.main(["strength", str(path), "-o", str(folder)])
    lines = capsys.readouterr().out.splitlines()
    for label, row in rows.items():
        (line,) = [text for text in lines if text.startswith(f"{label} ")]
        assert f" {row['run_out']:.1f} " in line
        assert line.split()[-1] == whole_percent(row["left_by_grain_percent"] / 100)
