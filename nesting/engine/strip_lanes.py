"""Search for the shortest strip in several lanes, on as many processes as there are.

Lanes meet now and then, and one that is behind goes on from the best. Under a limit in rounds
their number is fixed, so that the strip found does not depend on the number of processes.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from nesting.engine.layout import Shape
from nesting.engine.stop import MaxRounds, MaxSeconds, Stop
from nesting.engine.strip import LARGEST_STEP, Strip, StripSearch

LANES = 2
"""Searches side by side under a limit in rounds."""

STRETCH, STRETCH_SECONDS = 20, 5.0
"""Attempts, or seconds under a time limit, between two meetings."""

BEHIND = 0.003
"""A lane longer than the best by more than this share goes on from the best."""


@dataclass(frozen=True)
class StripStretch:
    """What a lane does until the next meeting: from where, how long, and with what chance."""

    best: Strip | None
    step: float
    limit: MaxRounds | float
    chance: tuple[int, ...]
    enough: float


@dataclass(frozen=True)
class StripReached:
    """Where a lane stands, and when it found what: seconds since the stretch began, lengths."""

    best: Strip
    step: float
    seen: tuple[tuple[float, float], ...]


def shortest_strip(
    shapes: Sequence[Shape],
    items: Sequence[int],
    width: float,
    gap: float,
    stop: Stop,
    *,
    seed: int = 0,
    workers: int = 1,
    enough: float = 0.0,
    seen: Callable[[float, float], None] | None = None,
) -> Strip:
    """Return the shortest strip found.

    Parameters
    ----------
    stop
        When to end: seconds, or rounds of every lane.
    workers
        Processes that search; with one, this process does.
    enough
        Length at which the search ends too: one that nothing can beat.
    seen
        Is told the seconds since the start, and the length, of each strip shorter than before.
    """
    here = StripSearch(shapes, items, width, gap)
    is_timed = stop.seconds_left() is not None
    enough = max(enough, here.bound + 1e-6)
    count, begun, rounds = workers if is_timed else LANES, time.perf_counter(), 0
    lanes: list[StripReached | None] = [None] * count
    best: Strip | None = None
    with _crew(here, workers) as run:
        while best is None or (stop.share_used(rounds) < 1.0 and best.length > enough):
            at, limit = time.perf_counter() - begun, _limit(stop, rounds)
            stretches = [
                StripStretch(
                    lane.best if lane else None,
                    lane.step if lane else LARGEST_STEP,
                    limit,
                    (seed, k, rounds),
                    enough,
                )
                for k, lane in enumerate(lanes)
            ]
            reached = run(stretches)
            rounds += STRETCH
            for spent, length in sorted(pair for lane in reached for pair in lane.seen):
                if seen is not None:
                    seen(at + spent, length)
            leader = min(reached, key=lambda lane: lane.best.length)
            best = leader.best
            lanes = [
                leader if lane.best.length > best.length * (1 + BEHIND) else lane
                for lane in reached
            ]
    return best


def _limit(stop: Stop, rounds: int) -> MaxRounds | float:
    """Return the limit of the next stretch: rounds, or seconds."""
    left = stop.seconds_left()
    if left is not None:
        return min(left, STRETCH_SECONDS)
    ahead = [n for n in range(1, STRETCH) if stop.share_used(rounds + n) >= 1.0]
    return MaxRounds(min(ahead, default=STRETCH))


def _walked(search: StripSearch, stretch: StripStretch) -> StripReached:
    """Return where a stretch leads; the clock of a limit in seconds starts here."""
    begun, rng = time.perf_counter(), np.random.default_rng(stretch.chance)
    limit = stretch.limit
    stop: Stop = MaxSeconds(limit) if isinstance(limit, float) else limit
    found: list[tuple[float, float]] = []

    def note(strip: Strip) -> None:
        found.append((time.perf_counter() - begun, strip.length))

    best = stretch.best
    if best is None:
        best = search.started(rng)
        note(best)
    best, step = search.improved(best, rng, stop, note, stretch.step, stretch.enough)
    return StripReached(best, step, tuple(found))


Run = Callable[[Sequence[StripStretch]], list[StripReached]]


@contextmanager
def _crew(here: StripSearch, workers: int) -> Iterator[Run]:
    """Yield what runs the stretches of all lanes, in this process or in others."""
    if workers < 2:
        yield lambda stretches: [_walked(here, stretch) for stretch in stretches]
        return
    executor: Executor = ProcessPoolExecutor(
        workers,
        mp_context=get_context("spawn"),
        initializer=_begin,
        initargs=(here.shapes, here.items, here.width, here.gap),
    )
    try:
        yield lambda stretches: list(executor.map(_walk, stretches))
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


_searches: list[StripSearch] = []
"""The one search of a worker process."""


def _begin(shapes: Sequence[Shape], items: Sequence[int], width: float, gap: float) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _searches[:] = [StripSearch(shapes, items, width, gap)]


def _walk(stretch: StripStretch) -> StripReached:
    return _walked(_searches[0], stretch)
