"""The referee's word on a plan, and its account, for scripts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.accounts import account
from nesting.accounts.account import Account
from nesting.errors import JobError
from nesting.front_door.packing import Plan, rules_or_usual
from nesting.given import several, whole
from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.referee import check
from nesting.referee.fault import Fault, require_none
from nesting.referee.wishes import check_wishes
from nesting.rules import Rules
from nesting.unseen import quoted
from nesting.wishes import NO_WISHES


def check_plan(
    plan: CuttingPlan, needs: Sequence[Need] | None = None, rules: Rules | None = None
) -> tuple[Fault, ...]:
    """Return every fault that the independent referee finds in a plan; none: it may be cut.

    It measures with shapely alone, from the true outlines, and knows nothing of the search. Wishes
    that the plan was packed with are looked at too: those without a price may not be broken. A part
    that is not as the one asked for by its name, or a board that was not given, is a fault as well.

    Parameters
    ----------
    needs, rules
        What was asked for; those that the plan was packed with if not given.

    Raises
    ------
    JobError
        If the plan does not know them either.

    Examples
    --------
    >>> from nesting import Board, Need, Nest, Placement, Plan, check_plan, part_from_outline
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> need, board = Need.of("rung", rung, ["teak"]), Board.rectangle("D", 900, 60, 26, "teak")
    >>> plan = Plan((Nest(board, [Placement(need, 450, 10)]),), needs=(need,), boards=(board,))
    >>> print(*check_plan(plan))
    board D: inside the board: rung: 2000.0000 mm2 is off
    """
    plan = _plan(plan)
    faults = check.check_plan(plan, _needs(plan, needs), _own_rules(plan, rules))
    if not isinstance(plan, Plan):
        return (*faults, *check_wishes(plan, NO_WISHES, plan.fixed))
    return (*faults, *_check_boards(plan), *check_wishes(plan, plan.wishes, plan.fixed))


def _check_boards(plan: Plan) -> Iterator[Fault]:
    """Yield the opened boards that are none of those that a plan was made of, or not as these."""
    given = {board.name: board for board in plan.boards}
    for board in [nest.board for nest in plan.nests] if given else ():
        if board.name not in given:
            yield Fault("boards", board.name, "it is none of those that were given")
        elif given[board.name] is not board and given[board.name] != board:
            yield Fault("boards", board.name, "it is not as it was given")


def require_sound(
    plan: CuttingPlan, needs: Sequence[Need] | None = None, rules: Rules | None = None
) -> None:
    """Do nothing if a plan keeps every rule and every wish that is a must; see :func:`check_plan`.

    Raises
    ------
    RefereeError
        With every fault.
    JobError
        If neither the plan nor the call says what was asked for.

    Examples
    --------
    >>> from nesting import Board, Need, pack, part_from_outline, require_sound
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> board = Board.rectangle("D-1", 1200, 120, 26, "teak")
    >>> require_sound(pack([Need.of("rung", rung, ["teak"])], [board], rounds=0))
    """
    require_none(check_plan(plan, needs, rules))


def account_for(plan: CuttingPlan, rules: Rules | None = None, *, workers: int = 1) -> Account:
    """Return what became of the opened wood, which bungs to set, and what is left to buy.

    Areas are mm2, volumes mm3; the shares of a board add up to all of it.

    Parameters
    ----------
    rules
        Those that the plan was packed with if not given.
    workers
        Processes that reckon; worth it from some hundred opened boards on.

    Raises
    ------
    JobError
        If neither the plan nor the call says which rules.

    Examples
    --------
    >>> from nesting import Board, Need, account_for, pack, part_from_outline
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> board = Board.rectangle("D-1", 1200, 120, 26, "teak")
    >>> account = account_for(pack([Need.of("rung", rung, ["teak"])], [board], rounds=0))
    >>> f"{account.area.percent('parts'):.1f} % parts, {account.area.scrap_percent:.1f} % scrap"
    '13.9 % parts, 28.3 % scrap'
    """
    plan, workers = _plan(plan), whole(workers, "workers", least=1)
    return account.account_for(plan, _own_rules(plan, rules), workers=workers)


def _plan(given: CuttingPlan) -> CuttingPlan:
    if not isinstance(given, CuttingPlan):
        raise JobError(f"the plan is {quoted(given)}: give one of pack() or read_plan()")
    return given


def _needs(plan: CuttingPlan, given: Sequence[Need] | None) -> Sequence[Need]:
    if given is not None:
        return several(given, Need, "needs")
    if isinstance(plan, Plan):
        return plan.needs
    raise JobError("this plan does not say what was asked for: give needs, or a Plan from pack()")


def _own_rules(plan: CuttingPlan, given: Rules | None) -> Rules:
    if given is None and isinstance(plan, Plan):
        return plan.rules
    if given is None:
        raise JobError("this plan does not say by which rules: give rules, or a Plan from pack()")
    return rules_or_usual(given)
