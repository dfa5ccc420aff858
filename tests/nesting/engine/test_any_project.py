"""Whatever the boards and parts, the referee has nothing to say of the plan.

``REFEREE_CASES=5000 python -m pytest tests/nesting/engine/test_any_project.py`` tries more.
"""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from puzzles import random_board, random_need, star
from shapely.geometry import Polygon, box

from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region, slot

CASES = int(os.environ.get("REFEREE_CASES", "8"))

patient = [HealthCheck.too_slow, HealthCheck.large_base_example, HealthCheck.data_too_large]
many = settings(max_examples=CASES, deadline=None, suppress_health_check=patient)
some = settings(max_examples=max(CASES // 6, 1), deadline=None, suppress_health_check=patient)


def random_rules(rng):
    return Rules(
        kerf_mm=float(rng.choice([0, 1.5, 3, 12])),
        trim_mm=float(rng.choice([0, 1, 5])),
        blade_clearance_mm=float(rng.choice([0, 6])),
        clearances_mm={KeepOutKind.HOLE: float(rng.choice([0, 2]))},
        plugs_per_metre=int(rng.integers(0, 7)),
        plug_edge_mm=float(rng.choice([0, 6])),
    )


def packed(needs, boards, rules, rounds=0, seed=0):
    plan = pack(needs, boards, rules, stop=MaxRounds(rounds), seed=seed)
    faults = check_plan(plan, needs, rules)
    assert faults == (), [str(fault) for fault in faults]
    assert plan.ideal.value <= plan.ideal.most_value * (1 + 1e-9)
    assert plan.ideal.least_opened_mm2 <= plan.ideal.opened_mm2 * (1 + 1e-9)
    return plan


@given(seed=st.integers(0, 2**32))
@example(seed=27227)  # an offcut whose mitred corner is infinite before its limit cuts it
@many
def test_any_first_plan_satisfies_the_referee(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(int(rng.integers(1, 4)))]
    needs = [random_need(rng, f"P{i}") for i in range(int(rng.integers(1, 6)))]
    packed(needs, boards, random_rules(rng), seed=seed)


@given(seed=st.integers(0, 2**32))
@some
def test_any_searched_plan_satisfies_the_referee(seed):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{i}") for i in range(3)]
    needs = [random_need(rng, f"P{i}") for i in range(5)]
    packed(needs, boards, random_rules(rng), rounds=2, seed=seed)


def limited(rng, need):
    """Return a need that asks for a limit on its run-out, some of them past what it can have."""
    outline = replace(
        need.outline,
        slope_of_grain=float(rng.choice([3, 12])),
        run_out=float(rng.choice([1, 4, 12])),
        run_out_limit=float(rng.choice([1.2, 3, 8, 12])),
    )
    return replace(need, outline=outline)


def perhaps_grown(rng, board):
    """Return a board, its grain straight or round a bend."""
    if rng.integers(2):
        return board
    rises = rng.uniform(-0.3, 0.3, 2) * board.length_mm
    marks = zip(np.array([0.0, 0.4, 1.0]) * board.length_mm, [0.0, *rises], strict=True)
    return replace(board, grain=GrainPath(tuple((float(x), float(y)) for x, y in marks)))


@given(seed=st.integers(0, 2**32))
@some
def test_any_plan_with_limits_on_run_out_satisfies_the_referee(seed):
    rng = np.random.default_rng(seed)
    boards = [perhaps_grown(rng, random_board(rng, f"B{i}")) for i in range(3)]
    needs = [limited(rng, random_need(rng, f"P{i}")) for i in range(4)]
    packed(needs, boards, random_rules(rng), rounds=int(rng.integers(3)), seed=seed)


def awkward_shape(rng, size):
    """A sliver, a ring with corners on one line, corners almost the same, a frame, a comb."""
    w, h = float(rng.uniform(0.6, 1)) * size, float(rng.uniform(0.1, 0.5)) * size
    form = int(rng.integers(6))
    if form == 0:
        return Polygon([(0, 0), (w, 0), (w, 1e-3)])
    if form == 1:
        at = np.sort(np.append(rng.uniform(0, w, 6), [0, w]))
        return Polygon([(x, 0) for x in at] + [(x, h) for x in at[::-1]])
    if form == 2:
        near = 10.0 ** -float(rng.uniform(3, 9))
        return Polygon([(0, 0), (w, 0), (w, near), (w, h), (w - near, h), (0, h), (0, h - near)])
    if form == 3:
        return box(0, 0, w, h).difference(box(w * 0.2, h * 0.2, w * 0.8, h * 0.8))
    if form == 4:
        comb = box(0, 0, w, h)
        for k in range(4):
            comb = comb.difference(box(w * (0.1 + 0.2 * k), h * 0.3, w * (0.2 + 0.2 * k), h))
        return comb
    return star(rng, size / 2, 15)


def awkward_board(rng, name):
    """Keep-outs that touch, lie on each other, on the edge, or take the whole board."""
    length, width = float(rng.uniform(150, 700)), float(rng.uniform(30, 150))
    x, y, r = length / 3, width / 2, float(rng.uniform(2, width / 3))
    keep_outs = [
        circle(KeepOutKind.METAL, x, y, 2 * r),
        circle(KeepOutKind.HOLE, x + 2 * r, y, 2 * r),
        circle(KeepOutKind.HOLE, x + 2 * r, y, r),
        circle(KeepOutKind.METAL, 0, 0, 5),
        region(KeepOutKind.ROT, [(length, 0), (length, width), (length - 1e-3, width / 2)]),
        slot(KeepOutKind.SPLIT, (0, width), (length, width), 1e-3),
        region(KeepOutKind.STAIN, [(0, 0), (length, 0), (length, width), (0, width)]),
    ]
    count = int(rng.integers(len(keep_outs) + 1))
    chosen = tuple(keep_outs[i] for i in rng.choice(len(keep_outs), count, replace=False))
    at = np.sort(np.append(rng.uniform(0, length, 3), [0, length]))
    ring = [(a, 0) for a in at] + [(a, width) for a in at[::-1]]
    return Board(name, Polygon(ring), 30, "oak", keep_outs=chosen)


@given(seed=st.integers(0, 2**32))
@some
def test_awkward_shapes_neither_break_nor_stall_the_search(seed):
    rng = np.random.default_rng(seed)
    boards = [awkward_board(rng, f"B{i}") for i in range(2)]
    needs = [
        Need(
            f"P{i}", "any", Outline(awkward_shape(rng, float(rng.uniform(20, 400))), 20),
            ("oak",), int(rng.integers(1, 3)), list(Holes)[int(rng.integers(3))],
        )
        for i in range(3)
    ]  # fmt: skip
    packed(needs, boards, random_rules(rng), rounds=int(rng.integers(2)), seed=seed)


@given(seed=st.integers(0, 2**32))
@some
def test_part_exactly_as_its_tapering_board_is_placed(seed):
    rng = np.random.default_rng(seed)
    length, low, high = float(rng.uniform(100, 900)), *map(float, rng.uniform(30, 120, 2))
    shape = Polygon([(0, 0), (length, 0), (length, low), (0, high)])
    need = Need("P", "any", Outline(shape, 20, may_turn_over=False), ("oak",))
    plan = packed([need], [Board("B", shape, 30, "oak")], Rules(trim_mm=0))
    assert plan.nests
    assert plan.ideal.is_proven_best


def test_kerf_wider_than_the_room_between_leaves_one_part():
    strip = Need("P", "any", Outline(box(0, 0, 400, 50), 20), ("oak",), 2)
    board = Board("A", box(0, 0, 810, 100), 30, "oak")
    for kerf, count in ((9, 2), (10, 2), (11, 1)):
        rules = Rules(kerf_mm=kerf, trim_mm=0, cleaning_loss_mm=0)
        nests = packed([strip], [board], rules).nests
        assert sum(len(nest.placements) for nest in nests) == count


CHECKED = """
import sys
sys.path.insert(0, {folder!r})
import numpy as np
from puzzles import random_board, random_need
from nesting.referee.check import check_plan
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.rules import Rules
for seed in range(3):
    rng = np.random.default_rng(seed)
    boards = [random_board(rng, f"B{{i}}") for i in range(3)]
    needs = [random_need(rng, f"P{{i}}") for i in range(5)]
    assert not check_plan(pack(needs, boards, Rules(), stop=MaxRounds(0)), needs, Rules())
print("in bounds")
"""


@pytest.mark.skipif("REFEREE_CASES" not in os.environ, reason="half a minute of compiling")
def test_compiled_kernels_stay_inside_their_arrays(tmp_path):
    """Compiled anew, with every index checked: those that construction uses."""
    environment = {
        **os.environ,
        "NUMBA_BOUNDSCHECK": "1",
        "NUMBA_OPT": "0",
        "NUMBA_CACHE_DIR": str(tmp_path),
        "PYTHONPATH": str(Path(__file__).parents[3]),
    }
    done = subprocess.run(
        [sys.executable, "-c", CHECKED.format(folder=str(Path(__file__).parent))],
        env=environment, capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert done.stdout == "in bounds\n", done.stderr
