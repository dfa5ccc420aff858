"""One trial: a need, a board with what lies on it, and one rule given up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice, takewhile

from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never
from nesting.left_over import Cure, Remedy
from nesting.need import Need
from nesting.nest import bungs_in
from nesting.plugging import most_in_a_metre
from nesting.rules import Rules
from nesting.stock.board import Board

MOST_BOARDS = 4
"""Boards tried for one rule, those with the most wood first."""


@dataclass(frozen=True)
class Wood:
    """One board, what lies on it, and what says when there is no time left to try it."""

    board: Board
    laid: tuple[Laid, ...] = ()
    is_over: Callable[[], bool] = never

    @property
    def free_mm2(self) -> float:
        """Wood that nothing lies on."""
        return self.board.area_mm2 - sum(laid.figure.shape.area for laid in self.laid)


@dataclass(frozen=True)
class Trial:
    """A need, a board and the rules, one of them given up."""

    cure: Cure
    need: Need
    wood: Wood
    rules: Rules
    amount: float | None = None
    what: str = ""


def room_on(wood: Wood, need: Need, rules: Rules) -> Laid | None:
    """Return a place for a need on a board beside what lies there, or None."""
    if need.misfit(wood.board, rules) is not None:
        return None
    others = {laid.need: laid.figure.need for laid in wood.laid}
    numbers = {own: number for number, own in enumerate(others, start=1)}
    problem = Problem([need, *others.values()], [wood.board], rules)
    if not problem.fits_box(0, 0):
        return None
    state = BoardState(0)
    for laid in wood.laid:
        figure, number = laid.figure, numbers[laid.need]
        lying = problem.figure(number, figure.angle_deg, is_over=figure.is_turned_over)
        state = state.with_part(Laid(number, lying, laid.x_mm, laid.y_mm))
    return state.spot(0, problem, is_over=wood.is_over)


def first_cure(trials: Iterator[Trial], most: int = MOST_BOARDS) -> list[Remedy]:
    """Return the remedy that the first trial with room stands for, in a list, or none."""
    tried = 0
    for trial in trials:
        if trial.wood.is_over():
            break
        if trial.need.misfit(trial.wood.board, trial.rules) is not None:
            continue
        laid = room_on(trial.wood, trial.need, trial.rules)
        if laid is not None:
            return [Remedy(trial.cure, trial.wood.board.name, _amount(trial, laid), trial.what)]
        tried += 1
        if tried == most:
            break
    return []


def with_room(trials: Iterator[Trial], most: int = MOST_BOARDS) -> list[Wood]:
    """Return the wood of those of a few trials that have room, MOST_BOARDS at the most."""
    suited = (t for t in trials if t.need.misfit(t.wood.board, t.rules) is None)
    tried = takewhile(lambda trial: not trial.wood.is_over(), islice(suited, most))
    found = (t.wood for t in tried if room_on(t.wood, t.need, t.rules) is not None)
    return list(islice(found, MOST_BOARDS))


def _amount(trial: Trial, laid: Laid) -> float | None:
    if trial.cure is not Cure.A_METRE:
        return trial.amount
    placement = laid.figure.at(laid.x_mm, laid.y_mm)
    return most_in_a_metre(bungs_in(placement, trial.wood.board, trial.rules), placement)
