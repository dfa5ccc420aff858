"""The board packer measured: ``python tests/bench/bench_boards.py [--seconds N] ...``.

One table: the full demo (first plan, seconds to 95, 98 and 99 % of the last value and yield,
memory, bounds), the same value by simpler ways, puzzles with a known answer, projects from 10
to 1,000 parts, and, with ``--bins FOLDER``, published bins. Every plan passes the referee.
Needs the extra ``bench``.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import time
from pathlib import Path

import baselines
import growing
import numpy as np
import salvage_puzzles
import zero_waste
from watching import Memory, Watch

from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds, MaxSeconds
from nesting.project import read_project
from nesting.referee.check import check_plan

DEMO = Path(__file__).parents[2] / "demo_projects" / "tender_to_sloop" / "project.yaml"
SIZES = ((10, 5), (32, 13), (100, 40), (320, 128), (1000, 400))
SECTIONS = ("demo", "baselines", "puzzles", "growth", "bins")
MARKS = (95, 98, 99)


def main() -> None:
    """Run the sections asked for and print the table."""
    given = arguments()
    if given.one:
        print(json.dumps(one_size(*given.one)))
        return
    warm_up()
    for section in given.only:
        if section != "bins" or given.bins:
            ROWS[section](given)


def arguments() -> argparse.Namespace:
    """Return what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=30.0, help="for each search (30)")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--puzzles", type=int, default=3, help="of each of nine kinds (3)")
    parser.add_argument("--puzzle-seconds", type=float, default=10.0, help="for each puzzle (10)")
    parser.add_argument("--most-parts", type=int, default=1000, help="in the growth rows (1000)")
    parser.add_argument("--bins", type=Path, help="folder of published bins")
    parser.add_argument("--instances", type=int, default=10, help="of them (10)")
    parser.add_argument("--only", nargs="+", choices=SECTIONS, default=SECTIONS)
    parser.add_argument("--one", nargs=2, type=int, help=argparse.SUPPRESS)
    return parser.parse_args()


def row(section: str, name: str, value: str) -> None:
    """Print one row of the table."""
    print(f"{section:<10} {name:<42} {value}", flush=True)


def warm_up() -> None:
    """Compile the kernels, so that a first run is measured as any other."""
    needs, boards = growing.project(6, 3)
    pack(needs, boards, growing.RULES, stop=MaxRounds(4))


def searched(needs, boards, rules, given, seconds=None):
    """Return a refereed plan, the watch over its search, and the peak memory in bytes."""
    watch, stop = Watch(), MaxSeconds(given.seconds if seconds is None else seconds)
    with Memory() as memory:
        plan = pack(
            needs, boards, rules,
            stop=stop, seed=given.seed, workers=given.workers, on_progress=watch,
        )  # fmt: skip
    faults = check_plan(plan, needs, rules)
    assert not faults, faults
    return plan, watch, memory.peak_bytes


def demo_rows(given) -> None:
    """Measure the full demo."""
    demo = read_project(DEMO)
    plan, watch, peak = searched(demo.needs, demo.stock, demo.rules, given)
    row("demo", "seconds to the first plan", f"{watch.first_seconds:.1f}")
    for mark in MARKS:
        value, share = watch.seconds_to(mark)
        row("demo", f"seconds to {mark} % of value; of yield", f"{value:.1f}; {share:.1f}")
    row("demo", "value; m2 opened", f"{plan.placed_value:.0f}; {plan.opened_mm2 * 1e-6:.2f}")
    ideal = plan.ideal
    row("demo", "value bound; least m2", f"{ideal.most_value:.0f} ({ideal.limit}); "
        f"{ideal.least_opened_mm2 * 1e-6:.2f}")  # fmt: skip
    row("demo", "peak memory, all processes", f"{peak / 1e9:.2f} GB")


