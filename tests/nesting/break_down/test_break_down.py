"""Break-down cuts: what straight cuts free, held against trying every way there is."""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box
from sheet_nests import RULES

from nesting.break_down.cutting_order import BreakDownCut, CutKind, as_cut, broken_down
from nesting.break_down.straight_lines import COARSE_MM, Things
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.offcuts import offcuts_beside
from nesting.outline import Outline
from nesting.referee.break_down import check_break_down
from nesting.rules import Handy
from nesting.stock.board import Board
from nesting.stock.keep_out import circle

CASES = int(os.environ.get("BREAK_DOWN_CASES", "40"))

KERF, TRIM = RULES.kerf_mm, RULES.trim_mm
GAP = RULES.part_gap_mm


def nest_of(shapes, length=2000.0, width=400.0, keep_outs=()):
    board = Board.rectangle("B", length, width, 30, "teak", keep_outs=tuple(keep_outs))
    placements = []
    for number, shape in enumerate(shapes, start=1):
        x, y, _, _ = shape.bounds
        need = Need(
            f"p{number}", "", Outline(shapely.affinity.translate(shape, -x, -y), 25), ("teak",)
        )
        placements.append(Placement(need, x, y))
    return Nest(board, tuple(placements))


def sound(nest, found, offcuts=(), rules=RULES):
    shapes = [offcut.shape for offcut in offcuts]
    return check_break_down(found.cuts, shapes, nest, rules, freed=found.parts_freed)


def row_of(count, size=100.0):
    return [box(5 + i * (size + GAP), 5, 5 + i * (size + GAP) + size, 105) for i in range(count)]


def pinwheel(gap=GAP, long=200.0, short=80.0):
    """Four laths around a hole in the middle: a fact known of guillotine cutting."""
    far = long + gap + short
    return [
        box(5, 5, 5 + long, 5 + short),
        box(5 + long + gap, 5, 5 + far, 5 + long),
        box(5 + far - long, 5 + long + gap, 5 + far, 5 + far),
        box(5, 5 + short + gap, 5 + short, 5 + far),
    ]


def test_row_of_rectangles_comes_free_with_one_cut_less_than_it_has():
    found = broken_down(nest_of(row_of(6)), (), RULES)
    assert [cut.kind for cut in found.cuts] == [CutKind.CROSS] * 5
    assert found.parts_freed == 6
    assert not found.not_freed


def test_cuts_run_in_the_middle_of_the_gap():
    found = broken_down(nest_of(row_of(2)), (), RULES)
    assert found.cuts[0].start[0] == pytest.approx(105 + GAP / 2)
    assert found.cuts[0].room_mm == pytest.approx(0, abs=1e-6)


def test_pinwheel_has_no_cut_and_all_of_it_is_for_the_bandsaw():
    found = broken_down(nest_of(pinwheel()), (), RULES)
    assert found.cuts == ()
    assert found.parts_freed == 0
    assert [piece.parts for piece in found.not_freed] == [("p1", "p2", "p3", "p4")]


def test_three_of_a_pinwheel_come_free():
    assert broken_down(nest_of(pinwheel()[:3]), (), RULES).parts_freed == 3


def test_grid_is_cross_cut_before_it_is_ripped():
    grid = [shapely.affinity.translate(s, 0, dy) for dy in (0, 106) for s in row_of(4)]
    found = broken_down(nest_of(grid), (), RULES)
    kinds = [cut.kind for cut in found.cuts]
    assert kinds == [CutKind.CROSS] * 3 + [CutKind.RIP] * 4
    assert found.parts_freed == 8


def test_leaning_parts_come_free_by_an_oblique_cut():
    lower = Polygon([(5, 5), (500, 5), (500, 250), (5, 20)])
    upper = Polygon([(5, 40), (500, 270), (500, 395), (5, 395)])
    nest = nest_of([lower, upper])
    found = broken_down(nest, (), RULES)
    assert [cut.kind for cut in found.cuts] == [CutKind.OBLIQUE]
    assert found.parts_freed == 2
    assert not sound(nest, found)


