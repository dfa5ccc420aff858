"""Nest the full demo, drive a nail into one board after another, and nest again each time.

``python tests/bench/bench_again.py [--seconds S | --rounds N] [--nails N] [--again S]`` says, for
each nail, how many placements of the other boards are unchanged, the wood opened beside that of
a fresh plan of the same pile, made in the seconds that nesting again took and in those of the plan
before, and the processor time that nesting again took. With ``--processor`` all seconds are those
of the processor, so that others may be at work beside it.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from dataclasses import replace
from pathlib import Path

if "--processor" in sys.argv:  # Before anything takes the other clock for its own.
    time.monotonic = time.process_time

from nesting.engine.pack import pack
from nesting.foretold import limits
from nesting.need import Need
from nesting.nest import At, CuttingPlan, lie_of
from nesting.project import Project, read_project
from nesting.referee.check import check_plan
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.wishes import USUAL_MOVING_MM2

DEMO = Path(__file__).parents[2] / "demo_projects/tender_to_sloop/project.yaml"


def with_nail(plan: CuttingPlan, number: int, stock: tuple[Board, ...]) -> tuple[Board, ...]:
    """Return the stock with a nail in the middle of the first piece of an opened board."""
    nest = plan.nests[number]
    at = nest.placements[0].polygon.representative_point()
    nailed = replace(
        nest.board, keep_outs=(*nest.board.keep_outs, circle("metal", at.x, at.y, 4.0))
    )
    return tuple(nailed if board.name == nailed.name else board for board in stock)


def packed(
    project: Project,
    stock: tuple[Board, ...],
    seconds: float | None,
    rounds: int | None,
    last: tuple[At, ...] = (),
) -> CuttingPlan:
    """Return a plan of one process."""
    needs: tuple[Need, ...] = project.needs
    stop, finish = limits(
        seconds, rounds, usual_seconds=30, begun=time.monotonic(), needs=needs, boards=stock
    )
    moving = USUAL_MOVING_MM2 if last else None
    return pack(needs, stock, project.rules, stop=stop, finish=finish, last=last, moving_mm2=moving)


def unchanged(plan: CuttingPlan, other: CuttingPlan, board: str) -> tuple[int, int]:
    """Return how many placements of a plan on other boards are in another plan, of how many."""
    lie = {(nest.board.name, p.label, lie_of(p)) for nest in other.nests for p in nest.placements}
    own = [
        (nest.board.name, p.label, lie_of(p))
        for nest in plan.nests
        for p in nest.placements
        if nest.board.name != board
    ]
    return sum(one in lie for one in own), len(own)


def beside(again: CuttingPlan, fresh: CuttingPlan) -> str:
    """Return what a fresh plan is worth, and how much more wood nesting again opened than it."""
    more = 100 * (again.opened_mm2 / fresh.opened_mm2 - 1)
    opened = f"{fresh.opened_mm2 * 1e-6:.3f} m2 (again {more:+.1f} %)"
    return f"value {fresh.placed_value:.1f}, {opened}"


def main() -> None:
    """Run, and print a line a nail."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--rounds", type=int)
    parser.add_argument("--nails", type=int, default=6)
    parser.add_argument("--again", type=float, default=5.0)
    parser.add_argument("--again-rounds", type=int)
    parser.add_argument("--fresh", type=int, default=1000, help="nails with a fresh plan beside")
    parser.add_argument("--processor", action="store_true", help="count processor time alone")
    given = parser.parse_args()
    project = read_project(DEMO)
    plan = packed(project, project.stock, given.seconds, given.rounds)
    last = tuple(At(nest.board.name, p) for nest in plan.nests for p in nest.placements)
    print(f"plan: {len(last)} pieces, {plan.opened_mm2 * 1e-6:.3f} m2 opened", flush=True)
    step = max(1, len(plan.nests) // given.nails)
    for count, number in enumerate(range(0, len(plan.nests), step)):
        name, stock = plan.nests[number].board.name, with_nail(plan, number, project.stock)
        begun, clock = resource.getrusage(resource.RUSAGE_SELF).ru_utime, time.monotonic()
        seconds = None if given.again_rounds is not None else given.again
        again = packed(project, stock, seconds, given.again_rounds, last)
        took = resource.getrusage(resource.RUSAGE_SELF).ru_utime - begun
        wall = time.monotonic() - clock
        assert not check_plan(again, project.needs, project.rules)
        same, of = unchanged(plan, again, name)
        line = (
            f"nail in {name}: {same} of {of} on other boards unchanged; value "
            f"{again.placed_value:.1f}, {again.opened_mm2 * 1e-6:.3f} m2; {took:.1f} s of "
            f"processor, {wall:.1f} s by the clock"
        )
        if count < given.fresh:
            short = packed(project, stock, seconds, given.again_rounds)
            long = packed(project, stock, given.seconds, given.rounds)
            line += f"; fresh, as short: {beside(again, short)}; as the plan: {beside(again, long)}"
        print(line, flush=True)


if __name__ == "__main__":
    main()
