"""Shares that parts take of a board: no nest found takes more than the board has."""

from collections import Counter
from itertools import product

import numpy as np
import pytest
import shapely
import shapely.ops
from crooks import crook, knee
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from nesting.engine.pack import pack
from nesting.engine.proof.bands import Heights, shares_of_bands
from nesting.engine.proof.chords import chords_of
from nesting.engine.proof.givers import Givers
from nesting.engine.proof.shares import lines_of, shares_of
from nesting.engine.proof.shares_numba import least_hits, least_sums, longest, rounded
from nesting.engine.stop import MaxRounds
from nesting.engine.wood.room_bounds import Possible
from nesting.grain import straight_grain
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board

seeds = st.integers(0, 10**6)
slow = settings(max_examples=3, suppress_health_check=[HealthCheck.too_slow])


def taken(needs, boards, rules, seed):
    """Return for each board of a plan the shares that are taken of it, row by row."""
    plan = pack(needs, boards, rules, stop=MaxRounds(2), seed=seed)
    givers = Givers(Possible(needs, boards, rules)).all()
    for nest in plan.nests:
        giver = givers[boards.index(nest.board)]
        counts = Counter(needs.index(p.need) for p in nest.placements)
        assert set(counts) <= set(giver.parts.tolist())
        copies = np.array([counts[part] for part in giver.parts.tolist()])
        assert (copies <= giver.copies).all()
        yield giver.shares @ copies


@given(seed=seeds)
@slow
def test_no_nest_on_straight_grain_takes_more_than_there_is(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(3)]
    needs = [random_need(rng, f"P{i}") for i in range(6)]
    rules = Rules(kerf_mm=float(rng.choice([0, 3])), trim_mm=float(rng.choice([0, 1])))
    for shares in taken(needs, boards, rules, seed):
        assert (shares <= 1 + 1e-9).all()


@given(seed=seeds)
@slow
def test_no_nest_of_strips_takes_more_than_there_is(seed):
    rng = np.random.default_rng(seed)
    boards = [
        Board(f"B{i}", box(0, 0, *rng.uniform((600, 100), (1500, 300))), 30, "oak")
        for i in range(3)
    ]
    needs = [
        Need(
            f"P{i}", "any", Outline(box(0, 0, *rng.uniform((150, 20), (700, 140))), 20), ("oak",), 4
        )
        for i in range(6)
    ]
    for shares in taken(needs, boards, Rules(kerf_mm=2, trim_mm=1), seed):
        assert (shares <= 1 + 1e-9).all()


@given(seed=seeds)
@settings(max_examples=1, suppress_health_check=[HealthCheck.too_slow])
def test_no_nest_on_grown_grain_takes_more_than_there_is(seed):
    rng = np.random.default_rng(seed)
    boards = [crook(rng, f"K{i}") for i in range(2)]
    needs = [knee(rng, f"P{i}") for i in range(3)]
    for shares in taken(needs, boards, Rules(kerf_mm=2, trim_mm=1), seed):
        assert (shares <= 1 + 1e-9).all()


def most(outline, board, gap=0.0, *, slope=None):
    """Return how many copies of a part the shares let onto a board."""
    outline = Outline(outline, 20, slope_of_grain=slope or 1000.0)
    chords = [chords_of(outline, 0.0, board.bounds[3])]
    shares = shares_of(chords, lines_of(board), gap)
    return int(np.floor(1 / shares.max() + 1e-9))


def test_parts_wider_than_a_third_do_not_lie_three_abreast():
    assert most(box(0, 0, 900, 34), box(0, 0, 1000, 100)) == 2
    assert most(box(0, 0, 900, 33), box(0, 0, 1000, 100)) == 3


def test_the_saw_takes_its_part_between_neighbours():
    assert most(box(0, 0, 900, 32), box(0, 0, 1000, 100), gap=2.0) == 3
    assert most(box(0, 0, 900, 32.1), box(0, 0, 1000, 100), gap=2.0) == 2


def test_long_parts_lie_one_behind_another_only_so_often():
    assert most(box(0, 0, 620, 60), box(0, 0, 1200, 100)) == 1
    assert most(box(0, 0, 580, 60), box(0, 0, 1200, 100)) == 2


def test_part_that_no_line_of_the_board_has_room_for_has_no_share():
    chords = [chords_of(Outline(box(0, 0, 300, 120), 20, slope_of_grain=1000.0), 0.0, 100.0)]
    assert shares_of(chords, lines_of(box(0, 0, 1000, 100)), 0.0).max() > 1


