"""Boards and needs in, placements out: the door of the engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace

from nesting.engine.bounds import Bounds
from nesting.engine.construct import Order
from nesting.engine.gather import gathered_plan
from nesting.engine.lanes import (
    Crew,
    Reached,
    Searcher,
    Stretch,
    Written,
    crew_of,
    plan_of,
    written,
)
from nesting.engine.plan_state import PlanState, empty_plan
from nesting.engine.problem import Problem
from nesting.engine.reasons import unplaced
from nesting.engine.separation import is_compiled
from nesting.engine.stop import Stop
from nesting.ideal import Ideal
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest
from nesting.rules import Rules
from nesting.stock.board import Board

LANES = 2
"""Searches that go on side by side under a limit in rounds, so that the plan does not depend on
the machine. Under a time limit there are as many as processes."""

STRETCH = 20
"""Rounds between two meetings of the lanes."""

STRETCH_SECONDS = 3.0
"""Under a time limit the lanes meet at least so often, and Ctrl-C is answered."""

BEHIND = 0.02
"""A lane whose best is dearer than the best of all by this share goes on from that one."""

CROWDING_SECONDS = 60.0
"""With less time left parts are not crowded in unless the kernels for it are compiled: a machine's
first run takes most of that to compile them."""


@dataclass(frozen=True)
class Progress:
    """Where the search stands, and how far from ideal that may be."""

    rounds: int
    placed: int
    wanted: int
    parts_mm2: float
    ideal: Ideal
    share_used: float
    seconds_left: float | None

    @property
    def opened_mm2(self) -> float:
        """Wood opened."""
        return self.ideal.opened_mm2

    @property
    def yield_percent(self) -> float:
        """Share of the opened wood that became parts."""
        return 100.0 * self.parts_mm2 / self.opened_mm2 if self.opened_mm2 else 0.0


def pack(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    *,
    stop: Stop,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    on_progress: Callable[[Progress], None] | None = None,
) -> CuttingPlan:
    """Return a cutting plan: the most value placed, then the least wood opened.

    The same seed and a limit in rounds give the same plan, whatever the number of workers.
    Ctrl-C ends the search with the best plan so far; so does a plan that none can beat.

    Parameters
    ----------
    workers
        Processes that search; with one, this process does. On an executor, how many lanes
        search under a time limit.
    executor
        Where to search instead of in processes of our own: any whose workers can import this
        package, such as ``distributed.Client(address).get_executor()``. It is left open.
    """
    here = Searcher(needs, boards, rules)
    bounds = Bounds(needs, boards, rules)
    best, rounds = written(empty_plan(here.problem)), 0
    try:
        with crew_of(here, workers if stop.share_used(0) < 1.0 else 1, executor) as crew:
            lanes = LANES if stop.seconds_left() is None else max(1, workers)
            for best, rounds in _improving(crew, stop, seed, lanes):
                progress = _progress(
                    plan_of(best, here.problem), here.problem, bounds, rounds, stop
                )
                if on_progress is not None:
                    on_progress(progress)
                if progress.ideal.is_proven_best:
                    break
    except KeyboardInterrupt:
        pass
    plan = plan_of(best, here.problem)
    with suppress(KeyboardInterrupt):
        plan = gathered_plan(plan, here.problem)
    return _cutting_plan(plan, here.problem, bounds)


def _improving(
    crew: Crew, stop: Stop, seed: int, count_of_lanes: int
) -> Iterator[tuple[Written, int]]:
    """Yield the best plan and the rounds of each lane so far, after every meeting."""
    best: Reached | None = None
    for plan in crew.construct(list(Order), stop):
        best = plan if best is None or plan.best_cost < best.best_cost else best
        yield best.best, 0
        if stop.share_used(0) >= 1.0:
            return
    assert best is not None
    lanes, rounds, pace = [best] * count_of_lanes, 0, None
    while (used := stop.share_used(rounds)) < 1.0:
        count, left = _rounds_ahead(stop, rounds, pace), stop.seconds_left()
        later = max(used, stop.share_used(rounds + count))
        may_crowd, span = _may_crowd(stop), (used, later)
        stretches = [
            Stretch(lane, at.current, at.best, count, rounds, span, may_crowd, seed, left)
            for lane, at in enumerate(lanes)
        ]
        lanes, rounds = crew.search(stretches), rounds + count
        best = min([best, *lanes], key=lambda reached: reached.best_cost)
        lanes = [best if _is_behind(lane, best) else lane for lane in lanes]
        pace = None if left is None else (left - (stop.seconds_left() or 0.0)) / count
        yield best.best, rounds


def _rounds_ahead(stop: Stop, rounds: int, pace: float | None) -> int:
    """Return the rounds of the next stretch: at most STRETCH, and what the limits leave room for.

    ``pace`` is the seconds that a round took of late, None where that is not known.
    """
    left = stop.seconds_left()
    most = STRETCH if left is None else 1
    if left is not None and pace is not None:
        most = max(1, min(STRETCH, int(min(left, STRETCH_SECONDS) / max(pace, 1e-6))))
    return next((n for n in range(1, most) if stop.share_used(rounds + n) >= 1.0), most)


def _is_behind(lane: Reached, best: Reached) -> bool:
    return lane.best_cost > best.best_cost * (1 + BEHIND)


def _may_crowd(stop: Stop) -> bool:
    """Return whether there is time for what a first use of crowding may have to compile."""
    left = stop.seconds_left()
    return left is None or left > CROWDING_SECONDS or is_compiled()


def _progress(
    plan: PlanState, problem: Problem, bounds: Bounds, rounds: int, stop: Stop
) -> Progress:
    wanted = sum(need.quantity for need in problem.needs)
    return Progress(
        rounds,
        wanted - sum(plan.missing),
        wanted,
        sum(state.used_mm2 for state in plan.states),
        _ideal(plan, problem, bounds),
        min(1.0, stop.share_used(rounds)),
        stop.seconds_left(),
    )


def _ideal(
    plan: PlanState, problem: Problem, bounds: Bounds, *, is_last: bool = False
) -> Ideal:
    copies = zip(problem.needs, plan.missing, strict=True)
    value = sum((need.quantity - missing) * need.worth for need, missing in copies)
    opened = sum(problem.boards[board].area_mm2 for board in plan.opened)
    return bounds.ideal(value, opened, is_thorough=is_last)


def _cutting_plan(plan: PlanState, problem: Problem, bounds: Bounds) -> CuttingPlan:
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
    ideal = _ideal(plan, problem, bounds, is_last=True)
    return CuttingPlan(tuple(nests), unplaced(plan, problem), ideal)
