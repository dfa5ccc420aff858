"""Whether stated chances come true: many hulls, each forecast, then taken apart once.

    python tests/bench/bench_forecast.py [--hulls 200] [--piles 30]

Every hull has figures of its own, drawn by lot; its forecast sees them, and not what lot the
teardown draws. Chances are gathered in fifths; beside each stands how often it came true. What this
cannot show is how like a real boat those hulls are.
"""

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np

from nesting.engine.pack import placed_at_first
from nesting.judging.choice import choose
from nesting.judging.forecast import forecast
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.piles import sampled_pile
from nesting.judging.programme import Question
from nesting.judging.wanted import wanted_of
from nesting.need import Need
from nesting.rules import Rules
from parts.shaped import part_from_outline

FIFTHS = 5


def strip(length):
    return part_from_outline([(0, 0), (length, 0), (length, 50), (0, 50)], 22)


def hull(seed):
    """Return a deck on beams and a parts list, drawn by lot: what it gives is in doubt."""
    chance = np.random.default_rng([seed, 1])
    draws = chance.uniform(0.3, 0.9)
    members = (
        Member("decking", "teak", int(chance.integers(3, 9)), chance.uniform(1800, 3600),
               chance.uniform(70, 120), 32.0, chance.uniform(0.6, 1.0), rests_on=("beam",)),
        Member("beam", "oak", 8, 2400.0, 75.0, 75.0),
    )  # fmt: skip
    joint = Joint("decking", "beam", Fastener.SCREW, 5.5, chance.uniform(280, 450), bung_mm=11.0,
                  state=State(draws, 1 - draws, 0.0))  # fmt: skip
    needs = [
        Need.of(f"{length:.0f}", strip(length), ["teak"],
                quantity=int(chance.integers(1, 5)), holes=holes)
        for length, holes in zip(
            chance.uniform(200, 1500, 6), ["clear", "plugged"] * 3, strict=True
        )
    ]  # fmt: skip
    boat = OldBoat("x", members, (joint,), Rates(0.01, 20.0))
    return boat, needs


def stated_and_true(seed, piles):
    """Return for each part the chance that was stated, and whether it came true."""
    boat, needs = hull(seed)
    rules = Rules()
    choice = choose(Question(boat, wanted_of(needs, rules, boat.rates), rules))
    if not choice.solved.saved:
        return []
    found = forecast(choice, needs, rules, piles=piles, seed=seed)
    boards = sampled_pile(choice, np.random.default_rng([seed, 2, 3]))
    given = placed_at_first(needs, boards, rules)
    return [(p.all_of_it.chance, given[p.need.part] >= p.need.quantity) for p in found.parts]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hulls", type=int, default=200)
    parser.add_argument("--piles", type=int, default=30)
    given = parser.parse_args()
    begun = time.perf_counter()
    with ProcessPoolExecutor(os.cpu_count()) as workers:
        work = partial(stated_and_true, piles=given.piles)
        pairs = [pair for found in workers.map(work, range(given.hulls)) for pair in found]
    stated, true = np.array(pairs, dtype=float).T
    fifth = np.minimum((stated * FIFTHS).astype(int), FIFTHS - 1)
    for k in range(FIFTHS):
        mine = fifth == k
        if mine.any():
            said, came = stated[mine].mean(), true[mine].mean()
            error = np.sqrt(came * (1 - came) / mine.sum())
            print(
                f"stated {100 * said:5.1f} %  true {100 * came:5.1f} % (+- {100 * error:.1f})  "
                f"parts {mine.sum()}"
            )
    print(f"all: stated {100 * stated.mean():.1f} %, true {100 * true.mean():.1f} %, "
          f"{len(pairs)} parts, {time.perf_counter() - begun:.0f} s")  # fmt: skip


if __name__ == "__main__":
    main()