def test_no_cut_comes_nearer_metal_than_the_blade_clearance():
    parts = row_of(2, 300.0)
    gap = 305 + GAP / 2
    blocked = nest_of(parts, keep_outs=[circle("metal", gap, 300, 4)])
    assert broken_down(blocked, (), RULES).parts_freed == 0
    wide = [parts[0], shapely.affinity.translate(parts[1], 20, 0)]
    free = nest_of(wide, keep_outs=[circle("metal", 310, 300, 4)])
    found = broken_down(free, (), RULES)
    assert found.parts_freed == 2
    assert found.cuts[0].start[0] - KERF / 2 - 312 >= RULES.blade_clearance_mm - 1e-6
    assert not sound(free, found)


def test_cut_runs_along_the_edge_of_what_is_kept():
    nest = nest_of([box(5, 5, 600, 395)])
    offcuts = offcuts_beside([p.polygon for p in nest.placements], nest.board, RULES)
    found = broken_down(nest, offcuts, RULES)
    assert found.cuts[0].start[0] == pytest.approx(offcuts[0].x_mm - KERF / 2)
    assert [piece.offcuts for piece in found.pieces] == [(), (1,)]
    assert not sound(nest, found, offcuts)


def test_waste_comes_off_a_piece_too_long_to_handle():
    nest = nest_of([box(5, 5, 1500, 395)], length=3900, keep_outs=[circle("metal", 1600, 90, 8)])
    found = broken_down(nest, (), RULES)
    assert len(found.cuts) == 1
    assert found.pieces[0].is_handy
    assert not sound(nest, found)
    roomy = replace(RULES, handy=Handy(length_mm=4000))
    assert not broken_down(nest, (), roomy).cuts


def test_weight_counts_where_the_density_is_known():
    nest = nest_of([box(5, 5, 700, 395)])
    assert not broken_down(nest, (), RULES).cuts
    heavy = broken_down(nest, (), RULES, density_kg_m3=1100)
    assert len(heavy.cuts) == 1
    assert heavy.pieces[0].mass_kg == pytest.approx(1100 * 0.03 * 0.4 * 0.7065, rel=0.02)


def test_large_boards_are_halved_first():
    found = broken_down(nest_of(row_of(30), length=3300), (), RULES)
    assert found.cuts[0].start[0] == pytest.approx(1650, abs=60)
    later = [cut.start[0] for cut in found.cuts[1:]]
    assert later == sorted(later)


def test_cuts_known_already_leave_the_same():
    grid = [shapely.affinity.translate(s, 0, dy) for dy in (0, 106) for s in row_of(4)]
    nest = nest_of(grid)
    found = broken_down(nest, (), RULES)
    assert as_cut(nest, (), RULES, found.cuts) == found


def random_nest(rng, count):
    """Return a board with so many turned triangles and boxes, no nearer than they may be."""
    shapes = []
    for _ in range(400):
        if len(shapes) == count:
            break
        size = rng.uniform(40, 160, 2)
        corners = [(0, 0), (size[0], 0), (size[0], size[1]), (0, size[1])]
        shape = Polygon(corners[: rng.integers(3, 5)])
        shape = shapely.affinity.rotate(shape, rng.choice([0, 90, rng.uniform(0, 360)]))
        low = np.array(shape.bounds[:2])
        shape = shapely.affinity.translate(shape, *(rng.uniform(5, (460, 260)) - low))
        if shape.bounds[2] > 595 or shape.bounds[3] > 395:
            continue
        if all(shape.distance(other) >= GAP for other in shapes):
            shapes.append(shape)
    return shapes


def freed_by_trying_all(shapes):
    """Return how many come free, trying every way of parting every group; hulls tell if it is one.

    A straight strip as wide as the kerf lies between two groups just where their hulls are as far
    apart, each grown by the trim.
    """

    @cache
    def hull(group):
        return shapely.convex_hull(shapely.union_all([shapes[n] for n in group]))

    @cache
    def freed(group):
        if len(group) == 1:
            return 1
        best = 0
        first, *rest = group
        for size in range(len(rest)):
            for some in combinations(rest, size):
                one = (first, *some)
                other = tuple(n for n in rest if n not in some)
                if hull(one).distance(hull(other)) >= GAP:
                    best = max(best, freed(one) + freed(other))
        return best

    return freed(tuple(range(len(shapes))))


