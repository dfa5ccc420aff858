"""Cuts that stop in the wood: what they free, where they may stop, and what the referee finds."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Polygon, box
from sheet_nests import PROJECT, RULES
from test_break_down import GAP, pinwheel, sound
from test_break_down import nest_of as nest_with

from nesting.accounts.account import account_board
from nesting.break_down.at_the_saw import PieceAtSaw, board_at_saw, sawn_by
from nesting.break_down.cuts import BreakDownCut, CutKind, cut_deep_mm, runs_across
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


def lean(left, right, low, high):
    """A plank that tapers: at its left end and its right end, so wide about its middle line."""
    (x, w), (u, v), middle = left, right, (low + high) / 2
    return Polygon([(x, middle - w), (u, middle - v), (u, middle + v), (x, middle + w)])


def test_oblique_cut_beside_a_corner_already_sawn_out_ends_there():
    # The line of the third cut met the wood above the corner too, and ran on over the part freed.
    planks = [
        lean((1, 21), (1406.8, 33.35), 24.4, 91.2),
        lean((1, 21), (1406.8, 33.35), 95.1, 161.9),
        lean((1410.8, 32.95), (2292.5, 48.35), 69.4, 166.1),
        lean((1410.8, 33.75), (2332.3, 20.6), 1, 68.5),
        lean((1, 37.15), (1144.6, 28.2), 154.6, 228.9),
        lean((1148.6, 28.55), (2235, 29.35), 169.1, 227.8),
    ]
    rules = replace(RULES, kerf_mm=2.0, trim_mm=1.0, blade_clearance_mm=6.0)
    nest = nest_with(planks, 2345.9, 230.0)
    found = broken_down(nest, (), rules, may_stop=True)
    assert not sound(nest, found, rules=rules)
    assert found.parts_freed >= 2
    oblique = [cut for cut in found.cuts if cut.kind is CutKind.OBLIQUE]
    assert oblique
    # The same cut right across the board goes over what was freed: the referee says so.
    (x, y), (u, v) = oblique[0].start, oblique[0].end
    far = replace(oblique[0], start=(0.0, y - (v - y) / (u - x) * x))
    cuts = tuple(far if cut is oblique[0] else cut for cut in found.cuts)
    told = " ".join(map(str, sound(nest, replace(found, cuts=cuts), rules=rules)))
    assert "parted from its own" in told


TAPERED = int(os.environ.get("BREAK_DOWN_CASES", "10"))


@pytest.mark.parametrize("seed", range(TAPERED))
def test_referee_agrees_with_stopped_cuts_between_tapered_planks(seed):
    rng = np.random.default_rng(seed)
    planks = []
    for _ in range(rng.integers(60, 300)):
        length, width = rng.uniform((150, 30), (900, 110))
        end = width * rng.uniform(0.4, 1.0)
        leaning = rng.uniform(-4, 4) * (rng.random() < 0.5)
        one = affinity.rotate(lean((0, width / 2), (length, end / 2), 0, 0), leaning)
        low_x, low_y, _, _ = one.bounds
        one = affinity.translate(one, *(rng.uniform((5, 5), (1600, 300)) - (low_x, low_y)))
        is_in = one.bounds[2] <= 1595 and one.bounds[3] <= 295
        if is_in and all(one.distance(other) >= GAP for other in planks):
            planks.append(one)
    nest = nest_with(planks, 1600.0, 300.0)
    found = broken_down(nest, (), RULES, may_stop=True)
    assert not sound(nest, found)
    again = as_cut(nest, (), RULES, found.cuts)
    assert (again.pieces, again.sides) == (found.pieces, found.sides)


def test_cut_into_a_window_opens_it_and_the_next_one_parts_what_is_beside():
    # A part in the middle is let out by four cuts; the others are then parted right through.
    ring = [
        box(5, 5, 300, 60),
        box(5, 340, 300, 395),
        box(100, 175, 205, 225),
    ]
    nest = nest_with(ring, 305.0, 400.0)
    whole = nest.board.shape.difference(box(60, 100, 245, 300))
    board = board_at_saw(nest, (), RULES, None)
    piece = PieceAtSaw(whole, np.array([0, 1]))
    [into, out] = [
        BreakDownCut(CutKind.CROSS, *run) for run in runs_across(whole, (1.0, 0.0), 150.0)
    ]
    opened = sawn_by(board, piece, into).left
    assert [len(one.shape.interiors) for one in opened] == [0]
    assert len(sawn_by(board, opened[0], out).left) == 2


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
        thick = replace(RULES, saw_blade_mm=600.0)
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
