from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import numpy as np
import pytest
import shapely
from captions import crossed
from sheet_nests import NESTS, RULES, account_of, nest_of

from nesting.accounts.account import account_for
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import Outline
from nesting.sheets import overview
from nesting.sheets.drawing import Circle, Drawing, Role, Text, View
from nesting.sheets.overview import board_block
from nesting.sheets.page import PAPERS
from nesting.stock.board import Board
from nesting.stock.keep_out import circle


@pytest.fixture(scope="module")
def drawing() -> Drawing:
    nests = tuple(nest_of(name) for name in NESTS)
    need = nest_of("slender").placements[0].need
    plan = CuttingPlan(nests, (Unplaced(need, 3, Misfit.TOO_THIN),))
    return overview(plan, [account_of(name) for name in NESTS], project_name="Lake skiff")


def words(drawing: Drawing, role: Role) -> list[str]:
    return [e.text for e in drawing.entities if isinstance(e, Text) and e.role is role]


def test_overview_names_every_board_with_its_scrap(drawing: Drawing) -> None:
    names = words(drawing, Role.NOTE)
    for name in NESTS:
        board, scrap = nest_of(name).board, account_of(name).scrap_percent
        assert any(
            text.startswith(f"{board.name}: {board.species}")
            and text.endswith(f"scrap {scrap:.1f} %")
            for text in names
        )


def test_no_line_runs_through_the_number_of_a_part_that_is_full_of_holes() -> None:
    """A number that has room over a hole alone takes its place; it was drawn through."""
    holes = [circle("hole", x, y, 6) for x in range(15, 1190, 16) for y in (12, 28, 44, 60, 76)]
    board = Board.rectangle("Sieve", 1200, 90, 25, "teak", keep_outs=holes)
    strip = Need.of("strip", Outline(shapely.box(0, 0, 1190, 80), 20), ["teak"], holes="plugged")
    nest = Nest(board, (Placement(strip, 5, 5),))
    account = account_for(CuttingPlan((nest,)), RULES, workers=1).boards[0]
    block = board_block(nest, account, "Sieve", 10.0)
    page = Drawing("Sieve", block.entities, (-50.0, -50.0, 200.0, 50.0), 1.0, "A4")
    assert "1" in {e.text.split()[0] for e in block.entities if isinstance(e, Text)}
    assert crossed(page) == []
    seen = sum(isinstance(e, Circle) and e.role is Role.HOLE for e in block.entities)
    assert len(holes) - 30 < seen < len(holes)


def test_overview_totals_parts_and_scrap(drawing: Drawing) -> None:
    cells = words(drawing, Role.TABLE)
    parts = sum(len(nest_of(name).placements) for name in NESTS)
    opened = sum(nest_of(name).board.area_mm2 for name in NESTS)
    kept = sum(account_of(name).area.parts + account_of(name).area.offcuts for name in NESTS)
    assert "6 boards" in cells
    assert str(parts) in cells
    assert f"{100 * (opened - kept) / opened:.1f}" in cells


def test_overview_gives_the_reason_for_what_was_not_placed(drawing: Drawing) -> None:
    cells = words(drawing, Role.TABLE)
    at = cells.index(Misfit.TOO_THIN.value)
    assert cells[at - 2 : at] == ["carlin", "3"]


def test_nothing_of_an_overview_is_offered_to_a_machine(drawing: Drawing) -> None:
    wood = {Role.SAW_OPENING, Role.SAW_OUTLINE, Role.BOARD, Role.METAL, Role.HOLE}
    assert all(e.view is View.COPY for e in drawing.entities if e.role in wood)


def test_overview_texts_stay_apart_and_inside_the_frame(drawing: Drawing) -> None:
    texts = [e for e in drawing.entities if isinstance(e, Text)]
    boxes = np.array([shapely.box(*text.box) for text in texts])
    firsts, seconds = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    areas = shapely.area(shapely.intersection(boxes[firsts], boxes[seconds]))
    assert not ((firsts < seconds) & (areas > 1e-6)).any()
    assert shapely.contains(shapely.box(*drawing.frame), boxes).all()


def test_overview_of_a_plan_that_placed_nothing_still_says_why() -> None:
    need = nest_of("slender").placements[0].need
    plan = CuttingPlan((), (Unplaced(need, 2, Misfit.NO_SPECIES),))
    drawing = overview(plan, [], project_name="Lake skiff")
    assert Misfit.NO_SPECIES.value in words(drawing, Role.TABLE)


def test_overview_of_more_boards_than_any_sheet_holds_is_a_roll(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of thousands in truth; here A3 is the largest sheet."""
    monkeypatch.setattr(import_module("nesting.sheets.overview"), "PAPERS", PAPERS[:1])
    nest = nest_of("slender")
    nests = [replace(nest, board=replace(nest.board, name=f"B{n}")) for n in range(200)]
    accounts = [account_of("slender")] * len(nests)
    drawing = overview(CuttingPlan(tuple(nests)), accounts, project_name="Yard")
    assert drawing.paper == "a roll 841 mm wide"
    _, _, width, height = drawing.frame
    assert height == 821.0
    assert width > PAPERS[0][1]
    texts = [e for e in drawing.entities if isinstance(e, Text) and e.text.startswith("B")]
    assert len({e.text.partition(":")[0] for e in texts} & {f"B{n}" for n in range(200)}) == 200
    right = max(e.box[2] for e in drawing.entities if isinstance(e, Text))
    assert right < width


def test_overview_holds_a_board_of_which_length_and_width_were_exchanged() -> None:
    nest = nest_of("slender")
    across = replace(
        nest, board=replace(nest.board, keep_outs=(), shape=shapely.box(0, 0, 1000, 39_000))
    )
    drawing = overview(CuttingPlan((across,)), [account_of("slender")], project_name="Yard")
    assert drawing.frame[3] <= 821.0
