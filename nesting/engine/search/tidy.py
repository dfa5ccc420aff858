"""Lay parts anew on their boards so that more of them come free by straight cuts.

Only where a project asks for it, and at the very end: which parts lie on which board, and so
value and wood opened, stay what they are. A part that does not come free is taken off and laid
elsewhere, or the whole board is laid anew in another order, each part where those before it still
come free. Of all ways of laying a board that one is taken by which most comes free, and of those
the one that leaves most to keep.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import numpy as np

from nesting.break_down.cutting_order import broken_down
from nesting.eased import Eased
from nesting.engine.state.board_state import DRIFTS, BoardState, Laid, Weights
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never
from nesting.nest import Nest
from nesting.offcuts import offcuts_beside
from nesting.stock.keep_out import KeepOutKind

TRIES = 8
"""Orders in which a board is laid anew. On the full demo 77 of 95 parts come free, 49 before; with
3 orders 73, and less wood to keep (2026-11-27)."""

MOVES = 10
"""Parts that are taken off and laid elsewhere, one at a time."""

PLACES = 10
"""Places tried for a part: ways of turning it, and corners it is laid towards, by chance."""

MOST_THINGS = 40
"""A board with more parts and metal on it is left as it is: each look at it takes too long."""

TOWARD: tuple[Weights, ...] = (*DRIFTS, (-1.0, -0.02), (0.05, -1.0))
"""Corners and edges that a part is laid towards."""


def tidied_plan(
    plan: PlanState, problem: Problem, is_over: Callable[[], bool] = never
) -> tuple[PlanState, Eased]:
    """Return the plan with boards laid anew where more comes free, and what that takes."""
    states = [
        _tidied(state, problem, is_over) if state.laid and not is_over() else state
        for state in plan.states
    ]
    without = [_weighed(state, problem) for state in plan.states if state.laid]
    tidy = [_weighed(state, problem) for state in states if state.laid]
    eased = Eased(
        sum(freed for freed, _ in without),
        sum(freed for freed, _ in tidy),
        sum(kept for _, kept in without),
        sum(kept for _, kept in tidy),
    )
    return PlanState(tuple(states), plan.missing), eased


def _tidied(state: BoardState, problem: Problem, is_over: Callable[[], bool]) -> BoardState:
    """Return a board on which most come free; of those, one that leaves most to keep."""
    best, worth = state, _weighed(state, problem)
    metal = [k for k in problem.boards[state.board].keep_outs if k.kind is KeepOutKind.METAL]
    if len(metal) + len(state.laid) > MOST_THINGS or worth[0] == len(state.laid):
        return state
    rng = np.random.default_rng(state.board)
    for other in _ways(state, problem, rng, is_over):
        if is_over():
            break
        if _freed(other, problem) < worth[0]:
            continue
        found = _weighed(other, problem)
        if found > worth:
            best, worth = other, found
    return best


def _ways(
    state: BoardState,
    problem: Problem,
    rng: np.random.Generator,
    is_over: Callable[[], bool],
) -> Iterator[BoardState]:
    """Yield other ways of laying the same parts."""
    for number in range(TRIES):
        if is_over():
            return
        anew = _laid_anew(state, problem, rng, is_first=number == 0)
        if anew is not None:
            yield anew
    now, freed = state, _freed(state, problem)
    for _ in range(MOVES):
        if is_over() or freed == len(state.laid):
            return
        place = int(rng.integers(len(now.laid)))
        moved = _best_with(now.without({place}), now.laid[place], problem, rng)
        if moved is not None and moved[0] >= freed:
            freed, now = moved
            yield now


def _laid_anew(
    state: BoardState, problem: Problem, rng: np.random.Generator, *, is_first: bool
) -> BoardState | None:
    """Return a board with its parts laid one after another, the largest first or by chance."""
    areas = np.array([laid.figure.shape.area for laid in state.laid])
    weights = areas if is_first else areas * rng.uniform(0.3, 1.0, len(areas))
    found = BoardState(state.board)
    for place in np.argsort(-weights, kind="stable"):
        best = _best_with(found, state.laid[place], problem, rng)
        if best is None:
            return None
        found = best[1]
    return found


def _best_with(
    others: BoardState, laid: Laid, problem: Problem, rng: np.random.Generator
) -> tuple[int, BoardState] | None:
    """Return a board with one part more, laid so that most come free, and how many do."""
    ways = [laid.figure, *problem.turnings(laid.need, others.board, is_leaning=False)]
    ways = list({way.sign: way for way in ways}.values())
    some = list(product(range(len(ways)), TOWARD))
    best: tuple[int, BoardState] | None = None
    for number in rng.permutation(len(some))[:PLACES]:
        way, toward = some[number]
        found = others.best_place(laid.need, ways[way], problem, toward)
        if found is None:
            continue
        state = others.with_part(found)
        freed = _freed(state, problem)
        if best is None or freed > best[0]:
            best = freed, state
        if freed == len(state.laid):
            break
    return best


def _nest(state: BoardState, problem: Problem) -> Nest:
    placements = tuple(laid.figure.at(laid.x_mm, laid.y_mm) for laid in state.laid)
    return Nest(problem.boards[state.board], placements)


def _freed(state: BoardState, problem: Problem) -> int:
    """Return how many parts come free where nothing is kept beside them."""
    return broken_down(_nest(state, problem), (), problem.rules).parts_freed


def _weighed(state: BoardState, problem: Problem) -> tuple[int, float]:
    """Return how many parts come free beside what is kept, and its area, mm2."""
    nest = _nest(state, problem)
    polygons = [placement.polygon for placement in nest.placements]
    offcuts = offcuts_beside(polygons, nest.board, problem.rules)
    found = broken_down(nest, offcuts, problem.rules)
    return found.parts_freed, sum(offcut.area_mm2 for offcut in offcuts)
