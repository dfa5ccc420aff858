"""Whether stated chances come true: many hulls, each forecast, then taken apart many times.

    python tests/bench/bench_forecast.py [--hulls 200] [--piles 50] [--from-hull 0]
                                         [--teardowns 10] [--rounds 0] [--recorded 0]

Every hull has figures of its own, drawn by lot; its forecast sees them, and not what lot a teardown
draws. Chances are gathered in fifths; beside each stands how often it came true, and how far that
is known: parts of one hull come true together or fail together, so hulls are drawn anew, with all
that is of them (B. Efron, Bootstrap methods, Annals of Statistics 7, 1979; from memory). One
teardown of each of 400 hulls leaves a fifth uncertain by 4.3 points, whatever the forecast.

Teardowns are drawn as the forecast draws its piles (then only sampling can err), and as many by
other rules that nobody told it: beams at common places, rot of any length anywhere, planks unlike
each other, doubts flat in place of normal. With ``--rounds`` the real pile is packed by a search.
What this cannot show is how like a real boat those hulls are.

With ``--recorded 0.5`` half of the planks of each teardown are off and recorded before its forecast
is made, once with what they teach and once without; of each teardown the rest is what comes true.
Brier's score is the mean square of chance less what came: less is better.
"""

import argparse
import json
import os
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

import numpy as np

from nesting.engine.pack import pack, placed_at_first
from nesting.engine.stop import MaxRounds
from nesting.judging.choice import Choice
from nesting.judging.forecast import forecast
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.piles import learnt_of, pieces_off, sampled_pile
from nesting.judging.programme import solved
from nesting.judging.question import Question
from nesting.judging.recorded import SOUND_DOUBT, STATE_DOUBT
from nesting.judging.wanted import wanted_of
from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region
from parts.shaped import part_from_outline

FIFTHS, AGAIN = 5, 1000
FLAT = 12**0.5
"""A flat spread so wide has a standard deviation of one."""
HULLS, TEARDOWNS = 91, 92
"""Keep the draws of hulls and teardowns apart from each other and from the forecast's."""


def strip(length):
    return part_from_outline([(0, 0), (length, 0), (length, 50), (0, 50)], 22)


def hull(seed):
    """Return a deck on beams and a parts list, drawn by lot: what it gives is in doubt."""
    chance = np.random.default_rng([HULLS, seed])
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


def other_pile(choice, chance, stretches=None):
    """Return the decking of one teardown, by rules of its own."""
    stretches = stretches or rotten_stretches
    question = choice.question
    (joint,), (way,) = question.boat.joints, choice.solved.ways.values()
    draws, sound = chance.uniform(-0.5, 0.5, 2) * FLAT * (STATE_DOUBT, SOUND_DOUBT)
    boat = replace(question.boat, joints=(replace(joint, state=joint.state.drawing(float(draws))),))
    metal = replace(question, boat=boat).left(0, way, "decking").metal
    member = boat.by_name["decking"]
    rotten = 1.0 - float(np.clip(member.sound + sound, 0.05, 1.0)) if member.sound < 1 else 0.0
    boards = []
    for number in range(member.count):
        keep_outs = [*stretches(member, rotten, chance)]
        at = chance.uniform(0.0, joint.spacing_mm)  # where the plank begins, between two beams
        while at < member.length_mm:
            x = float(np.clip(at + chance.normal(0.0, 6.0), 1.0, member.length_mm - 1.0))
            y = member.width_mm / 2 + chance.normal(0.0, 5.0)
            is_stuck = chance.random() < metal
            keep_outs.append(
                circle(KeepOutKind.METAL, x, y, joint.diameter_mm) if is_stuck
                else circle(KeepOutKind.RECESS, x, y, joint.bung_mm)
            )  # fmt: skip
            at += joint.spacing_mm
        boards.append(
            Board.rectangle(f"D{number}", member.length_mm, member.width_mm, member.thickness_mm,
                            member.species, keep_outs=keep_outs, member="decking")
        )  # fmt: skip
    return boards


def rotten_stretches(member, share, chance):
    """Yield stretches of rot of any length anywhere, some planks with more of it than others.

    They do not overlap, so that as much is rotten on an average as the forecast was told.
    """
    rest, lengths = share * chance.uniform(0.4, 1.6) * member.length_mm, []
    sound = member.length_mm - rest
    while rest > 0.0:
        lengths.append(min(rest, chance.gamma(3.0, 150.0)))
        rest -= lengths[-1]
    lows = np.sort(chance.uniform(0.0, sound, len(lengths)))
    for low, before, length in zip(lows, np.cumsum([0.0, *lengths]), lengths, strict=False):
        begin, end = low + before, min(member.length_mm, low + before + length)
        corners = [(begin, 0), (end, 0), (end, member.width_mm), (begin, member.width_mm)]
        yield region(KeepOutKind.ROT, corners)


def rotten_planks(member, share, chance):
    """Yield the rot of one plank where planks are very unlike: most have none or little of it."""
    lost = member.length_mm * float(chance.beta(0.4 * share, 0.4 * (1 - share))) if share else 0.0
    begin = chance.uniform(0.0, member.length_mm - lost)
    corners = [(begin, 0), (begin + lost, 0)]
    corners += [(x, member.width_mm) for x, _ in reversed(corners)]
    if lost > 1.0:
        yield region(KeepOutKind.ROT, corners)