def baseline_rows(given) -> None:
    """Measure simpler ways on the full demo, and the packer on what each of them placed."""
    demo = read_project(DEMO)
    for name, way in (("first fit", baselines.first_fit), ("rectangles", baselines.rectangles)):
        start = time.perf_counter()
        theirs = way(demo.needs, demo.stock, demo.rules)
        took = time.perf_counter() - start
        faults = check_plan(theirs, demo.needs, demo.rules)
        assert not faults, faults
        needs = baselines.only_placed(theirs, demo.needs)
        ours, _, _ = searched(needs, demo.stock, demo.rules, given)
        same = math.isclose(ours.placed_value, theirs.placed_value)
        less = 100 * (1 - ours.opened_mm2 / theirs.opened_mm2)
        row(name, "value; m2 opened; seconds", f"{theirs.placed_value:.0f}; "
            f"{theirs.opened_mm2 * 1e-6:.2f}; {took:.1f}")  # fmt: skip
        row(name, "the packer, same parts: m2 opened", f"{ours.opened_mm2 * 1e-6:.2f} "
            f"({less:.1f} % less{'' if same else ', BUT LESS VALUE'})")  # fmt: skip


def puzzle_rows(given) -> None:
    """Measure how many puzzles of each kind have all their parts placed in time."""
    solved = {}
    for count in salvage_puzzles.COUNTS:
        for share in salvage_puzzles.SHARES:
            kind = [puzzle_solved(seed, count, share, given) for seed in range(given.puzzles)]
            solved[count, share] = np.mean([placed == count for placed in kind])
            row("puzzles", f"{count} parts on {share:.0%} of the free wood",
                f"{solved[count, share]:.0%} solved; parts placed {np.mean(kind) / count:.1%}",
            )  # fmt: skip
    row("puzzles", f"all, {given.puzzle_seconds:g} s each", f"{np.mean(list(solved.values())):.0%}")


def puzzle_solved(seed: int, count: int, share: float, given) -> int:
    """Return how many parts of a puzzle were placed; its known answer is refereed first."""
    made = salvage_puzzles.puzzle(seed, count, share)
    assert not check_plan(made.answer, made.needs, salvage_puzzles.RULES)
    plan, _, _ = searched(
        made.needs, [made.board], salvage_puzzles.RULES, given, given.puzzle_seconds
    )
    return sum(len(nest.placements) for nest in plan.nests)


def growth_rows(given) -> None:
    """Measure the first plan of projects from small to large, each in a new process."""
    sizes, seconds = [size for size in SIZES if size[0] <= given.most_parts], []
    for parts, boards in sizes:
        command = [sys.executable, __file__, "--one", str(parts), str(boards)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        found = json.loads(done.stdout.splitlines()[-1])
        seconds.append(found["cpu"])
        row("growth", f"{parts} parts, {boards} boards: first plan", f"{found['seconds']:.1f} s "
            f"({found['cpu']:.1f} s of processor), {found['bytes'] / 1e9:.2f} GB, "
            f"{found['left']} left over")  # fmt: skip
    if len(sizes) > 1:
        slope = np.polyfit(np.log([parts for parts, _ in sizes]), np.log(seconds), 1)[0]
        row("growth", "exponent, processor seconds over parts", f"{slope:.2f}")


def one_size(parts: int, boards: int) -> dict[str, float]:
    """Return what the first plan of one size takes."""
    warm_up()
    needs, wood = growing.project(parts, boards)
    start, before = time.perf_counter(), time.process_time()
    with Memory() as memory:
        plan = pack(needs, wood, growing.RULES, stop=MaxRounds(0))
    took, cpu = time.perf_counter() - start, time.process_time() - before
    faults = check_plan(plan, needs, growing.RULES)
    assert not faults, faults
    left = sum(unplaced.count for unplaced in plan.unplaced)
    return {"seconds": took, "cpu": cpu, "bytes": memory.peak_bytes, "left": left}


def bin_rows(given) -> None:
    """Measure published bins."""
    ratios = []
    for instance in zero_waste.instances(given.bins, given.instances):
        filled = zero_waste.fill(instance, given.seconds, given.workers)
        ratios.append(filled.ratio)
        over = f", {filled.left_over} left over" if filled.left_over else ""
        row("bins", filled.name, f"{filled.opened} for {filled.optimum}{over}")
    row("bins", "bins over optimum, mean; at optimum", f"{np.mean(ratios):.3f}; "
        f"{np.mean(np.isclose(ratios, 1)):.0%}")  # fmt: skip


ROWS = {
    "demo": demo_rows,
    "baselines": baseline_rows,
    "puzzles": puzzle_rows,
    "growth": growth_rows,
    "bins": bin_rows,
}


if __name__ == "__main__":
    main()
