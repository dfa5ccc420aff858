"""Compile kernels of the search in other processes: the first plan's, then the jostling.

On a machine's first run numba compiles them; the compiled code stays on disk. Each kernel is
compiled by being used on a tiny project, so that it meets just the types that the search gives it.
Numba lets one thread of a process compile at a time, so processes do it side by side, while the
project is read, and while the search goes on. What fills boards on lines takes the lanes a few
seconds when they first ask for it, no longer than a process here would.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.process import BaseProcess

import numpy as np
from shapely.geometry import Polygon, box

from nesting.engine.geometry.compiled import is_on_disk, note_on_disk
from nesting.engine.geometry.kernels_numba import exposed, lowest_spots
from nesting.engine.geometry.no_fit import EMPTY, is_outside, legal_spots
from nesting.engine.geometry.sums_numba import all_sums
from nesting.engine.jostle.jostling import is_compiled, jostle
from nesting.engine.state.board_state import TOWARD_LEFT, BoardState, Laid
from nesting.engine.state.problem import Problem
from nesting.engine.wood.berths import GrownWood
from nesting.engine.wood.berths_numba import may_fit, may_lie
from nesting.engine.wood.runs import runs_of, windows
from nesting.engine.wood.runs_numba import cores, crossings, standing
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.outline import Outline
from nesting.processes.workers import started
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle

LONG_RUN = 60.0
"""With less time than this parts are not crowded in unless the kernels for it are compiled: it
takes most of that to compile them."""

ATTEMPTS = 2
"""Attempts at squeezing parts in that touch every kernel for it."""

TINY_FLAWS = (
    circle(KeepOutKind.METAL, 200.0, 5.0, 4.0),
    circle(KeepOutKind.HOLE, 60.0, 60.0, 6.0),
)

TINY_BOARD = Board("tiny", box(0.0, 0.0, 400.0, 120.0), 25.0, "any", keep_outs=TINY_FLAWS)

TINY_GROWN = GrainPath(((0.0, 60.0), (200.0, 60.0), (400.0, 80.0)))

TINY_NEED = Need(
    "tiny", "drawn",
    Outline(Polygon([(0, 0), (120, 0), (120, 40), (50, 40), (50, 90), (0, 90)]), 20.0),
    ("any",), quantity=6, holes=Holes.PLUGGED,
)  # fmt: skip


SPOTS = crossings, cores, standing, lowest_spots
SUMS = all_sums, exposed, may_lie, may_fit
"""Doors of the kernels that the first plan needs."""


def tiny_problem() -> Problem:
    """Return a board with metal and an old hole, and parts that may hold the hole, plugged."""
    return Problem([TINY_NEED], [TINY_BOARD], Rules())


def compile_lines_and_spots() -> None:
    """Compile what finds free stretches across a board, and the best place outside a region."""
    problem = tiny_problem()
    figure = problem.figure(0, 0.0, is_over=False)
    limit = problem.grounds[0].limit(figure)
    assert limit is not None
    windows(runs_of(TINY_BOARD.shape, 0.0, 400.0), problem.looks(figure)[1], 0.0, limit)
    legal_spots(EMPTY, limit, TOWARD_LEFT)
    is_outside(EMPTY, 0.0, 0.0)
    note_on_disk(*SPOTS)


def compile_sums() -> None:
    """Compile what says where one figure may not lie because of another, or of grown grain."""
    problem = tiny_problem()
    figure = problem.figure(0, 0.0, is_over=False)
    problem.between(figure, figure)
    wood = GrownWood(TINY_BOARD.shape, TINY_GROWN)
    wood.berths(TINY_NEED.outline, TINY_BOARD.shape, halvings=0)
    note_on_disk(*SUMS)


def compile_crowding() -> None:
    """Compile the jostling of parts that overlap: the longest, for most of a minute."""
    from nesting.engine.search.crowd import Crowder  # Takes as long as all else to load.

    problem, rng = tiny_problem(), np.random.default_rng(0)
    crowder, state = Crowder(problem), BoardState(0)
    for way in problem.turnings(0, 0, is_leaning=False)[:2]:
        state = state.with_part(Laid(0, way, 150.0, 40.0))
    crowder.squeezed(state, [0], ATTEMPTS, rng)
    crowder.inserted(state, 0, rng)
    note_on_disk(jostle)


def compile_here() -> None:
    """Compile what the first plan needs in this process, if no earlier run did on this machine."""
    if not all(map(is_on_disk, SPOTS)):
        compile_lines_and_spots()
    if not all(map(is_on_disk, SUMS)):
        compile_sums()


class Ahead:
    """Processes that compile kernels beside this one."""

    def __init__(self) -> None:
        self._running: list[BaseProcess] = []

    @property
    def is_busy(self) -> bool:
        """Whether something is being compiled."""
        return any(process.is_alive() for process in self._running)

    def start_first(self) -> None:
        """Start compiling what the first plan needs, if an earlier run did not."""
        if not all(map(is_on_disk, SPOTS)):
            self._start(compile_lines_and_spots)
        if not all(map(is_on_disk, SUMS)):
            self._start(compile_sums)

    def start_crowding(self, seconds_left: float | None) -> None:
        """Start compiling what crowds parts in, if there is time for it.

        Not under a limit in rounds: there lanes crowd from the first round on, so that the plan
        does not depend on when this is done, and compile it themselves.
        """
        if seconds_left is not None and seconds_left > LONG_RUN and not is_compiled():
            self._start(compile_crowding)

    def wait(self) -> None:
        """Wait until all that was started is compiled, or has failed: then it is compiled here."""
        for process in self._running:
            process.join()

    def end(self) -> None:
        """Stop what still runs: a kernel is written to disk whole or not at all."""
        for process in self._running:
            process.kill()
        self.wait()

    def _start(self, compile_some: Callable[[], None]) -> None:
        self._running.append(started(compile_some))


@contextmanager
def compiled_ahead() -> Iterator[Ahead]:
    """Yield what compiles kernels beside this process; the first plan's are begun at once.

    Where there is only one processor nothing is: it would be no sooner done.
    """
    ahead = Ahead()
    if (os.cpu_count() or 1) > 1:
        ahead.start_first()
    try:
        yield ahead
    finally:
        ahead.end()
        note_on_disk(*SPOTS, *SUMS, jostle)
