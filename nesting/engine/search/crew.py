"""Lanes run on as many processes as there are: this one, others here, or those of a cluster."""

from __future__ import annotations

import math
import pickle
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, wait
from contextlib import contextmanager
from functools import partial
from typing import TypeVar

from nesting.engine.search.lanes import Reached, Searcher, Stretch
from nesting.engine.stop import never
from nesting.processes.workers import Workers, submitted

T = TypeVar("T")

PATIENCE_SECONDS = 3.0
"""So long an answer is waited for when the search is over: a stretch takes no longer where time
is the limit."""

LOOK_SECONDS = 0.02
"""How often one looks whether the search is over while an answer is waited for."""


class Crew:
    """Runs the lanes, here or in other processes; answers in the order asked.

    The problem goes along with every piece of work, so that any executor will do, and processes
    that come and go: one that has met the problem before goes on with what it knows.
    """

    def __init__(self, here: Searcher, executor: Executor | None, *, is_alone: bool) -> None:
        """Take a searcher and an executor; ``is_alone``: the first lane runs here, beside it."""
        self._here = here
        self._executor = executor
        self._is_alone = is_alone
        problem = here.problem
        given = (problem.needs, problem.boards, problem.rules, problem.steered)
        self._given = b"" if executor is None else pickle.dumps(given)

    def prepare(self, count: int) -> None:
        """Let so many processes read the problem while the first plan is made here."""
        for _ in range(count):
            if self._executor is not None:
                self._executor.submit(_prepared_there, self._given)

    def search(
        self,
        stretches: Sequence[Stretch],
        meanwhile: Callable[[], T],
        is_ended: Callable[[], bool] = never,
        patience: float | None = None,
    ) -> tuple[list[Reached], T]:
        """Return where each lane's stretch leads, and what was to be done here meanwhile.

        Parameters
        ----------
        is_ended
            Says whether the search is to end now, before its stretches are done.
        patience
            So many seconds an answer is waited for then; None: ``PATIENCE_SECONDS``.
        """
        executor = self._executor
        count = len(stretches) if executor is None else int(self._is_alone)
        away = list[tuple[Stretch, Future[Reached] | None]]()
        start = time.monotonic()
        if executor is not None:
            # Other processes here have the same clock; those of a cluster need not.
            work = partial(_done_there, self._given, start if self._is_alone else None)
            away = [(stretch, submitted(executor, work, stretch)) for stretch in stretches[count:]]
        done = meanwhile()
        late = time.monotonic() - start
        here = [
            self._here.search(stretch.later_by(late), is_ended) for stretch in stretches[:count]
        ]
        is_given_up = _given_up(is_ended, PATIENCE_SECONDS if patience is None else patience)
        there = [
            self._answer(stretch, future, start, is_ended, is_given_up) for stretch, future in away
        ]
        return [*here, *there], done

    def _answer(
        self,
        stretch: Stretch,
        future: Future[Reached] | None,
        start: float,
        is_ended: Callable[[], bool],
        is_given_up: Callable[[], bool],
    ) -> Reached:
        """Return where a stretch leads that was given away; if its process is lost, from here.

        What is searched again gives the same, for chance goes by lane and round. An error of the
        search itself shows here again.
        """
        try:
            found = None if future is None else _in_time(future, is_given_up)
        except Exception:
            found = None
            future = None
        if found is not None:
            return found
        if future is not None:  # Out of time: whoever searches there is not waited for.
            future.cancel()
            return Reached(stretch.current, stretch.best, math.inf)
        return self._here.search(stretch.later_by(time.monotonic() - start), is_ended)


@contextmanager
def crew_of(here: Searcher, workers: int, executor: Executor | None = None) -> Iterator[Crew]:
    """Yield a crew on an executor, or of so many processes, of which this is one."""
    if executor is not None or workers < 2:
        yield Crew(here, executor, is_alone=False)
        return
    with Workers(workers - 1) as own:
        crew = Crew(here, own, is_alone=True)
        crew.prepare(workers - 1)
        yield crew


def _given_up(
    is_ended: Callable[[], bool],
    patience: float,
    clock: Callable[[], float] = time.monotonic,
) -> Callable[[], bool]:
    """Return what says whether the search has been over for so many seconds, since it was asked."""
    ended: list[float] = []

    def is_given_up() -> bool:
        if not ended and is_ended():
            ended.append(clock())
        return bool(ended) and clock() >= ended[0] + patience

    return is_given_up


def _in_time(future: Future[T], is_given_up: Callable[[], bool]) -> T | None:
    """Return an answer, or None if it does not come before it is given up."""
    while not wait([future], LOOK_SECONDS).done:
        if is_given_up():
            return None
    return future.result()


class _Met(threading.local):
    """The problem that a thread of a worker process met last, and its searcher."""

    given: bytes = b""
    searcher: Searcher | None = None


_met = _Met()


def _searcher(given: bytes) -> Searcher:
    if _met.searcher is None or _met.given != given:
        _met.searcher, _met.given = Searcher(*pickle.loads(given)), given
    return _met.searcher


def _prepared_there(given: bytes) -> None:
    _searcher(given)


def _done_there(given: bytes, start: float | None, stretch: Stretch) -> Reached:
    """Search in another process; ``start``: when that was asked, if its clock is the same.

    What the process still had to load is then taken off the time that it has.
    """
    searcher = _searcher(given)
    return searcher.search(stretch if start is None else stretch.later_by(time.monotonic() - start))
