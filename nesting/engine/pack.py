"""Boards and needs in, placements out: the door of the engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial

from nesting.engine.jostle.jostling import is_compiled
from nesting.engine.proof.beside import proof_beside
from nesting.engine.proof.bounds import Bounds
from nesting.engine.search.ahead import LONG_RUN, Ahead
from nesting.engine.search.crew import PATIENCE_SECONDS, Crew, crew_of
from nesting.engine.search.gather import gathered_plan
from nesting.engine.search.lanes import Reached, Searcher, Stretch, reached
from nesting.engine.search.pool import Fillings, Prices
from nesting.engine.search.reasons import unplaced
from nesting.engine.search.steering import Steering, steering_of
from nesting.engine.search.tidy import tidied_plan
from nesting.engine.state.plain_numbers import Written, plan_of
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import NO_HURRY, Finish, Spell, Stop, over_in
from nesting.ideal import Ideal
from nesting.need import Need
from nesting.nest import At, CuttingPlan, Nest
from nesting.rules import Breaking, Rules
from nesting.stock.board import Board
from nesting.wishes import NO_WISHES, Wishes

LANES = 2
"""Searches that go on side by side under a limit in rounds, so that the plan does not depend on
the machine. Under a time limit there are as many as processes."""

STRETCH = 20
"""Rounds between two meetings of the lanes."""

MOST_ROUNDS = 1000
"""Rounds between two meetings at most where time is the limit."""

STRETCH_SECONDS = 3.0
"""Under a time limit the lanes meet at least so often, and Ctrl-C is answered."""

BOUND_SHARE = 0.1
"""Share of the time of a run that bounds may take, all together."""

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
    workers = workers if executor is not None or _may_load(stop, finish) else 1
    try:
        with (
            crew_of(here, workers if stop.share_used(0) < 1.0 else 1, executor) as crew,
            proof_beside(bounds) as proof,
        ):
            lanes = LANES if stop.seconds_left() is None else max(1, workers)
            begin = steering.begin if steering else None
            for best, rounds in _improving(crew, here, stop, seed, lanes, ahead, finish, begin):
                proof.tell()
                told = _told(plan_of(best, here.problem), here.problem, steering)
                progress = _progress(told, bounds, rounds, stop, finish)
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


def _improving(
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
            _patience(stop, finish),
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


def _may_load(stop: Stop, finish: Finish) -> bool:
    """Return whether a search is left so long that other processes can still take part."""
    left = stop.seconds_left()
    return left is None or finish is NO_HURRY or left > LOADING_SECONDS


def _patience(stop: Stop, finish: Finish) -> float:
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


@dataclass(frozen=True)
class _Told:
    """What a plan comes to, pieces that stay included."""

    placed: int
    wanted: int
    parts_mm2: float
    value: float
    opened_mm2: float


def _told(plan: PlanState, problem: Problem, steering: Steering | None) -> _Told:
    if steering is not None:
        nests = steering.course.nests(plan)
        lying = [placement for nest in nests for placement in nest.placements]
        return _Told(
            len(lying),
            sum(need.quantity for need in steering.course.needs_now),
            sum(placement.need.outline.area_mm2 for placement in lying),
            sum(placement.need.worth for placement in lying),
            sum(nest.board.area_mm2 for nest in nests),
        )
    wanted = sum(need.quantity for need in problem.needs)
    copies = zip(problem.needs, plan.missing, strict=True)
    return _Told(
        wanted - sum(plan.missing),
        wanted,
        sum(state.used_mm2 for state in plan.states),
        sum((need.quantity - missing) * need.worth for need, missing in copies),
        sum(problem.boards[board].area_mm2 for board in plan.opened),
    )


def _progress(told: _Told, bounds: Bounds, rounds: int, stop: Stop, finish: Finish) -> Progress:
    return Progress(
        rounds,
        told.placed,
        told.wanted,
        told.parts_mm2,
        _ideal(told, bounds, finish),
        min(1.0, stop.share_used(rounds)),
        stop.seconds_left(),
    )


def _ideal(told: _Told, bounds: Bounds, finish: Finish) -> Ideal:
    """Return how far from ideal a plan may be, so far as there is time to find out."""
    return bounds.ideal(told.value, told.opened_mm2, finish.seconds_left())


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
    ideal = _ideal(_told(plan, problem, steering), bounds, finish)
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
    ideal = _ideal(_told(plan, problem, None), bounds, finish)
    left = unplaced(
        plan, problem, is_value_met=ideal.is_value_met,
        is_over=finish.is_late, seconds_left=finish.seconds_left,
    )  # fmt: skip
    return CuttingPlan(tuple(nests), left, ideal)
