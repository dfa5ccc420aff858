"""A whole plan during the search, and what it costs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from nesting.engine.state.board_state import BoardState
from nesting.engine.state.problem import Problem
from nesting.engine.state.steered import Row

FILL_WEIGHT = 0.15
"""Share of a board's area by which an even spread is dearer than one full, one empty board:
pulls parts out of boards that are nearly empty. Small, so that opened wood decides first."""

EXCESS_WEIGHT = 0.1
"""Cost of planing away excess thickness, as a share of the wood so planed."""


@dataclass(frozen=True, eq=False)
class PlanState:
    """Board states, one a board, and how many of each need are not placed."""

    states: tuple[BoardState, ...]
    missing: tuple[int, ...]

    @property
    def opened(self) -> list[int]:
        """Boards that got a part."""
        return [state.board for state in self.states if state.laid]

    def with_state(self, state: BoardState) -> PlanState:
        """Return the plan with another state of a board; what is missing changes with it."""
        states, missing = list(self.states), list(self.missing)
        for laid in states[state.board].laid:
            missing[laid.need] += 1
        for laid in state.laid:
            missing[laid.need] -= 1
        states[state.board] = state
        return PlanState(tuple(states), tuple(missing))

    def without(self, taken: Mapping[int, set[int]]) -> PlanState:
        """Return the plan with the parts at some indices of some boards' ``laid`` taken off."""
        states, missing = list(self.states), list(self.missing)
        for board, indices in taken.items():
            for i in indices:
                missing[states[board].laid[i].need] += 1
            kept = states[board].without(indices)
            states[board] = kept if kept.laid else BoardState(board)
        return PlanState(tuple(states), tuple(missing))


def empty_plan(problem: Problem) -> PlanState:
    """Return the plan with nothing placed."""
    states = tuple(BoardState(board) for board in range(len(problem.boards)))
    return PlanState(states, tuple(need.quantity for need in problem.needs))


def cost(plan: PlanState, problem: Problem) -> float:
    """Return what the search lessens: the outlay, less for boards that are full, in mm2."""
    return outlay(plan, problem) - FILL_WEIGHT * sum(
        state.used_mm2 * state.used_mm2 / problem.boards[state.board].area_mm2
        for state in plan.states
        if state.laid
    )


def outlay(plan: PlanState, problem: Problem) -> float:
    """Return what a plan takes: value not placed first, then wood opened or planed away, in mm2."""
    copies = zip(plan.missing, problem.needs, strict=True)
    missing = sum(count * need.worth for count, need in copies)
    return missing * problem.dearness + sum(
        board_outlay(
            state.board, Counter(laid.need for laid in state.laid), problem, _rows(state, problem)
        )
        for state in plan.states
        if state.laid
    )


def _rows(state: BoardState, problem: Problem) -> tuple[Row, ...]:
    """Return what lies on a board as plain numbers, where that matters to wishes."""
    if problem.steered is None or not problem.steered.has_homes:
        return ()
    return tuple(
        (p.need, p.figure.angle_deg, p.figure.is_turned_over, p.x_mm, p.y_mm) for p in state.laid
    )


def board_outlay(
    board: int, counts: Mapping[int, int], problem: Problem, rows: tuple[Row, ...] = ()
) -> float:
    """Return the wood of an opened board and what its parts have planed away, as it counts, mm2.

    What wishes cost that are broken there is added.

    Parameters
    ----------
    counts
        How often which needs lie on it.
    rows
        What lies on it, where pieces have places of their own.
    """
    wood = problem.boards[board]
    clean = problem.rules.clean_thickness_mm(wood.thickness_mm)
    outlines = ((problem.needs[need].outline, count) for need, count in counts.items())
    excess = sum(count * o.area_mm2 * (1 - o.siding_mm / clean) for o, count in outlines)
    outlay = problem.opening_mm2(board) + EXCESS_WEIGHT * excess
    if problem.steered is None:
        return outlay
    return outlay + problem.steered.outlay_mm2(board, counts, rows)
