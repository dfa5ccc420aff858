"""Why a part was left unplaced, from the most basic reason to the least."""

from __future__ import annotations

from nesting.engine.board_state import BoardState
from nesting.engine.plan_state import PlanState
from nesting.engine.problem import Problem
from nesting.need import Misfit
from nesting.nest import Unplaced


def unplaced(plan: PlanState, problem: Problem) -> tuple[Unplaced, ...]:
    """Return every need with copies left over, and the reason."""
    return tuple(
        Unplaced(problem.needs[need], count, _reason(need, problem))
        for need, count in enumerate(plan.missing)
        if count
    )


def _reason(need: int, problem: Problem) -> Misfit:
    found = {problem.needs[need].misfit(board, problem.rules) for board in problem.boards}
    if None not in found:
        order = (Misfit.TOO_THIN, Misfit.WRONG_WOOD, Misfit.NO_SPECIES)
        return next((reason for reason in order if reason in found), Misfit.NO_SPECIES)
    suited = problem.suits[need]
    if not suited:
        return Misfit.TOO_LONG
    if all(BoardState(board).spot(need, problem) is None for board in suited):
        return Misfit.NO_CLEAR_WOOD
    return Misfit.NO_ROOM
