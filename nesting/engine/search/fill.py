"""Fill one board from one end: many beginnings on lines, and the best of them laid in earnest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.engine.front.front import Look, lines_of, look_of, looks_of, step_for
from nesting.engine.front.front_numba import Lines, Looks
from nesting.engine.front.front_search import Step, beginnings_of, credits_of, fullest
from nesting.engine.geometry.memory_budget import Store
from nesting.engine.geometry.turned import Turned
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never

Floats = NDArray[np.float64]

ALLOWANCES = (0.02, 0.2)
"""Wood that a beginning may lose for each area of part in it: least and most."""

MOST_TRIED = 64
"""Needs tried at a time."""

MOST_GROWN = 2**16
"""Beginnings times figures at a time: some half a second for each part on the board."""

LAID = 8
"""Beginnings, the fullest, laid in earnest."""

WILLING = 0.7
"""Chance that a board is filled without breaking wishes, and without what is not needed yet."""

REACH, ACROSS = 6.0, 2.0
"""How far along and across a part may lie from where its lines say, in distances of lines."""

LOOK_BYTES = 30_000_000
"""Figures on lines that are kept, in each process."""


@dataclass(frozen=True, eq=False)
class _Task:
    """A board to fill from one end, on lines, and what is tried on it: looks, needs, figures."""

    board: int
    side: int
    low_y: float
    lines: Lines
    looks: Looks
    needs: tuple[int, ...]
    figures: tuple[tuple[int, Turned], ...]


class Filler:
    """Fills boards of a problem; keeps what it knows of figures."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.met: list[BoardState] = []
        self._looks: Store[Look] = Store(LOOK_BYTES)

    def filled(
        self,
        board: int,
        wanted: Sequence[int],
        width: int,
        rng: np.random.Generator,
        is_over: Callable[[], bool] = never,
    ) -> BoardState:
        """Return the board with the most part area found.

        Parameters
        ----------
        wanted
            How many of each need may be placed.
        width
            Beginnings kept at a time, fewer where many figures are wanted.
        """
        steered = self.problem.steered
        if steered is not None and rng.random() < WILLING:
            wanted = steered.willing(board, wanted)
        side = 1 if rng.random() < 0.5 else -1
        task, best = self._task(board, side, wanted, rng), BoardState(board)
        if task is None:
            return best
        counts = [wanted[need] for need in task.needs]
        areas = np.array([self.problem.needs[n].outline.area_mm2 for n in task.needs])
        credits = credits_of(areas, ALLOWANCES, rng)
        width = min(width, max(1, MOST_GROWN // len(task.figures)))
        found = beginnings_of(task.lines, task.looks, counts, width, credits, rng, is_over)
        for used, steps in fullest(found, LAID):
            if used <= best.used_mm2 or is_over():
                break
            state = self._laid(task, steps)
            self.met.append(state)
            best = max(best, state, key=lambda state: state.used_mm2)
        return best

    def _task(
        self, board: int, side: int, wanted: Sequence[int], rng: np.random.Generator
    ) -> _Task | None:
        """Return what is to be done, or None where nothing that is wanted has any room."""
        problem = self.problem
        needs = [n for n, count in enumerate(wanted) if count and board in problem.suit_sets[n]]
        needs = [n for n in needs if not problem.free(board, n).is_empty]
        if len(needs) > MOST_TRIED:
            needs = sorted(map(int, rng.choice(needs, MOST_TRIED, replace=False)))
        figures = [
            (n, figure)
            for n in needs
            for figure in problem.turnings(n, board, is_leaning=False)
            if not problem.is_closed(figure, board)
        ]
        if not figures:
            return None
        free = {problem.needs[n].holes: problem.free(board, n) for n in needs}
        _, low_y, _, high_y = next(iter(free.values())).bounds
        lines = lines_of(list(free.values()), side, step_for(high_y - low_y))
        looks = looks_of(
            [self._look(figure, side, lines.step) for _, figure in figures],
            [needs.index(n) for n, _ in figures],
            [list(free).index(problem.needs[n].holes) for n, _ in figures],
            [figure.shape.area for _, figure in figures],
        )
        return _Task(board, side, low_y, lines, looks, tuple(needs), tuple(figures))

    def _look(self, figure: Turned, side: int, step: float) -> Look:
        def made() -> Look:
            look = look_of(figure.shape, self.problem.looks(figure)[0], step)
            return look if side > 0 else look.mirrored()

        return self._looks.get((figure.number, step, side), made)

    def _laid(self, task: _Task, steps: Sequence[Step]) -> BoardState:
        """Return a board with every part that finds true room about where its lines say."""
        state, apart = BoardState(task.board), task.lines.step
        for step in steps:
            need, figure = task.figures[step.figure]
            x, y = task.side * step.x, task.low_y + step.line * apart - figure.box[1]
            weights, along, across = (task.side, step.edge), REACH * apart, ACROSS * apart
            window = (x - along, y - across, x + along, y + across)
            laid = state.best_place(need, figure, self.problem, weights, window)
            state = state if laid is None else state.with_part(laid)
        return state
