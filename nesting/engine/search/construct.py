"""Place parts one after another: in an order, on the first board that takes each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from nesting.engine.search.crowd import Crowder
from nesting.engine.state.board_state import TOWARD_LEFT, BoardState, Weights
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never
from nesting.engine.wood.runs import Floats, Ints

CROWDED_BOARDS = 2
"""Boards on which room is made for a part that finds none, before it is given up."""


MANY_BOARDS, FEW_OPENED, ROOMY = 400, 12, 1.2
"""In a quick plan on more boards than this a part tries so many opened boards that are free beyond
what lies on them for as long as it is, and so many others with room for so many times its area;
then closed ones. 3,000 boards, 5,000 parts: 69 s without."""


class Order(Enum):
    """What makes a part come early."""

    WORTH = "worth"
    AREA = "area"
    LENGTH = "length"
    FEW_BOARDS = "few boards"


def ordered(
    copies: Sequence[int],
    problem: Problem,
    order: Order,
    rng: np.random.Generator | None = None,
    noise: float = 0.0,
) -> list[int]:
    """Return needs, one entry a copy, first to place first.

    ``noise`` is the spread of the logarithm by which each key is disturbed.
    """
    keys = np.array([_key(need, problem, order) for need in copies])
    if rng is not None and noise > 0:
        keys = keys * np.exp(noise * rng.standard_normal(len(keys)))
    later = frozenset[int]() if problem.steered is None else problem.steered.later
    # What is needed now comes before what is only kept in view.
    places = sorted(range(len(copies)), key=lambda i: (copies[i] in later, -keys[i], copies[i]))
    return [copies[i] for i in places]


def _key(need: int, problem: Problem, order: Order) -> float:
    wanted = problem.needs[need]
    if order is Order.WORTH:
        return wanted.worth
    if order is Order.AREA:
        return wanted.outline.area_mm2
    if order is Order.LENGTH:
        return max(wanted.outline.length_mm, wanted.outline.width_mm)
    return wanted.outline.area_mm2 / (1 + len(problem.suits[need])) ** 2


@dataclass(frozen=True)
class Manner:
    """How parts are placed anew: what chance does, which way boards fill, if parts are crowded.

    Attributes
    ----------
    blink
        Chance that a board is passed over for one part, so that the search does not repeat
        itself.
    crowder
        Makes room for parts that no board has room for. Not used to spare a board: measured on
        the full demo, layouts that it loosens take fewer parts afterwards.
    """

    rng: np.random.Generator
    blink: float
    drift: Weights
    crowder: Crowder | None = None


def insert_all(
    plan: PlanState,
    sequence: Sequence[int],
    problem: Problem,
    manner: Manner | None = None,
    is_over: Callable[[], bool] = never,
    *,
    is_quick: bool = False,
) -> PlanState:
    """Return the plan with each need of a sequence placed where there is room.

    Opened boards are tried first, fullest first; then closed ones, least wood first. What is not
    placed by the time that ``is_over`` says so is left over. ``is_quick``: each lies the first
    way that has room.
    """
    states, missing = list(plan.states), list(plan.missing)
    boards = _Boards(states, problem)
    for need in sequence:
        if is_over():
            break
        state = _placed(need, states, boards, problem, manner, is_over, is_quick=is_quick)
        if state is not None:
            states[state.board] = state
            boards.take(state)
            missing[need] -= 1
    return PlanState(tuple(states), tuple(missing))


def _placed(
    need: int,
    states: Sequence[BoardState],
    boards: _Boards,
    problem: Problem,
    manner: Manner | None,
    is_over: Callable[[], bool],
    *,
    is_quick: bool,
) -> BoardState | None:
    """Return the board state that one more part makes, or None if there is room nowhere."""
    drift = manner.drift if manner else TOWARD_LEFT
    for board in boards.for_need(need, is_quick=is_quick):
        if manner and manner.rng.random() < manner.blink:
            continue
        laid = states[board].spot(need, problem, drift, is_quick=is_quick, is_over=is_over)
        if laid is not None:
            return states[board].with_part(laid)
        if is_over():
            return None
    return _crowded(need, states, problem, manner) if manner else None


def _crowded(
    need: int, states: Sequence[BoardState], problem: Problem, manner: Manner
) -> BoardState | None:
    """Return a board on which room was made for one more part, or None."""
    if manner.crowder is None:
        return None
    boards = [b for b in problem.suits[need] if states[b].laid]
    for board in manner.rng.permutation(boards)[:CROWDED_BOARDS]:
        state = manner.crowder.inserted(states[int(board)], need, manner.rng)
        if state is not None:
            return state
    return None


class _Boards:
    """How full each board is while parts are placed, and so which one a part tries first."""

    def __init__(self, states: Sequence[BoardState], problem: Problem) -> None:
        self._problem = problem
        self._is_many = len(states) > MANY_BOARDS
        self._closed = np.array([not state.laid for state in states], np.bool_)
        self._steered = problem.steered
        self._open = frozenset[int]() if problem.steered is None else problem.steered.is_open
        self._prices = {} if problem.steered is None else problem.steered.prices_mm2
        self._opening = np.array([] if problem.steered is None else problem.steered.opening_mm2)
        self._closed[list(self._open)] = False
        self._free = np.array([state.unused_mm2(problem) for state in states])
        self._rest = np.array([self._length_left(state) for state in states])

    def _length_left(self, state: BoardState) -> float:
        """Return how long a board is beyond the farthest part on it, mm."""
        low, _, high, _ = self._problem.boards[state.board].shape.bounds
        ends = (laid.x_mm + laid.figure.box[2] for laid in state.laid)
        return float(high - max(ends, default=low))

    def take(self, state: BoardState) -> None:
        """Learn what lies on a board now."""
        self._closed[state.board] = not state.laid and state.board not in self._open
        self._free[state.board] = state.unused_mm2(self._problem)
        self._rest[state.board] = self._length_left(state)

    def _dear(self, need: int, boards: Ints) -> Floats:
        """Return what a piece takes on each of some boards (b,), where wishes have prices.

        What it breaks there, and the opening of a closed board; nothing where it breaks nowhere.
        """
        if need not in self._prices or not (prices := self._prices[need][boards]).any():
            return np.zeros(len(boards))
        return np.where(self._closed[boards], prices + self._opening[boards], prices)

    def for_need(self, need: int, *, is_quick: bool = False) -> list[int]:
        """Return the boards that have the area for a part: opened first, thin first, full first.

        ``is_quick``: of very many opened boards only a few, none nearly full.
        """
        suited = self._problem.suits_arrays[need]
        free = self._free[suited]
        suited = suited[free >= self._problem.outline_areas[need]]
        thickness = self._problem.thicknesses[suited]
        keys = (suited, self._free[suited], thickness, self._closed[suited])
        order = np.lexsort(keys if self._steered is None else (*keys, self._dear(need, suited)))
        ordered = suited[order]
        if is_quick and self._is_many:
            is_closed = self._closed[ordered]
            roomy = self._free[ordered] >= ROOMY * self._problem.outline_areas[need]
            opened = ordered[~is_closed & roomy]
            needed = self._problem.needs[need].outline.length_mm + self._problem.rules.part_gap_mm
            is_long = self._rest[opened] >= needed
            few = opened[is_long][:FEW_OPENED], opened[~is_long][:FEW_OPENED]
            ordered = np.concatenate([*few, ordered[is_closed]])
        return [int(board) for board in ordered]
