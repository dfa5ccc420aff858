"""Cuts that stop in the wood: what they free, where they may stop, and what the referee finds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box
from sheet_nests import PROJECT, RULES
from test_break_down import GAP, pinwheel, sound
from test_break_down import nest_of as nest_with

from nesting.accounts.account import account_board
from nesting.break_down.cuts import cut_deep_mm
from nesting.break_down.cutting_order import as_cut, broken_down
from nesting.sheets import write_dxf
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.drawing import Text
from nesting.sheets.read_back import read_back
from nesting.units import Unit

ON = cut_deep_mm(30.0, RULES.saw_blade_mm)


def test_pinwheel_comes_free_with_two_cuts_that_stop_and_one_through_cut_after_another():
    nest = nest_with(pinwheel())
    found = broken_down(nest, (), RULES, may_stop=True)
    assert found.parts_freed == 4
    assert [cut.is_stopped for cut in found.cuts[:2]] == [True, True]
    assert not sound(nest, found)


def test_blade_runs_on_where_there_is_waste_and_is_stopped_above_where_there_is_none():
    near = nest_with(pinwheel())
    assert all(c.by_hand for c in broken_down(near, (), RULES, may_stop=True).cuts if c.is_stopped)
    apart = nest_with(pinwheel(gap=2 * ON + 20, long=260, short=60), 2000, 800)
    found = broken_down(apart, (), RULES, may_stop=True)
    assert not any(cut.by_hand for cut in found.cuts)


def test_stopped_cuts_are_none_where_the_blade_does_not_reach_through():
    rules = replace(RULES, saw_blade_mm=60.0)
    assert not broken_down(nest_with(pinwheel()), (), rules, may_stop=True).cuts


def test_through_cuts_come_first_and_are_as_without():
    nest = nest_with([box(5, 5, 105, 105), box(105 + GAP, 5, 205 + GAP, 105)])
    assert broken_down(nest, (), RULES, may_stop=True) == broken_down(nest, (), RULES)


@pytest.mark.parametrize("seed", range(12))
def test_referee_agrees_with_stopped_cuts_on_crowded_boards(seed):
    rng = np.random.default_rng(seed)
    shapes = []
    for _ in range(60):
        x, y, w, h = rng.uniform((5, 5, 40, 30), (900, 330, 260, 160))
        one = box(x, y, min(x + w, 1190), min(y + h, 395))
        if one.area > 500 and all(one.distance(other) >= GAP for other in shapes):
            shapes.append(one)
    nest = nest_with(shapes, 1200.0, 400.0)
    found = broken_down(nest, (), RULES, may_stop=True)
    assert not sound(nest, found)
    assert found.parts_freed >= broken_down(nest, (), RULES).parts_freed
    again = as_cut(nest, (), RULES, found.cuts)
    assert (again.pieces, again.sides) == (found.pieces, found.sides)


class TestReferee:
    nest = nest_with(pinwheel())
    found = broken_down(nest, (), RULES, may_stop=True)

    def told(self, number, **changed):
        cuts = list(self.found.cuts)
        cuts[number] = replace(cuts[number], **changed)
        return " ".join(map(str, sound(self.nest, replace(self.found, cuts=tuple(cuts)))))

    def test_blade_that_would_run_on_into_a_part(self):
        told = self.told(0, by_hand=False) + self.told(1, by_hand=False)
        assert "break-down cut clear of parts" in told

    def test_cut_said_to_run_right_across(self):
        assert self.told(0, stops=(False, False), by_hand=False)

    def test_cut_that_stops_before_it_meets_the_other(self):
        first = self.found.cuts[0]
        (x, y), (u, v) = first.start, first.end
        back = 12.0 if first.stops[1] else -12.0
        moved = (
            {"end": (u - back * (u > x), v - back * (v > y))}
            if first.stops[1]
            else {"start": (x - back * (u > x), y - back * (v > y))}
        )
        assert "no cut meets" in self.told(0, **moved)

    def test_cut_too_short_for_the_blade_to_come_through(self):
        thick = replace(RULES, saw_blade_mm=10_000.0)
        assert "its stops leave" in " ".join(map(str, sound(self.nest, self.found, rules=thick)))


def test_stops_are_drawn_listed_and_read_back(tmp_path):
    nest = nest_with(pinwheel())
    account = account_board(nest, RULES, ())
    assert account.break_down.has_stops
    sheet = cut_sheet(nest, account, RULES, project_name=PROJECT, unit=Unit.MM)
    texts = [entity.text for entity in sheet.entities if isinstance(entity, Text)]
    assert "STOP c1 c2" in texts
    assert any("by hand" in text and "STOP" in text for text in texts)
    assert any(text.startswith("STOP: cut ends at the bar") for text in texts)
    record = read_back(write_dxf(sheet, tmp_path / "a.dxf"))
    given = [(cut.stops, cut.by_hand) for cut in record.break_down]
    assert given == [(cut.stops, cut.by_hand) for cut in account.break_down.cuts]
