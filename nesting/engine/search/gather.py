"""Move parts toward one end of their board, so that what is left over is one long piece.

Part after part, nearest to the end first, goes to the place nearest to that end which the
others leave it, as it lies. A board is changed only if the largest offcut worth keeping grows:
value and wood opened stay what they are.
"""

from __future__ import annotations

from collections.abc import Callable

from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never, unlimited
from nesting.foretold import A_KEEP_OUT
from nesting.offcuts import offcuts_beside

PASSES = 3

OFFCUTS = 3
"""How often the offcuts of a board are looked for: as it is, and gathered at either end."""

LEAST_GAIN = 1.01
"""The largest offcut grows at least so much, or the board stays as it is."""

EDGE = 0.02
"""How much nearness to the lower edge counts beside nearness to the end."""


def gathered_plan(
    plan: PlanState,
    problem: Problem,
    is_over: Callable[[], bool] = never,
    seconds_left: Callable[[], float] = unlimited,
) -> PlanState:
    """Return the plan with the parts of each board gathered at one end where that helps.

    Boards that would take longer than the seconds left are passed over.
    """
    locked = problem.steered.locked if problem.steered is not None else ()

    def has_time(state: BoardState) -> bool:
        keep_outs = len(problem.boards[state.board].keep_outs)
        return not is_over() and OFFCUTS * A_KEEP_OUT * keep_outs <= seconds_left()

    states = [
        gathered(state, problem, is_over)
        if state.laid and has_time(state) and state.board not in locked
        else state
        for state in plan.states
    ]
    return PlanState(tuple(states), plan.missing)


def gathered(
    state: BoardState, problem: Problem, is_over: Callable[[], bool] = never
) -> BoardState:
    """Return the board with its parts at the end that leaves the largest offcut, if any does."""
    best, most = state, largest_offcut_mm2(state, problem) * LEAST_GAIN
    for side in (1.0, -1.0):
        other = _toward(side, state, problem, is_over)
        if other is state or is_over():
            continue
        offcut = largest_offcut_mm2(other, problem)
        if offcut > most:
            best, most = other, offcut
    return best


def largest_offcut_mm2(state: BoardState, problem: Problem) -> float:
    """Return the area of the largest piece worth keeping; 0 if there is none."""
    parts = [laid.figure.at(laid.x_mm, laid.y_mm).polygon for laid in state.laid]
    found = offcuts_beside(parts, problem.boards[state.board], problem.rules)
    return found[0].area_mm2 if found else 0.0


def _toward(
    side: float, state: BoardState, problem: Problem, is_over: Callable[[], bool]
) -> BoardState:
    for _ in range(PASSES):
        before = state
        for laid in sorted(state.laid, key=lambda laid: _far_end(laid, side)):
            if is_over():
                return state
            state = _moved(state, laid, side, problem)
        if state is before:
            break
    return state


def _far_end(laid: Laid, side: float) -> float:
    x0, _, x1, _ = laid.figure.box
    return laid.x_mm + x1 if side > 0 else -laid.x_mm - x0


def _moved(state: BoardState, laid: Laid, side: float, problem: Problem) -> BoardState:
    """Return the board with one part nearer to an end, or the very same board."""
    others = state.without({state.laid.index(laid)})
    weights = (side, EDGE)
    found = others.best_place(laid.need, laid.figure, problem, weights)
    if found and _score(found, side) < _score(laid, side) - 1e-3:
        return others.with_part(found)
    return state


def _score(laid: Laid, side: float) -> float:
    return side * laid.x_mm + EDGE * laid.y_mm
