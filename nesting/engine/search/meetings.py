"""The lanes of a search and their meetings: the best plan so far, after every stretch.

Under a limit in rounds nothing here depends on the machine; under a limit in time everything may.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from nesting.engine.jostle.jostling import is_compiled
from nesting.engine.search.ahead import LONG_RUN, Ahead
from nesting.engine.search.crew import PATIENCE_SECONDS, Crew
from nesting.engine.search.lanes import Reached, Searcher, Stretch, reached
from nesting.engine.search.pool import Fillings, Prices
from nesting.engine.state.plain_numbers import Written, plan_of
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import NO_HURRY, Finish, Stop, over_in

LANES = 2
"""Searches that go on side by side under a limit in rounds, so that the plan does not depend on
the machine. Under a time limit there are as many as processes."""

STRETCH = 20
"""Rounds between two meetings of the lanes."""

MOST_ROUNDS = 1000
"""Rounds between two meetings at most where time is the limit."""

STRETCH_SECONDS = 3.0
"""Under a time limit the lanes meet at least so often, and Ctrl-C is answered."""

EARNEST_SHARE, EARNEST_SECONDS = 0.2, 1.0
"""A plan made in earnest, where no search mends the quick one, may go on beyond the search's time
for so much of a run, or for so long if that is more."""

LOADING_SECONDS = 2.0
"""Other processes are only started if so much is left: for half of it or more they load what they
need, and the problem."""

PATIENT = 0.5
"""Share of the time kept for what follows a search that other processes are waited for."""

BEHIND = 0.02
"""A lane whose best is dearer than the best of all by this share goes on from that one."""


def improving(
    crew: Crew,
    here: Searcher,
    stop: Stop,
    seed: int,
    count_of_lanes: int,
    ahead: Ahead | None,
    finish: Finish,
    begin: PlanState | None = None,
) -> Iterator[tuple[Written, int]]:
    """Yield the best plan and the rounds of each lane so far, after every meeting."""
    best = _first_plan(here, stop, finish, begin)
    yield best.best, 0
    if _is_short(stop, finish) and any(plan_of(best.best, here.problem).missing):
        best = min(best, _in_earnest(here, stop, finish, begin), key=lambda lane: lane.best_outlay)
        yield best.best, 0
    if ahead is not None and stop.share_used(0) < 1.0:
        ahead.start_crowding(stop.seconds_left())
    pool, problem = Fillings(here.problem), here.problem
    lanes, rounds = [best] * count_of_lanes, 0
    while stop.share_used(rounds) < 1.0:
        may_crowd = _may_crowd(stop, ahead)
        stretches = _stretches(lanes, rounds, stop, seed, may_crowd, pool.prices)
        lanes, together = crew.search(
            stretches,
            partial(_recombined, pool, best, problem, stop),
            partial(_is_ended, stop),
            patience(stop, finish),
        )
        rounds += max(lane.rounds for lane in lanes)
        for lane in lanes:
            pool.add(lane.met)
        best = min([best, *together, *lanes], key=lambda lane: lane.best_outlay)
        lanes = [best if _is_behind(lane, best, problem) else lane for lane in lanes]
        yield best.best, rounds


def _is_ended(stop: Stop) -> bool:
    """Return whether somebody asked for the end, or time is up; rounds do not count."""
    return stop.share_used(0) >= 1.0


def may_load(stop: Stop, finish: Finish) -> bool:
    """Return whether a search is left so long that other processes can still take part."""
    left = stop.seconds_left()
    return left is None or finish is NO_HURRY or left > LOADING_SECONDS


def patience(stop: Stop, finish: Finish) -> float:
    """Return how long other processes are waited for when the search is over."""
    left = stop.seconds_left()
    if left is None or finish is NO_HURRY:
        return PATIENCE_SECONDS
    return min(PATIENCE_SECONDS, PATIENT * max(0.0, finish.seconds_left() - left))


def _first_plan(
    here: Searcher, stop: Stop, finish: Finish, begin: PlanState | None = None
) -> Reached:
    """Return a quick plan where a search follows, or where there is hardly time for one.

    It is never cut short: a plan with nothing on it is worth nothing, however soon it comes.
    """
    is_quick = finish is not NO_HURRY or stop.share_used(0) < 1.0
    return here.construct(is_quick=is_quick, begin=begin)


def _is_short(stop: Stop, finish: Finish) -> bool:
    """Return whether so little time is left that no search can be trusted to mend a quick plan."""
    if finish is NO_HURRY:
        return False
    left = stop.seconds_left()
    return left is not None and left < max(LOADING_SECONDS, finish.seconds - left)


def _in_earnest(
    here: Searcher, stop: Stop, finish: Finish, begin: PlanState | None = None
) -> Reached:
    """Return the plan that a run without a search makes, or as much of it as there is time for."""
    beyond = max(EARNEST_SHARE * finish.seconds, EARNEST_SECONDS)
    seconds = max(stop.seconds_left() or 0.0, beyond)
    return here.construct(is_quick=False, is_over=over_in(seconds), begin=begin)


def _recombined(pool: Fillings, best: Reached, problem: Problem, stop: Stop) -> list[Reached]:
    """Return the plan of fillings in the pool that beats the best, if there is one."""
    if not pool.is_worth_a_look:
        return []
    left = stop.seconds_left()
    seconds = None if left is None else min(left, STRETCH_SECONDS)
    plan = pool.recombined(plan_of(best.best, problem), seconds)
    return [] if plan is None else [reached(plan, problem)]


def _stretches(
    lanes: Sequence[Reached],
    rounds: int,
    stop: Stop,
    seed: int,
    may_crowd: bool,
    prices: Prices | None,
) -> list[Stretch]:
    """Return what each lane does next: some rounds, or as many as there is time for."""
    used, left = stop.share_used(rounds), stop.seconds_left()
    most = STRETCH if left is None else MOST_ROUNDS
    count = next((n for n in range(1, most) if stop.share_used(rounds + n) >= 1.0), most)
    later = max(used, stop.share_used(rounds + count)) if left is None else used
    seconds = None if left is None else min(left, STRETCH_SECONDS)
    return [
        Stretch(
            number, lane.current, lane.best, count, rounds, (used, later), may_crowd, seed,
            seconds, left, prices,
        )
        for number, lane in enumerate(lanes)
    ]  # fmt: skip


def _is_behind(lane: Reached, best: Reached, problem: Problem) -> bool:
    """Return whether a lane's best is dearer by more than a share of the wood of the best."""
    opened = sum(
        board.area_mm2 for board, parts in zip(problem.boards, best.best, strict=True) if parts
    )
    return lane.best_outlay > best.best_outlay + BEHIND * opened


def _may_crowd(stop: Stop, ahead: Ahead | None) -> bool:
    """Return whether there is time for what a first use of crowding may have to compile.

    While that is being compiled elsewhere the lanes do without, unless rounds alone count.
    """
    left = stop.seconds_left()
    if left is not None and ahead is not None and ahead.is_busy:
        return False
    return left is None or left > LONG_RUN or is_compiled()
