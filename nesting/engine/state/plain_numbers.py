"""Plans and boards as plain numbers: what goes from one process to another."""

from __future__ import annotations

from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem

Row = tuple[int, float, bool, float, float]
"""Need, angle, face and place of one part."""

Parts = tuple[Row, ...]
"""What lies on one board."""

Written = tuple[Parts, ...]
"""A plan, board by board."""


def written(plan: PlanState) -> Written:
    """Return a plan as plain numbers."""
    return tuple(parts_of(state) for state in plan.states)


def parts_of(state: BoardState) -> Parts:
    """Return what lies on a board as plain numbers."""
    return tuple(
        (p.need, p.figure.angle_deg, p.figure.is_turned_over, p.x_mm, p.y_mm) for p in state.laid
    )


def plan_of(
    rows: Written, problem: Problem, known: dict[object, BoardState] | None = None
) -> PlanState:
    """Return the plan that plain numbers stand for; states already known are taken as they are."""
    missing = [need.quantity for need in problem.needs]
    states = []
    for board, parts in enumerate(rows):
        state = known.get((board, parts)) if known is not None else None
        states.append(state or state_of(board, parts, problem))
        for part in parts:
            missing[part[0]] -= 1
    return PlanState(tuple(states), tuple(missing))


def state_of(board: int, parts: Parts, problem: Problem) -> BoardState:
    """Return the board state that plain numbers stand for."""
    state = BoardState(board)
    for need, angle, is_over, x, y in parts:
        figure = problem.figure(need, angle, is_over=is_over)
        state = state.with_part(Laid(need, figure, x, y))
    return state
