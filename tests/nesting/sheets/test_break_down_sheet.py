"""Break-down cuts on the sheet: what is drawn, what is said of them, what is read back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import box
from sheet_nests import PROJECT, RULES, account_of, nest_of, sheet_of

from nesting.accounts.account import account_board
from nesting.break_down.as_data import break_down_data, cuts_from
from nesting.break_down.cuts import CutKind, cut_deep_mm
from nesting.errors import OutputError
from nesting.marking.base_line import BaseKind
from nesting.marking.marking_out import marking_out
from nesting.marking.tape import Tape
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.project.rules_entry import RulesEntry
from nesting.read_back.sheet import check_sheet
from nesting.rules import Breaking, Handy
from nesting.sheets import cut_sheet, write_dxf
from nesting.sheets.break_down_lists import cut_rows
from nesting.sheets.drawing import Polyline, Role, Text, View
from nesting.sheets.pen import PENS, Dash
from nesting.sheets.read_back import read_back
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.units import Unit


def lines(drawing):
    return [
        e
        for e in drawing.entities
        if isinstance(e, Polyline) and e.role is Role.BREAK_DOWN and e.tag
    ]


def words(drawing):
    return [e.text for e in drawing.entities if isinstance(e, Text)]


def test_each_cut_is_drawn_once_in_order_on_a_layer_of_its_own():
    cuts = account_of("slender").break_down.cuts
    drawn = lines(sheet_of("slender"))
    assert [line.points for line in drawn] == [(cut.start, cut.end) for cut in cuts]
    assert [line.tag.get("number") for line in drawn] == ["1", "2", "3"]
    assert all(line.view is View.FULL_SIZE for line in drawn)


def test_line_is_broken_as_no_other_is():
    alike = [role for role, pen in PENS.items() if pen.dash is Dash.DOUBLE_CHAIN]
    assert alike == [Role.BREAK_DOWN]


def test_every_cut_has_its_number_on_the_wood_and_in_the_table():
    found = words(sheet_of("slender"))
    for name in ("c1", "c2", "c3"):
        assert found.count(name) >= 2
    assert "break-down cut, right across" in found
    assert "Break-down cuts, middle of the kerf in mm" in found


@pytest.mark.parametrize("height", [0.0, 37.0])
def test_cuts_are_told_from_the_base_line_as_all_else_on_the_sheet(height):
    """A board whose lower edge is no straight line: a string over it is what figures go by."""
    shape = board_outline(
        [(0, 0), (400, -height), (800, 0), (1200, -height), (1600, 0), (1600, 240), (0, 240)]
    )
    needs = [Need(name, "any", Outline(box(0, 0, 700, 80), 20), ("oak",)) for name in "ab"]
    nest = Nest(
        Board("S", shape, 30, "oak"), (Placement(needs[0], 20, 40), Placement(needs[1], 780, 130))
    )
    account = account_board(nest, RULES)
    marked = marking_out(nest, Tape.of(Unit.MM))
    assert (marked.base.kind is BaseKind.STRING) == bool(height)
    rows = cut_rows(nest, account, marked.base, Unit.MM)
    assert {row[1] for row in rows} >= {"cross-cut", "rip"}
    for row, cut in zip(rows, account.break_down.cuts, strict=True):
        (x, _), (u, _) = cut.start, cut.end
        x0, y0 = marked.base.origin
        if cut.kind is CutKind.CROSS:
            assert float(row[2]) == pytest.approx((x + u) / 2 - x0, abs=0.51)
        elif cut.kind is CutKind.RIP:
            assert float(row[3]) == pytest.approx(cut.start[1] - y0, abs=0.51)
    sheet = cut_sheet(nest, account, RULES, project_name=PROJECT)
    assert {row[3] for row in rows if row[1] == "rip"} <= set(words(sheet))


def test_what_stays_together_is_listed_for_the_bandsaw():
    found = words(sheet_of("waney"))
    assert "After straight cuts 0 of 3 parts free, sizes in mm" in found
    assert found.count("bandsaw or saber saw") == 2
    said = next(text for text in found if text.startswith("Stopped short"))
    assert "184 mm" in said


def test_sheet_of_a_board_with_one_part_says_nothing_of_cuts():
    assert not any("reak-down" in text for text in words(sheet_of("tiny")))


def test_cuts_are_read_back_from_the_file(tmp_path):
    nest, account = nest_of("slender"), account_of("slender")
    record = read_back(write_dxf(sheet_of("slender"), tmp_path / "a.dxf"))
    cuts, offcuts = account.break_down.cuts, [o.shape for o in account.offcuts]
    assert [cut.kind for cut in record.break_down] == [cut.kind for cut in cuts]
    assert not check_sheet(record, nest, RULES, offcuts, cuts)
    (x, y), (u, v) = cuts[0].start, cuts[0].end
    moved = replace(cuts[0], start=(x + 0.02, y), end=(u + 0.02, v))
    (fault,) = check_sheet(record, nest, RULES, offcuts, (moved, *cuts[1:]))
    assert str(fault) == "board deck-08: sheet: break-down cuts: c1 is 0.0200 mm off"
    (fault,) = check_sheet(record, nest, RULES, offcuts, cuts[1:])
    assert fault.measured == "3 drawn, 2 in the account"
    other = replace(cuts[0], kind=CutKind.RIP)
    (fault,) = check_sheet(record, nest, RULES, offcuts, (other, *cuts[1:]))
    assert fault.measured == "c1 is marked as a cross-cut, it is a rip"


def test_summary_gives_the_cuts_back():
    found = account_of("slender").break_down
    given = {"boards": [{"board": "deck-08", "break_down": break_down_data(found)}]}
    again = account_board(nest_of("slender"), RULES, cuts=cuts_from(given)["deck-08"])
    assert again.break_down == found
    with pytest.raises(OutputError, match="break-down cuts cannot be read"):
        cuts_from({"boards": [{"board": "deck-08"}]})


def test_inches_are_told_as_fractions():
    drawing = cut_sheet(
        nest_of("slender"), account_of("slender"), RULES, project_name=PROJECT, unit=Unit.INCH
    )
    assert "59 3/4" in words(drawing)


def test_stopped_cut_runs_further_on_top_by_the_circle_of_the_blade():
    """Blade of 200 mm, 30 mm of wood, 3 mm below: chords at 33 and 3 mm of depth."""
    above, below = (33 * 167) ** 0.5, (3 * 197) ** 0.5
    assert cut_deep_mm(30, 200) == pytest.approx(above - below)
    assert cut_deep_mm(80, 184) is None


def test_project_says_what_is_handy_and_whether_breaking_down_counts():
    entry = RulesEntry.model_validate(
        {"handy": {"length": 3000, "weight": 40}, "break_down": "preferred", "saw_blade": 190},
        context={"unit": Unit.MM},
    )
    rules = entry.rules(Unit.MM)
    assert rules.handy == Handy(3000, 40)
    assert rules.break_down is Breaking.PREFERRED
    assert rules.saw_blade_mm == 190
