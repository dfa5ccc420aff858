"""Parts sent back where the last plan had them."""

from __future__ import annotations

import numpy as np

from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.state.steered import Row


def row_of(laid: Laid) -> Row:
    """Return a part as it lies, in plain numbers."""
    figure = laid.figure
    return laid.need, figure.angle_deg, figure.is_turned_over, laid.x_mm, laid.y_mm


def without_homes(plan: PlanState, problem: Problem) -> list[int]:
    """Return the needs that are missing beyond those whose places are free, one entry a copy."""
    assert problem.steered is not None
    left = list(plan.missing)
    for board, rows in enumerate(problem.steered.homes):
        there = {row_of(laid) for laid in plan.states[board].laid}
        for row in rows:
            if row not in there and left[row[0]]:
                left[row[0]] -= 1
    return [need for need, count in enumerate(left) for _ in range(count)]


def forced_home(plan: PlanState, problem: Problem, rng: np.random.Generator) -> PlanState:
    """Return the plan with one moved part back in its place, and what lay in its way taken off."""
    assert problem.steered is not None
    away = [
        (board, row)
        for board, rows in enumerate(problem.steered.homes)
        for row in set(rows) - {row_of(laid) for laid in plan.states[board].laid}
    ]
    if not away:
        return plan
    board, (need, angle, is_over, x, y) = sorted(away)[int(rng.integers(len(away)))]
    laid = Laid(need, problem.figure(need, angle, is_over=is_over), x, y)
    if not plan.missing[need]:
        strays = [
            (state.board, i)
            for state in plan.states
            for i, other in enumerate(state.laid)
            if other.need == need and row_of(other) not in problem.steered.homes[state.board]
        ]
        stray = strays[int(rng.integers(len(strays)))]
        plan = plan.without({stray[0]: {stray[1]}})
    state = plan.states[board]
    in_way = {
        i
        for i, other in enumerate(state.laid)
        if not BoardState(board, (other,)).is_free_for(laid, problem)
    }
    plan = plan.without({board: in_way}) if in_way else plan
    return plan.with_state(plan.states[board].with_part(laid))


def sent_home(plan: PlanState, problem: Problem) -> PlanState:
    """Return the plan with every part where the last plan had it, if that place is free.

    Parts that are missing go there; so do those that lie elsewhere, on boards that are opened in
    any case.
    """
    assert problem.steered is not None
    for board, rows in enumerate(problem.steered.homes):
        there = {row_of(laid) for laid in plan.states[board].laid}
        for row in rows:
            if row in there:
                continue
            need, angle, is_over, x, y = row
            laid = Laid(need, problem.figure(need, angle, is_over=is_over), x, y)
            if plan.missing[need]:
                if plan.states[board].is_free_for(laid, problem):
                    plan = plan.with_state(plan.states[board].with_part(laid))
            elif plan.states[board].laid or problem.opening_mm2(board) == 0.0:
                plan = _moved_home(plan, laid, board, problem)
    return plan


def _moved_home(plan: PlanState, laid: Laid, board: int, problem: Problem) -> PlanState:
    """Return the plan with a part of the same kind, that has no place of its own, sent there."""
    assert problem.steered is not None
    for state in plan.states:
        homes = problem.steered.homes[state.board]
        for i, other in enumerate(state.laid):
            if other.need == laid.need and row_of(other) not in homes:
                own = state.without({i})
                target = own if state.board == board else plan.states[board]
                if not target.is_free_for(laid, problem):
                    continue
                if state.board != board:
                    plan = plan.with_state(own)
                return plan.with_state(target.with_part(laid))
    return plan
