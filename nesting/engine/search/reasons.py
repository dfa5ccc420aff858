"""Why a part was left unplaced, from the most basic reason to the least, and what would cure it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import islice

from nesting.engine.search.cures import lacking, remedies
from nesting.engine.search.trials import Wood
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never, unlimited
from nesting.engine.wood.extents import fits_some_way
from nesting.engine.wood.room_bounds import Possible
from nesting.left_over import NOT_LOOKED_AT, Outlook, Prospect
from nesting.need import Misfit
from nesting.nest import Unplaced

MOST_CURED = 12
"""Needs, the dearest, for which it is asked what would cure them: each takes seconds at worst."""

PROVEN = (
    Misfit.NO_SPECIES, Misfit.WRONG_WOOD, Misfit.TOO_THIN, Misfit.OFF_GRAIN, Misfit.TOO_LONG,
)  # fmt: skip
"""Reasons that are proofs: no board can hold such a part, and no time is needed to say so."""

MOST_NAMED, MOST_TRIED = 2, 24
"""Boards with room that are named, and on which room is looked for beside what lies there."""


def unplaced(
    plan: PlanState,
    problem: Problem,
    *,
    is_value_met: bool = False,
    is_over: Callable[[], bool] = never,
    seconds_left: Callable[[], float] = unlimited,
) -> tuple[Unplaced, ...]:
    """Return every need with copies left over, and the reason.

    ``is_value_met``: no plan places more value. Ctrl-C, or ``is_over``, leaves out what is not
    found out yet; the reason is then that no room was found. ``seconds_left``: until then.
    """
    left = [need for need, count in enumerate(plan.missing) if count]
    prospects: dict[int, Prospect] = {}
    reasons = {need: _reason(need, problem, is_over) for need in left}
    with suppress(KeyboardInterrupt):
        by_worth = sorted(left, key=lambda need: (-problem.needs[need].worth, need))
        for number, need in enumerate(by_worth):
            if is_over():
                break
            if reasons[need] is Misfit.NO_ROOM:
                prospects[need] = _outlook(need, plan, problem, is_value_met, is_over)
            else:
                prospects[need] = _without_room(need, problem, seconds_left)
            if number < MOST_CURED:
                prospects[need] = _cured(need, prospects[need], plan, problem, is_over)
    return tuple(
        Unplaced(
            problem.needs[need],
            plan.missing[need],
            reasons[need],
            prospects.get(need) or _at_once(need, reasons[need], problem),
        )
        for need in left
    )


def _at_once(need: int, reason: Misfit, problem: Problem) -> Prospect:
    """Return what is known of a part that there was no time to look at."""
    is_proven = reason in PROVEN and not len(problem.suited_arrays[need])
    return Prospect(Outlook.NEVER) if is_proven else NOT_LOOKED_AT


def _reason(need: int, problem: Problem, is_over: Callable[[], bool] = never) -> Misfit:
    woods = problem.unlike.values()
    found = {problem.needs[need].misfit(board, problem.rules) for board in woods}
    if None not in found:
        order = (Misfit.CROSS_GRAIN, Misfit.TOO_THIN, Misfit.WRONG_WOOD, Misfit.NO_SPECIES)
        return next((reason for reason in order if reason in found), Misfit.NO_SPECIES)
    suited = problem.suits[need]
    if not suited:
        return _off_grain_or_too_long(need, problem)
    # Where there is no time to ask every board, all that is known is that no room was found.
    if any(
        is_over() or BoardState(board).spot(need, problem, is_over=is_over) is not None
        for board in suited
    ):
        return Misfit.NO_ROOM
    if is_over():
        return Misfit.NO_ROOM
    would_lie = _would_lie(need, suited, problem, is_over)
    return Misfit.CROSS_GRAIN if would_lie else Misfit.NO_CLEAR_WOOD


def _off_grain_or_too_long(need: int, problem: Problem) -> Misfit:
    """Return why no board's box holds a part true to its grain: the grain, or the size.

    Straight parts on straight boards are too long for them along the grain, whichever way else
    they would fit.
    """
    wanted = problem.needs[need]
    woods = [b for b in problem.boards if wanted.misfit(b, problem.rules) is None]
    is_grown = not any(wanted.outline.grain.is_straight and b.grain.is_straight for b in woods)
    trim = 2 * problem.rules.trim_mm
    rooms = ((b.length_mm - trim, b.width_mm - trim) for b in woods)
    is_small = any(fits_some_way(wanted.outline, room) for room in rooms)
    return Misfit.OFF_GRAIN if is_grown and is_small else Misfit.TOO_LONG


def _would_lie(
    need: int, suited: Sequence[int], problem: Problem, is_over: Callable[[], bool]
) -> bool:
    """Return whether a part that no empty board takes would lie there if its run-out were free."""
    wanted = problem.needs[need]
    if wanted.outline.run_out_limit is None:
        return False
    free = replace(wanted, outline=replace(wanted.outline, run_out_limit=None))
    other = Problem([free], [problem.boards[board] for board in suited], problem.rules)
    return any(
        BoardState(board).spot(0, other, is_over=is_over) is not None
        for board in range(len(suited))
    )


def _outlook(
    need: int,
    plan: PlanState,
    problem: Problem,
    is_value_met: bool,
    is_over: Callable[[], bool] = never,
) -> Prospect:
    """Return whether more time may place a need, and where; nothing where time is over."""
    free = sorted(problem.suits[need], key=lambda b: (-plan.states[b].unused_mm2(problem), b))
    tried = free[:MOST_TRIED]

    def has_room(state: BoardState) -> bool:
        return not is_over() and state.spot(need, problem, is_over=is_over) is not None

    still = _named((b for b in tried if has_room(plan.states[b])), problem)
    if still:
        return Prospect(Outlook.SOON, still)
    # One of them has room: the reason says so. Those tried first are not always among them.
    alone = _named((b for b in free if has_room(BoardState(b))), problem)
    if is_over():
        return NOT_LOOKED_AT
    return Prospect(Outlook.FULL if is_value_met else Outlook.TAKEN, alone)


def _without_room(need: int, problem: Problem, seconds_left: Callable[[], float]) -> Prospect:
    """Return whether more time may place a need that no board has room for."""
    wanted, rules = problem.needs[need], problem.rules
    woods = [b for b in problem.boards if wanted.misfit(b, rules) is None]
    if woods and Possible([wanted], woods, rules, seconds_left).may.any():
        return Prospect(Outlook.HARDLY)
    lacks = [] if woods else lacking(wanted, problem.boards, rules)
    return Prospect(Outlook.NEVER, lacks_mm=lacks[0][0] if lacks else None)


def _named(boards: Iterator[int], problem: Problem) -> tuple[str, ...]:
    return tuple(problem.boards[board].name for board in islice(boards, MOST_NAMED))


def _is_out(board: int, need: int, problem: Problem) -> bool:
    """Return whether wishes bar a board, or fill a part of it: no rule would cure that."""
    steered = problem.steered
    return steered is not None and (board in steered.barred[need] or board in steered.locked)


def _cured(
    need: int,
    prospect: Prospect,
    plan: PlanState,
    problem: Problem,
    is_over: Callable[[], bool] = never,
) -> Prospect:
    """Return a prospect with what would cure it: nothing is asked where time will."""
    if prospect.outlook is Outlook.SOON or is_over():
        return prospect
    has_room = bool(prospect.room_on)
    woods = [
        Wood(problem.boards[state.board], state.laid if has_room else (), is_over)
        for state in plan.states
        if not _is_out(state.board, need, problem)
    ]
    found = remedies(
        problem.needs[need], woods, problem.rules, is_resized=not has_room, is_over=is_over
    )
    return replace(prospect, remedies=found)