def test_clear_parts_and_plugged_ones_count_by_what_they_tolerate():
    shape = box(0, 0, 300, 60)
    needs = [Need(str(holes), "any", Outline(shape, 20), ("oak",), 9, holes) for holes in Holes]
    board = Board("B", box(0, 0, 1000, 100), 30, "oak")
    giver = Givers(Possible(needs, [board], Rules())).all()[0]
    assert giver.copies.max() <= 3


sizes = st.lists(st.lists(st.floats(0, 9), min_size=5, max_size=5), min_size=1, max_size=4)


@given(sizes=sizes, unit=st.floats(0.5, 5), rest=st.floats(0, 0.9))
def test_units_and_what_is_over_are_counted(sizes, unit, rest):
    whole = np.floor(np.array(sizes) / unit)
    over = (np.array(sizes) / unit - whole - rest).clip(0) / (1 - rest)
    assert rounded(np.array(sizes), unit, rest) == pytest.approx((whole + over).sum(axis=1))


@given(a=st.floats(0, 50), b=st.floats(0, 50), unit=st.floats(0.5, 20), rest=st.floats(0, 0.9))
def test_counts_never_gain_by_adding_lengths_up(a, b, unit, rest):
    """What makes a count usable: two lengths never count for more than their sum as a run."""
    run_rest = ((a + b) / unit) % 1.0
    count_of = lambda size, over: rounded(np.array([[size]]), unit, min(over, 1 - 1e-9))[0]  # noqa: E731
    assert count_of(a, run_rest) + count_of(b, run_rest) <= count_of(a + b, run_rest) + 1e-6
    assert count_of(a, 1.0) + count_of(b, 1.0) <= count_of(a + b, 1.0) + 1e-6


@given(sizes=sizes, unit=st.floats(0.5, 5))
def test_longest_rows_of_cells_are_found(sizes, unit):
    found = longest(np.array(sizes), unit, 2)
    for row, places in zip(sizes, found, strict=True):
        for level, (begin, end) in enumerate(places.tolist(), 1):
            holds = "".join("x" if size >= unit * level else " " for size in row)
            assert end - begin == max(map(len, holds.split(" ")))
            assert holds[begin:end] == "x" * (end - begin)


@given(sizes=sizes, high=st.integers(-1, 6), lines=st.sets(st.integers(0, 9), min_size=1))
def test_least_sums_try_every_place(sizes, high, lines):
    low, found = np.zeros(len(sizes), np.int64), []
    for row in sizes:
        at = [sum(row[k - p] for k in lines if 0 <= k - p < 5) for p in range(high + 1)]
        found.append(min(at, default=np.inf))
    highs = np.full(len(sizes), high)
    assert least_sums(np.array(sizes), low, highs, np.array(sorted(lines))) == pytest.approx(found)


@given(sizes=sizes, high=st.integers(-1, 6), lines=st.sets(st.integers(0, 9), min_size=1))
def test_least_hits_try_every_place_that_matters(sizes, high, lines):
    where = longest(np.array(sizes), 2.0, 2)
    low, highs = np.zeros(len(sizes), np.int64), np.full(len(sizes), high)
    chosen = np.array(sorted(lines))
    found = least_hits(where[None], np.zeros(len(chosen), np.int64), low, highs, chosen)
    for row, places in zip(found, where.tolist(), strict=True):
        at = [sum(b <= k - p < e for b, e in places for k in lines) for p in range(high + 1)]
        assert row == min(at, default=np.inf)


def test_a_star_takes_no_more_than_its_own_chords():
    shape = Polygon([(0, 0), (100, 40), (200, 0), (160, 60), (200, 120), (100, 80), (0, 120)])
    board = box(0, 0, 1000, 120)
    assert most(shape, board) >= 5


def cut_up(rng, wood, cuts):
    """Return a board sawn through again and again without any loss: all its pieces."""
    pieces = [wood]
    for _ in range(cuts):
        piece = max(pieces, key=lambda one: one.area)
        x0, y0, x1, y1 = piece.bounds
        at, lean = rng.uniform(0.3, 0.7), rng.uniform(-0.05, 0.05)
        if rng.random() < 0.5:
            x = x0 + at * (x1 - x0)
            saw = [(x - 1e4 * lean, y0 - 1e4), (x + 1e4 * lean, y1 + 1e4)]
        else:
            y = y0 + at * (y1 - y0)
            saw = [(x0 - 1e4, y - 1e4 * lean), (x1 + 1e4, y + 1e4 * lean)]
        pieces.remove(piece)
        pieces += list(shapely.ops.split(piece, LineString(saw)).geoms)
    return pieces


