"""What sheet, paper layout, print and page say of a leaf's faces: which is up, what to mark."""

from __future__ import annotations

import pytest
from printed import folio_for
from shapely.geometry import box

from nesting.accounts.account import account_board
from nesting.book.record import digest
from nesting.book.wood import board_data, board_of
from nesting.errors import BookError, ShapeError
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.project.boards import leaves_of
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.drawing import Text
from nesting.shop.page_data import plan_data
from nesting.shop.print_sheets import sheet_pages
from nesting.stock.board import Board

WHOLE = Board.rectangle("D", 2400, 90, 66, "teak")
NEED = Need.of("slat", Outline(box(0, 0, 700, 60), 15), ["teak"], quantity=9)
LEAVES = leaves_of(WHOLE, 3, 3.0)


def said(entities):
    """Return all lettering as one running text: long lines are broken."""
    return " ".join(entity.text for entity in entities if isinstance(entity, Text))


def told_of(board):
    """Return what is said of a board on its sheet, on that sheet's paper layout, print and page."""
    nest = Nest(board, tuple(Placement(NEED, 10 + 720 * k, 10, copy=k + 1) for k in range(3)))
    account = account_board(nest, Rules())
    sheet = cut_sheet(nest, account, Rules(), project_name="Leaves")
    folio = folio_for(CuttingPlan((nest,)))
    page = dict(plan_data(folio)["boards"][0]["facts"])["faces"]
    printed = " ".join(said(drawing.entities) for drawing in sheet_pages(folio))
    return said(sheet.entities), said(sheet.sheet.entities), printed, page


def test_first_leaf_shows_the_recorded_face():
    for told in told_of(LEAVES[0]):
        assert "eaf 1 of 3" in told
        assert "recorded face" in told
        assert "towards" not in told


def test_other_leaves_show_the_face_towards_the_recorded_one():
    for told in told_of(LEAVES[2]):
        assert "eaf 3 of 3" in told
        assert "towards leaf 2" in told
        assert "recorded face" not in told


def test_what_is_to_be_marked_is_said_on_every_leaf():
    for leaf in LEAVES:
        sheet, _, printed, page = told_of(leaf)
        for told in (sheet, printed, page):
            assert "eft end" in told
            assert "ower edge" in told


def test_whole_board_says_nothing_of_leaves():
    for told in told_of(WHOLE):
        assert "eaf" not in told
        assert "ecorded face" in told or told.startswith("Face up")


def test_book_keeps_which_leaf_it_is_and_knows_one_of_an_older_book_again():
    leaf = LEAVES[1]
    assert board_of(leaf.name, board_data(leaf)) == leaf
    older = {key: value for key, value in board_data(leaf).items() if key != "leaf"}
    assert board_of(leaf.name, older).leaf is None
    assert digest(board_of(leaf.name, older)) == digest(leaf)
    with pytest.raises(BookError, match="leaf"):
        board_of(leaf.name, {**older, "leaf": [4, 3]})
    with pytest.raises(BookError, match="leaf"):
        board_of(leaf.name, {**older, "leaf": [True, 3]})


@pytest.mark.parametrize("leaf", [(4, 3), (0, 3), (1,), "1/2", 2, (1, 2, 3)])
def test_leaf_is_one_of_those_there_are(leaf):
    with pytest.raises(ShapeError, match=r"leaf is .*which one and of how many"):
        Board.rectangle("D/4", 900, 90, 20, "teak", leaf=leaf)
