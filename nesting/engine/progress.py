"""Where a search stands: what its plan comes to, and how far from ideal that may be."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.engine.proof.bounds import Bounds
from nesting.engine.search.steering import Steering
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import Finish, Stop
from nesting.ideal import Ideal


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


@dataclass(frozen=True)
class Tally:
    """What a plan comes to, pieces that stay included."""

    placed: int
    wanted: int
    parts_mm2: float
    value: float
    opened_mm2: float


def tally_of(plan: PlanState, problem: Problem, steering: Steering | None) -> Tally:
    """Return what a plan comes to; with wishes, what stays where it is counts too."""
    if steering is not None:
        nests = steering.course.nests(plan)
        lying = [placement for nest in nests for placement in nest.placements]
        return Tally(
            len(lying),
            sum(need.quantity for need in steering.course.needs_now),
            sum(placement.need.outline.area_mm2 for placement in lying),
            sum(placement.need.worth for placement in lying),
            sum(nest.board.area_mm2 for nest in nests),
        )
    wanted = sum(need.quantity for need in problem.needs)
    copies = zip(problem.needs, plan.missing, strict=True)
    return Tally(
        wanted - sum(plan.missing),
        wanted,
        sum(state.used_mm2 for state in plan.states),
        sum((need.quantity - missing) * need.worth for need, missing in copies),
        sum(problem.boards[board].area_mm2 for board in plan.opened),
    )


def progress_of(tally: Tally, bounds: Bounds, rounds: int, stop: Stop, finish: Finish) -> Progress:
    """Return where a search stands after some rounds."""
    return Progress(
        rounds,
        tally.placed,
        tally.wanted,
        tally.parts_mm2,
        ideal_of(tally, bounds, finish),
        min(1.0, stop.share_used(rounds)),
        stop.seconds_left(),
    )


def ideal_of(tally: Tally, bounds: Bounds, finish: Finish) -> Ideal:
    """Return how far from ideal a plan may be, so far as there is time to find out."""
    return bounds.ideal(tally.value, tally.opened_mm2, finish.seconds_left())