@pytest.mark.parametrize("seed", range(6))
def test_pieces_of_a_board_sawn_up_without_loss_take_no_more_than_it_has(seed):
    rng = np.random.default_rng(seed)
    board = box(37, 11, 37 + rng.uniform(500, 900), 11 + rng.uniform(80, 160))
    pieces = [Outline(one, 20, slope_of_grain=300.0) for one in cut_up(rng, board, 4)]
    high = board.bounds[3] - board.bounds[1]
    chords = [chords_of(piece, 0.0, high) for piece in pieces]
    shares = shares_of(chords, lines_of(board), 0.0)
    assert len(shares) > 20
    assert (shares.sum(axis=1) <= 1 + 1e-9).all()
    assert shares.sum(axis=1).max() > 0.85  # and not much less: all lines are taken


@pytest.mark.parametrize("fall", [0.0, 25.0])
def test_a_board_sawn_into_slim_high_pieces_has_just_enough_of_every_band(fall):
    """Each length of it is sawn from corner to corner, or so that some wood is left beside."""
    board = box(37, 11, 37 + 4 * 150, 11 + 100)
    pieces = []
    for x in np.arange(37, 637, 150):
        pieces += [
            Polygon([(x, 11), (x + 150, 11), (x + 150, 111 - fall)]),
            Polygon([(x, 11 + fall), (x + 150, 111), (x, 111)]),
        ]
    outlines = [Outline(piece, 20, slope_of_grain=300.0) for piece in pieces]
    rows = shares_of_bands([Heights(one, 0.0, 0.0, 100.0) for one in outlines], board, 0.0)
    assert len(rows) > 0
    assert rows.shape == (len(rows), 8)
    sums = rows.sum(axis=1)
    assert (sums <= 1 + 1e-9).all()
    if not fall:
        assert sums.max() > 0.85


def test_stout_parts_and_low_ones_take_nothing_of_bands():
    board = box(0, 0, 600, 100)
    stout, low = (Outline(box(0, 0, *size), 20) for size in ((150, 90), (300, 40)))
    assert len(shares_of_bands([Heights(stout, 0.0, 0.0, 100.0)], board, 0.0)) == 0
    slim = Outline(Polygon([(0, 0), (150, 0), (150, 95)]), 20)
    found = shares_of_bands([Heights(one, 0.0, 0.0, 100.0) for one in (slim, low)], board, 0.0)
    assert (found[:, 1] == 0).all()
    assert (found[:, 0] > 0).all()


WEDGE = Polygon([(0, 0), (400, 0), (400, 70), (200, 20), (0, 70)])
SKEW = affinity.rotate(box(0, 0, 300, 62), 4.0)


@pytest.mark.parametrize(
    ("shapes", "angle", "limit", "lean_deg"),
    [
        ((box(0, 0, 300, 62), WEDGE), 0.0, 60.0, 0.95),
        ((box(0, 0, 300, 62), WEDGE), 7.0, 60.0, 0.95),
        ((SKEW, WEDGE), 0.0, 12.0, 4.76),  # it takes least when laid flat, far from its grain
    ],
)
def test_a_part_takes_of_a_band_what_it_covers_at_the_least(shapes, angle, limit, lean_deg):
    """A batten and a wedge slid up and down the board by hand."""
    bands = np.array([[20.0, 80.0], [40.0, 60.0], [0.0, 100.0]])
    for shape in shapes:
        outline = Outline(shape, 20, slope_of_grain=limit, grain=straight_grain(angle))
        found = Heights(outline, 0.0, 0.0, 100.0).least(0.0, 100.0, bands)
        least = np.full(3, np.inf)
        for flip, half in product((1, -1), (0, 180)):
            for lean in np.linspace(-lean_deg, lean_deg, 9 if lean_deg < 1 else 35):
                lying = affinity.scale(shape, 1, flip, origin=(0, 0))
                lying = affinity.rotate(lying, half - flip * angle + lean, origin=(0, 0))
                _, low, _, high = lying.bounds
                for y in np.linspace(-low, 100 - high, 25) if high - low <= 100 else ():
                    moved = affinity.translate(lying, 0, y)
                    cut = [moved.intersection(box(-999, a, 999, b)).area for a, b in bands]
                    least = np.minimum(least, cut)
        if np.isinf(least).all():  # it is too high to lie there at all
            assert found.tolist() == [0, 0, 0]
            continue
        assert (found <= least + 1e-6).all()
        # Rounded down: by a millimetre or two of turning, of level and of height at either side.
        assert (found >= least - 6.5 * shape.length / 2).all()
        assert found[2] > 0.9 * shape.area