@pytest.mark.parametrize("seed", range(CASES))
def test_as_many_come_free_as_by_trying_every_way(seed):
    rng = np.random.default_rng(seed)
    shapes = random_nest(rng, int(rng.integers(3, 8)))
    nest = nest_of(shapes, 600, 400)
    found = broken_down(nest, (), RULES)
    assert found.parts_freed == freed_by_trying_all(shapes)
    assert not sound(nest, found)


@pytest.mark.parametrize("seed", range(CASES // 2))
def test_referee_agrees_with_every_cut_on_crowded_boards(seed):
    rng = np.random.default_rng(1000 + seed)
    shapes = random_nest(rng, int(rng.integers(4, 14)))
    metal = []
    for _ in range(12):
        x, y = rng.uniform(10, (590, 390))
        if all(shapely.Point(x, y).distance(shape) >= 15 for shape in shapes):
            metal.append(circle("metal", x, y, 6))
    nest = nest_of(shapes, 600, 400, metal)
    offcuts = offcuts_beside(shapes, nest.board, replace(RULES))
    found = broken_down(nest, offcuts, RULES)
    assert not sound(nest, found, offcuts)
    assert as_cut(nest, offcuts, RULES, found.cuts) == found
    held = [label for piece in found.pieces for label in piece.parts]
    assert sorted(held) == sorted(p.label for p in nest.placements)


def test_turned_board_gives_as_many():
    """What comes free does not hang on which way the board lies."""
    rng = np.random.default_rng(5)
    shapes = random_nest(rng, 9)
    turned = [shapely.affinity.rotate(shape, 90, origin=(0, 0)) for shape in shapes]
    turned = [shapely.affinity.translate(shape, 400, 0) for shape in turned]
    one = broken_down(nest_of(shapes, 600, 400), (), RULES)
    other = broken_down(nest_of(turned, 400, 600), (), RULES)
    assert (one.parts_freed, len(one.cuts)) == (other.parts_freed, len(other.cuts))


def test_sixty_parts_are_all_freed_and_two_thousand_nails_hold_none():
    rng = np.random.default_rng(2)
    parts = [shapely.affinity.rotate(box(0, 0, 90, 40), rng.uniform(-20, 20)) for _ in range(60)]
    parts = [
        shapely.affinity.translate(part, 70 + 120 * (n % 12), 60 + 100 * (n // 12))
        for n, part in enumerate(parts)
    ]
    nest = nest_of(parts, 1600, 600)
    assert broken_down(nest, (), RULES).parts_freed == 60
    nails = [
        circle("metal", x, y, 2) for x in np.linspace(700, 3900, 200) for y in range(20, 390, 40)
    ]
    nest = nest_of(row_of(6), 4000, 400, nails)
    assert broken_down(nest, (), RULES).parts_freed == 6


class TestReferee:
    """A cut that breaks a rule is found, whichever it is."""

    nest = nest_of(row_of(3), keep_outs=[circle("metal", 500, 200, 8)])

    def faults(self, *cuts, offcuts=(), rules=RULES, freed=None):
        found = check_break_down(cuts, offcuts, self.nest, rules, freed=freed)
        return {fault.rule: fault.measured for fault in found}

    def cross(self, x, low=0.0, high=400.0, kind=CutKind.CROSS):
        return BreakDownCut(kind, (x, low), (x, high), 0.0)

    def test_sound_cut_has_no_fault(self):
        assert not self.faults(self.cross(105 + GAP / 2), freed=1)

    def test_cut_through_the_trim(self):
        found = self.faults(self.cross(105 + GAP / 2 + 0.01))
        assert found == {
            "break-down cut clear of parts": "c1 is 1.490000 mm from p2, 1.5 mm is needed"
        }

    def test_cut_through_a_part(self):
        found = self.faults(self.cross(50))
        assert set(found) == {"break-down cut clear of parts", "break-down cuts"}

    def test_cut_too_near_metal(self):
        found = self.faults(self.cross(500 - 4 - RULES.blade_clearance_mm - KERF / 2 + 0.01))
        assert (
            "5.990000 mm from the one at (500.0, 200.0)" in found["break-down cut clear of metal"]
        )

    def test_cut_into_an_offcut(self):
        found = self.faults(self.cross(800), offcuts=[box(790, 5, 1500, 300)])
        assert found["break-down cut clear of offcuts"] == "c1 runs into k1"

    def test_cut_that_stops_short(self):
        found = self.faults(self.cross(105 + GAP / 2, high=200))
        assert "108.0000 mm off the edge" in found["break-down cut from edge to edge"]

    def test_cut_off_the_board(self):
        assert "break-down cut" in self.faults(self.cross(2100))

    def test_cut_made_twice(self):
        cut = self.cross(105 + GAP / 2)
        assert self.faults(cut, cut)["break-down cut"] == "c2 splits off nothing"

    def test_cut_of_another_kind(self):
        found = self.faults(self.cross(105 + GAP / 2, kind=CutKind.RIP))
        assert found["break-down cut"] == "c1 is called rip, it is a cross-cut"

    def test_cut_without_length(self):
        cut = BreakDownCut(CutKind.CROSS, (300.0, 0.0), (300.0, 0.0), 0.0)
        assert self.faults(cut)["break-down cut"] == "c1 has no length"

    def test_parts_freed_are_counted_anew(self):
        found = self.faults(self.cross(105 + GAP / 2), freed=3)
        assert found["break-down cuts"] == "3 parts are said to come free, 1 do"


def test_saw_that_takes_nothing_still_keeps_off_parts_as_far_as_it_must():
    """The saw's line is a touch wide to the referee, and a gap may be a touch too narrow."""
    rules = replace(RULES, kerf_mm=0.0, trim_mm=5.0)
    planks = [
        [(1940.1, 114.41608905537046), (1940.1, 21.416089055370463),
         (368.29999999999995, 38.416089055370655), (368.29999999999995, 97.41608905537066)],
        [(358.29999999999995, 175.0), (358.29999999999995, 83.30000000000001),
         (16.199999999999932, 100.10000000000005), (16.199999999999932, 158.20000000000005)],
        [(8.599999999999909, 7.697761312009888), (8.599999999999909, 80.69776131200989),
         (358.2999999999999, 73.2977613120099), (358.2999999999999, 15.097761312009887)],
    ]  # fmt: skip
    nest = nest_of(map(Polygon, planks), 1945.1, 180.0)
    found = broken_down(nest, (), rules)
    assert not sound(nest, found, rules=rules)
    assert found.parts_freed == 3


def round_row(gap, quad_segs, count=4, radius=60.0):
    """Discs one behind another, each a little higher, so that lines aslant alone part them."""
    across, up = 2 * radius + gap, 40.0
    slope = np.hypot(across, up) / across
    return [
        shapely.Point(70 + i * across / slope, 70 + i * up / slope).buffer(radius, quad_segs)
        for i in range(count)
    ]


@pytest.mark.parametrize("gap", [GAP + 0.03, GAP + 3.0])
@pytest.mark.parametrize("quad_segs", [20, 600])
def test_discs_of_many_corners_come_free_by_the_same_cuts_as_of_few(gap, quad_segs):
    nest = nest_of(round_row(gap, quad_segs))
    found = broken_down(nest, (), RULES)
    assert found.parts_freed == 4
    assert sound(nest, found) == ()


@pytest.mark.parametrize("far", [0.0, 5.0, 250.0])
def test_lines_aslant_look_at_few_corners_of_many_and_never_come_nearer(far):
    shapes = round_row(GAP + far, 2_000)
    things = Things.of(shapes, [TRIM] * 4, 4)
    hulls, reaches = things.aslant
    turns = np.linspace(0.0, np.pi, 181)
    lows, highs = things.along(np.column_stack([np.cos(turns), np.sin(turns)]), np.arange(4))
    for number, shape in enumerate(shapes):
        assert len(hulls[number]) < 300 < len(things.hulls[number])
        assert reaches[number] == pytest.approx(TRIM + COARSE_MM)
        at = shapely.get_coordinates(shape) @ np.array([np.cos(turns), np.sin(turns)])
        assert (lows[:, number] <= at.min(axis=0) - TRIM + 1e-9).all()
        assert (highs[:, number] >= at.max(axis=0) + TRIM - 1e-9).all()
        assert (highs[:, number] <= at.max(axis=0) + TRIM + 2 * COARSE_MM).all()