def placed(needs, boards, rules, rounds):
    """Return how many of each part a pile gives, by a first plan or by a search."""
    if not rounds:
        return placed_at_first(needs, boards, rules)
    left = pack(needs, boards, rules, stop=MaxRounds(rounds)).unplaced
    return {need.part: need.quantity - sum(one.count for one in left if one.need.part == need.part)
            for need in needs}  # fmt: skip


def judged(seed):
    """Return the best choice for a hull drawn by lot, the parts wanted, and the rules."""
    boat, needs = hull(seed)
    rules = Rules()
    question = Question(boat, wanted_of(needs, rules, boat.rates), rules)
    return Choice(question, solved(question, hour=boat.rates.hour), (), ()), needs, rules


def stated_and_true(seed, given):
    """Return for each part of a hull the chance stated, and how often it came true, by kind."""
    choice, needs, rules = judged(seed)
    if "decking" not in choice.solved.saved:
        return {}
    found = forecast(choice, needs, rules, piles=given.piles, seed=seed)
    return {
        like: [
            (part.all_of_it.chance, came)
            for part, came in zip(
                found.parts, shares(seed, needs, rules, given, partial(draw, choice)), strict=True
            )
        ]
        for like, draw in LIKE.items()
    }


def shares(seed, needs, rules, given, draw):
    """Return for each part the share of teardowns that gave all of it."""
    true = [
        placed(needs, draw(np.random.default_rng([TEARDOWNS, seed, number])), rules, given.rounds)
        for number in range(given.teardowns)
    ]
    return [float(np.mean([one[need.part] >= need.quantity for one in true])) for need in needs]


def by_recorded(seed, given):
    """Return for each kind of teardown, with and without what recorded planks teach, the chances
    stated and what came of them.
    """
    choice, needs, rules = judged(seed)
    if "decking" not in choice.solved.saved:
        return {}
    told = {}
    for like, draw in LIKE.items():
        for number in range(given.teardowns):
            chance = np.random.default_rng([TEARDOWNS, seed, number])
            boards = tuple(draw(choice, chance))
            off = boards[: max(1, round(given.recorded * len(boards)))]
            real = placed(needs, boards, rules, given.rounds)
            for way, learnt in (("leaning", learnt_of(choice, off)), ("as supposed", {})):
                chances = stated_after(choice, needs, rules, off, learnt, (seed, given.piles))
                told.setdefault(f"{like}, {way}", []).extend(
                    (chances[need.part], float(real[need.part] >= need.quantity)) for need in needs
                )
    return told


def stated_after(choice, needs, rules, off, learnt, seed_piles):
    """Return for each part the share of piles that give it, with some boards recorded."""
    seed, piles = seed_piles
    gave = Counter()
    for number in range(piles):
        chance = np.random.default_rng((seed, number))
        drawn = sampled_pile(choice, chance, pieces_off(off), learnt=learnt)
        count = placed_at_first(needs, (*off, *drawn), rules)
        gave.update(need.part for need in needs if count[need.part] >= need.quantity)
    return {need.part: gave[need.part] / piles for need in needs}


def brier(pairs):
    """Return the mean square of chances less what came."""
    return float(np.mean([(said - came) ** 2 for said, came in pairs]))


LIKE = {
    "as the forecast draws them": sampled_pile,
    "by other rules": other_pile,
    "by others yet, rot in few planks": partial(other_pile, stretches=rotten_planks),
}


def fifths(hulls):
    """Return for each hull and fifth: how many parts, the sum of their chances, of what came."""
    sums = np.zeros((len(hulls), FIFTHS, 3))
    for number, pairs in enumerate(hulls):
        for said, came in pairs:
            sums[number, min(int(said * FIFTHS), FIFTHS - 1)] += (1.0, said, came)
    return sums


def report(hulls):
    """Print stated chances beside what came, by fifths."""
    sums, chance = fifths(hulls), np.random.default_rng(0)
    drawn = [sums[chance.integers(0, len(hulls), len(hulls))].sum(0) for _ in range(AGAIN)]
    off = [(one[:, 2] - one[:, 1]) / np.maximum(one[:, 0], 1) for one in drawn]
    for (count, said, came), error in zip(sums.sum(0), np.std(off, axis=0), strict=True):
        if count:
            print(
                f"stated {100 * said / count:5.1f} %  true {100 * came / count:5.1f} %  "
                f"off {100 * (came - said) / count:+5.1f} (+- {100 * error:.1f})  parts {count:.0f}"
            )
    count, said, came = sums.sum((0, 1))
    print(f"all: stated {100 * said / count:.1f} %, true {100 * came / count:.1f} %, "
          f"{count:.0f} parts of {len(hulls)} hulls")  # fmt: skip


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hulls", type=int, default=200)
    parser.add_argument("--from-hull", type=int, default=0)
    parser.add_argument("--piles", type=int, default=50)
    parser.add_argument("--teardowns", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=0)
    parser.add_argument("--recorded", type=float, default=0.0)
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    given = parser.parse_args()
    begun, hulls = time.perf_counter(), []
    with ProcessPoolExecutor(given.workers) as workers:
        seeds = range(given.from_hull, given.from_hull + given.hulls)
        asked = by_recorded if given.recorded else stated_and_true
        for told in workers.map(partial(asked, given=given), seeds):
            hulls.append(told)
            print(json.dumps(told), file=sys.stderr, flush=True)
    found = [told for told in hulls if told]
    for like in found[0] if found else ():
        print(f"teardowns drawn {like}")
        report([told[like] for told in found])
        print(f"Brier's score {brier([pair for told in found for pair in told[like]]):.4f}")
    print(f"{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
