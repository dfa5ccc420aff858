"""Why a part was left unplaced, from the most basic reason to the least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

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
        order = (Misfit.CROSS_GRAIN, Misfit.TOO_THIN, Misfit.WRONG_WOOD, Misfit.NO_SPECIES)
        return next((reason for reason in order if reason in found), Misfit.NO_SPECIES)
    suited = problem.suits[need]
    if not suited:
        return Misfit.TOO_LONG
    if any(BoardState(board).spot(need, problem) is not None for board in suited):
        return Misfit.NO_ROOM
    return Misfit.CROSS_GRAIN if _would_lie(need, suited, problem) else Misfit.NO_CLEAR_WOOD


def _would_lie(need: int, suited: Sequence[int], problem: Problem) -> bool:
    """Return whether a part that no empty board takes would lie there if its run-out were free."""
    wanted = problem.needs[need]
    if wanted.outline.run_out_limit is None:
        return False
    free = replace(wanted, outline=replace(wanted.outline, run_out_limit=None))
    other = Problem([free], [problem.boards[board] for board in suited], problem.rules)
    return any(BoardState(board).spot(0, other) is not None for board in range(len(suited)))
