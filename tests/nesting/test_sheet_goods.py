"""Sheet goods: no grain of solid wood is reckoned, nothing planed off, and sheets are bought."""

from __future__ import annotations

import pytest
from project_texts import BOARD, HEAD, PART, only_blocks, project_text, written
from shapely.geometry import box

from nesting.accounts import buy_words
from nesting.accounts.account import account_for
from nesting.accounts.buying import buy_list, is_for_planks
from nesting.accounts.left_over_words import told as told_of_left
from nesting.accounts.new_timber import sorted_out
from nesting.accounts.strength import piece_strength
from nesting.accounts.weigh import out_of_the_ordinary
from nesting.grain import straight_grain
from nesting.left_over import Cure, Prospect, Remedy
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import Outline
from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.planed_sheets import planed_sheets
from nesting.rules import Rules
from nesting.sheet_goods import is_sheet_goods
from nesting.sheets.lists import parts_table
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.units import Unit
from parts.wood.sold_as import Form

PLY = "okoume plywood"
STEEP = Outline(box(0, 0, 300, 60), 9, straight_grain(40.0), slope_of_grain=1.0, run_out=1.2)


def laid(wood):
    board = Board.rectangle("P", 1200, 600, 9, wood, keep_outs=[circle("hole", 250, 130, 8)])
    need = Need("bracket", "any", STEEP, (wood,), holes="plugged")
    return board, Placement(need, 100, 100)


@pytest.mark.parametrize(
    ("wood", "is_sheet"),
    [("okoume plywood", True), ("Plywood (birch)", True), ("marine-ply", True), ("MDF", True),
     ("apple", False), ("plyometric oak", False), ("okoume (gaboon)", False),
     ("supply pine", False)],
)  # fmt: skip
def test_sheet_goods_are_known_by_a_word_of_their_name(wood, is_sheet):
    assert is_sheet_goods(wood) == is_sheet


def test_grain_of_a_sheet_is_not_reckoned_and_its_holes_are():
    (board, placement), (oak, same) = laid(PLY), laid("white oak")
    sheet, solid = (piece_strength(p, b, Rules()) for b, p in ((board, placement), (oak, same)))
    assert solid.left_by_grain < 0.3
    assert sheet.left == sheet.left_by_holes == pytest.approx(solid.left_by_holes)
    assert sheet.left < 1.0
    assert sheet.is_sheet and not solid.is_sheet


def test_sheets_lists_and_weighing_say_nothing_of_a_sheet_s_grain():
    board, placement = laid(PLY)
    plan = CuttingPlan((Nest(board, (placement,)),))
    account = account_for(plan, Rules())
    assert out_of_the_ordinary(plan, account.pieces) == ()
    (row,) = parts_table(plan.nests[0], account.boards[0], Unit.MM).rows
    assert "plies" in row


def bought(outline=STEEP, *woods, count=2):
    need = Need("bracket", "any", outline, woods or (PLY,), count)
    return buy_list([Unplaced(need, count, Misfit.NO_ROOM)], Rules(trim_mm=1))


def test_sheets_are_bought_as_thick_as_the_part_with_the_trim_alone():
    (line,) = bought(Outline(box(0, 0, 300, 60), 9))
    (piece,) = line.pieces
    assert (line.species, line.form, line.thickness_mm) == (PLY, Form.SHEET, 9)
    assert (piece.length_mm, piece.width_mm, piece.leaves) == (310, 65, 1)
    assert line.order_mm3 == pytest.approx(2 * 310 * 65 * 9)
    assert buy_words.heading(line, Unit.MM) == f"{PLY}, sheet goods 9 mm thick: 0.04 m2 of pieces"


def test_first_wood_says_whether_a_part_is_cut_out_of_sheets():
    assert bought(STEEP, "white oak", PLY)[0].form is Form.SAWN
    (line,) = bought(STEEP, PLY, "white oak", "birch plywood")
    assert (line.form, line.others) == (Form.SHEET, ("birch plywood",))


def test_no_plank_is_sought_for_a_part_of_sheet_goods():
    need = Need("bracket", "any", STEEP, (PLY,))
    left = Unplaced(need, 1, Misfit.NO_ROOM)
    found = sorted_out([left], Rules(), width_mm=200)
    assert not is_for_planks(need)
    assert (dict(found.groups), [line.form for line in found.not_planks]) == ({}, [Form.SHEET])


@pytest.fixture
def only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def told(folder, *, thick, board="12", loss="0", resaw=""):
    stock = BOARD.replace("teak", PLY).replace("thickness: 40", f"thickness: {board}{resaw}")
    parts = PART.replace("siding: 25", f"siding: {thick}").replace("teak", PLY)
    head = f"{HEAD}species: [{PLY}]\nrules: {{cleaning_loss: {loss}}}\n"
    project = read_project(written(folder, project_text(head=head, stock=stock, parts=parts)))
    return [found.message for found in remarks(project, [planed_sheets])]


@pytest.mark.parametrize(
    ("thick", "loss", "says"),
    [("12", "0", None), ("10", "0", "D-01 is 12 mm thick and the part 10 mm:"),
     ("12", "1.5", "and cleaning_loss takes 1.5 mm off each face"), ("13", "1.5", None)],
    ids=["as thick", "planed thinner", "cleaned up", "too thin anyway"],
)  # fmt: skip
def test_part_that_would_plane_a_sheet_is_told(tmp_path, only_block_family, thick, loss, says):
    found = told(tmp_path, thick=thick, loss=loss)
    assert len(found) == (says is not None)
    assert all(says in message and "takes its outer plies" in message for message in found)
    assert all(message.endswith("cleaning_loss 0") == (loss != "0") for message in found)


def test_sheet_that_is_resawn_is_told(tmp_path, only_block_family):
    found = told(tmp_path, thick="5", board="24", resaw=", resaw: 2")
    assert any("no sheet is resawn" in message for message in found)


@pytest.mark.parametrize(("wood", "is_told"), [(PLY, True), ("teak", False)])
def test_limit_on_run_out_of_a_sheet_is_told(tmp_path, only_block_family, wood, is_told):
    head = f"{HEAD}species: [{PLY}]\nrules: {{cleaning_loss: 0}}\n"
    parts = PART.replace("siding: 25", "siding: 40").replace("teak", wood)
    parts = parts.replace("shape:", "run_out: 1 in 8, shape:")
    stock = BOARD.replace("teak", wood)
    project = read_project(written(tmp_path, project_text(head=head, stock=stock, parts=parts)))
    said = [found.message for found in remarks(project, [planed_sheets])]
    assert ["plies cross: that says nothing of its strength" in one for one in said] == (
        [True] if is_told else []
    )


@pytest.mark.parametrize(
    ("wood", "says"),
    [(PLY, "at a slope of grain of 1 in 4"),
     ("teak", "at a slope of grain of 1 in 4, which leaves it 46 % of straight-grained")],
)  # fmt: skip
def test_slope_that_would_cure_says_what_it_leaves_of_solid_wood_alone(wood, says):
    remedy = Remedy(Cure.SLOPE, "P-1", 4.0, wood)
    (line,) = told_of_left(Prospect(remedies=(remedy,)), Unit.MM)
    assert says in line
    assert ("straight-grained" in line) == (wood != PLY)
