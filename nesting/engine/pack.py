"""Boards and needs in, placements out: the door of the engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import replace

from nesting.engine.progress import Progress, ideal_of, progress_of, tally_of
from nesting.engine.proof.beside import proof_beside
from nesting.engine.proof.bounds import Bounds
from nesting.engine.search.ahead import Ahead
from nesting.engine.search.crew import crew_of
from nesting.engine.search.gather import gathered_plan
from nesting.engine.search.lanes import Searcher
from nesting.engine.search.meetings import LANES, improving, may_load
from nesting.engine.search.reasons import unplaced
from nesting.engine.search.steering import Steering, steering_of
from nesting.engine.search.tidy import tidied_plan
from nesting.engine.state.plain_numbers import plan_of
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import NO_HURRY, Finish, Spell, Stop
from nesting.need import Need
from nesting.nest import At, CuttingPlan, Nest
from nesting.rules import Breaking, Rules
from nesting.stock.board import Board
from nesting.wishes import NO_WISHES, Wishes

BOUND_SHARE = 0.1
"""Share of the time of a run that bounds may take, all together."""


def pack(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    *,
    stop: Stop,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    ahead: Ahead | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    finish: Finish = NO_HURRY,
    wishes: Wishes = NO_WISHES,
    last: Sequence[At] = (),
    moving_mm2: float | None = None,
) -> CuttingPlan:
    """Return a cutting plan: the most value placed, then the least wood opened.

    The same seed and a limit in rounds give the same plan, whatever the number of workers.
    Ctrl-C ends the search with the best plan so far, if there is one; so does a plan that none
    can beat. A process that is lost changes nothing: what it had to do is searched again here.

    Parameters
    ----------
    workers
        Processes that search; with one, this process does. On an executor, how many lanes
        search under a time limit.
    executor
        Where to search instead of in processes of our own: any whose workers can import this
        package, such as ``distributed.Client(address).get_executor()``. It is left open.
    ahead
        What compiles kernels beside this process: on a machine's first run lanes wait for it
        before they crowd parts in, instead of each compiling that for itself.
    finish
        Until when what follows the search may go on: parts gathered at one end of their board,
        bounds, and reasons for what is left over. What there is no time for is left out.
    wishes
        What is wished beyond the rules.
    last
        Where pieces lay in the last plan, for those that are to stay.
    moving_mm2
        What moving any other of them has to save, as wood; None: they are laid anew.
    """
    steering = None
    if not wishes.are_none or last:
        steering = steering_of(needs, boards, rules, wishes, last, moving_mm2, finish)
        needs = steering.course.needs_now
    here = steering.searcher if steering else Searcher(needs, boards, rules)
    spell = None if finish is NO_HURRY else Spell(BOUND_SHARE * finish.seconds)
    bounds = Bounds(needs, boards, rules, spell, no_board_gives=here.problem.parts_beyond)
    best, rounds = None, 0
    workers = workers if executor is not None or may_load(stop, finish) else 1
    try:
        with (
            crew_of(here, workers if stop.share_used(0) < 1.0 else 1, executor) as crew,
            proof_beside(bounds) as proof,
        ):
            lanes = LANES if stop.seconds_left() is None else max(1, workers)
            begin = steering.begin if steering else None
            for best, rounds in improving(crew, here, stop, seed, lanes, ahead, finish, begin):
                proof.tell()
                told = tally_of(plan_of(best, here.problem), here.problem, steering)
                progress = progress_of(told, bounds, rounds, stop, finish)
                if on_progress is not None:
                    on_progress(progress)
                if progress.ideal.is_proven_best and steering is None:
                    break
                if workers > 1 and steering is None:
                    proof.begin(progress.ideal, progress.share_used, progress.seconds_left)
    except KeyboardInterrupt:
        if best is None:
            raise
    assert best is not None, "the first plan is made before anything else"
    plan = plan_of(best, here.problem)
    if steering is not None:
        return _steered_plan(plan, here.problem, steering, bounds, finish)
    with suppress(KeyboardInterrupt):
        half = finish.half_way()
        plan = gathered_plan(plan, here.problem, half.is_late, half.seconds_left)
    eased = None
    if rules.break_down is Breaking.PREFERRED:
        with suppress(KeyboardInterrupt):
            plan, eased = tidied_plan(plan, here.problem, finish.half_way().is_late)
    return replace(_cutting_plan(plan, here.problem, bounds, finish), eased=eased)


def placed_at_first(needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> Counter[str]:
    """Return how many of each part a first plan places, and nothing else of it."""
    here = Searcher(needs, boards, rules)
    plan = plan_of(here.construct(is_quick=False).best, here.problem)
    left = zip(here.problem.needs, plan.missing, strict=True)
    return Counter({need.part: need.quantity - missing for need, missing in left})


def _steered_plan(
    plan: PlanState, problem: Problem, steering: Steering, bounds: Bounds, finish: Finish
) -> CuttingPlan:
    """Return the cutting plan of a search with wishes.

    No board is touched that pieces of the last plan lie on, or on which pieces stay.
    """
    steered, eased = problem.steered, None
    if steered is not None and not steered.has_homes:
        with suppress(KeyboardInterrupt):
            plan = gathered_plan(plan, problem, finish.is_late, finish.seconds_left)
        if problem.rules.break_down is Breaking.PREFERRED and not steered.locked:
            with suppress(KeyboardInterrupt):
                plan, eased = tidied_plan(plan, problem, finish.is_late)
    ideal = ideal_of(tally_of(plan, problem, steering), bounds, finish)
    left = unplaced(plan, problem, is_over=finish.is_late, seconds_left=finish.seconds_left)
    told = steering.told(left, plan, problem, finish.is_late)
    return CuttingPlan(steering.course.nests(plan), told, ideal, eased, steering.course.fixed)


def _cutting_plan(plan: PlanState, problem: Problem, bounds: Bounds, finish: Finish) -> CuttingPlan:
    numbers: Counter[int] = Counter()
    nests = []
    for state in plan.states:
        placements = []
        for laid in state.laid:
            numbers[laid.need] += 1
            placement = laid.figure.at(laid.x_mm, laid.y_mm)
            placements.append(replace(placement, copy=numbers[laid.need]))
        if placements:
            nests.append(Nest(problem.boards[state.board], tuple(placements)))
    ideal = ideal_of(tally_of(plan, problem, None), bounds, finish)
    left = unplaced(
        plan, problem, is_value_met=ideal.is_value_met,
        is_over=finish.is_late, seconds_left=finish.seconds_left,
    )  # fmt: skip
    return CuttingPlan(tuple(nests), left, ideal)
