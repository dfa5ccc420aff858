"""How long a large old boat takes to be judged, from her file to a proven choice.

    python tests/bench/bench_judge.py [--boats 5] [--members 60] [--joints 80] [--parts 60]

Boats are drawn by lot, written as a file and read; processor time and time by the clock, what-ifs
included, which are solved side by side.
"""

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from nesting.judging.choice import choose
from nesting.judging.question import Question
from nesting.judging.read_old_boat import read_old_boat
from nesting.judging.wanted import Wanted
from nesting.rules import Rules

WOODS = ("white oak", "teak", "longleaf pine", "Honduras mahogany")


def boat_text(chance, members, joints):
    """Return an old boat's file: every member rests on earlier ones, or on none."""
    lines = ["version: 1", "name: drawn by lot", "unit: mm", "rates: {hour: 18, board_foot: 12}"]
    lines.append("members:")
    for number in range(members):
        below = sorted({f"m{k}" for k in chance.integers(0, number, 2)}) if number else []
        lines.append(
            f"  - {{member: m{number}, species: {chance.choice(WOODS)}, "
            f"count: {chance.integers(1, 60)}, length: {chance.uniform(900, 5500):.0f}, "
            f"width: {chance.uniform(60, 300):.0f}, thickness: {chance.uniform(18, 80):.0f}, "
            f"sound: {chance.integers(50, 101)}, rests_on: [{', '.join(below)}]}}"
        )
    lines.append("joints:")
    pairs = set()
    while len(pairs) < joints:
        low, high = sorted(chance.choice(members, 2, replace=False))
        pairs.add((int(high), int(low)))
    for of, to in sorted(pairs):
        draws = int(chance.integers(20, 91))
        lines.append(
            f"  - {{of: m{of}, to: m{to}, fastener: {chance.choice(['screw', 'bolt', 'rivet'])}, "
            f"spacing: {chance.uniform(60, 700):.0f}, rows: {chance.integers(1, 3)}, "
            f"state: {{draws: {draws}, breaks: {100 - draws}}}, "
            f"open_behind: {chance.choice(['yes', 'no'])}}}"
        )
    return "\n".join(lines) + "\n"


def parts_list(chance, count):
    """Return parts wanted, drawn by lot."""
    return tuple(
        Wanted(f"p{k}", (str(chance.choice(WOODS)),), int(chance.integers(1, 20)),
               chance.uniform(150, 2500), chance.uniform(30, 200), chance.uniform(15, 50),
               bool(chance.random() < 0.6), chance.uniform(3, 90))
        for k in range(count)
    )  # fmt: skip


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, usual in (("boats", 5), ("members", 60), ("joints", 80), ("parts", 60)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    given = parser.parse_args()
    for seed in range(given.boats):
        chance = np.random.default_rng(seed)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "boat.yaml"
            path.write_text(boat_text(chance, given.members, given.joints), encoding="utf-8")
            clock, work = time.perf_counter(), time.process_time()
            boat, ways, _ = read_old_boat(path)
            choice = choose(Question(boat, parts_list(chance, given.parts), Rules(), ways))
        print(
            f"boat {seed}: {time.perf_counter() - clock:5.1f} s by the clock, "
            f"{time.process_time() - work:5.1f} s of processor time, "
            f"saved {len(choice.solved.saved)} of {given.members}, "
            f"{'proven' if choice.solved.is_proven else 'not proven'}",
            flush=True,
        )


if __name__ == "__main__":
    main()
