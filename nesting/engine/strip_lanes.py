"""Search for the shortest strip in several lanes, on as many processes as there are.

First they race from many beginnings, then the best go on. Lanes meet now and then, and one that
is behind goes on from the best, or begins anew where the best has gained nothing for long. Under a
limit in rounds their number is fixed, so that the strip found does not depend on the number of
processes.
"""

from __future__ import annotations

import math
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np

from nesting.engine.layout import Shape
from nesting.engine.stop import MaxRounds, MaxSeconds, Stop
from nesting.engine.strip import Standing, Strip, StripSearch

LANES = 2
"""Searches side by side under a limit in rounds."""

STRETCH, STRETCH_SECONDS = 20, 5.0
"""Attempts, or seconds under a time limit, between two meetings."""

RACE, HEATS = 0.2, 3
"""In the first part of the allowance every stretch begins anew, in so many heats; the best of
them go on: how far a search comes depends on where it began."""

BEHIND = 0.003
"""A lane longer than the best by more than this share goes on from the best."""

LEAST_WAIT = 0.05
"""Share of the allowance for which no gain is waited for at least: longer if gains took longer."""


@dataclass(frozen=True)
class StripReached:
    """Where a lane stands, and when it found what: seconds since the stretch began, lengths."""

    standing: Standing
    seen: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Lane:
    """A search: where it stands, None if it begins anew; when it began and when it last gained.

    Times are shares of the allowance; what comes out of the race began with it. A lane apart began
    anew after the race, and is left alone while it gains.
    """

    standing: Standing | None = None
    begun: float = 0.0
    gained: float = 0.0
    is_apart: bool = False

    @property
    def length(self) -> float:
        """Length of its shortest strip."""
        return math.inf if self.standing is None else self.standing.best.length

    def is_stuck(self, now: float) -> bool:
        """Return whether it has gained nothing for as long as it took to come where it is."""
        return now - self.gained > max(LEAST_WAIT, self.gained - self.begun)

    def after(self, reached: StripReached, now: float) -> Lane:
        """Return the lane after a stretch."""
        gained = now if reached.standing.best.length < self.length else self.gained
        return replace(self, standing=reached.standing, gained=gained)


@dataclass(frozen=True)
class StripStretch:
    """What a lane does until the next meeting: from where or anew, how long, by what chance."""

    start: Standing | None
    limit: MaxRounds | float
    chance: tuple[int, ...]
    enough: float


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
    seconds = stop.seconds_left()
    count, rounds, begun = LANES if seconds is None else workers, 0, time.perf_counter()
    enough = max(enough, here.bound + 1e-6)
    best = here.started(np.random.default_rng(seed))
    leaders = [Lane(Standing(best))]
    if seen is not None:
        seen(time.perf_counter() - begun, best.length)
    if stop.share_used(0) >= 1.0 or best.length <= enough:
        return best
    with _crew(here, workers) as run:
        while (now := stop.share_used(rounds)) < 1.0 and best.length > enough:
            at, is_race = time.perf_counter() - begun, now < RACE
            limit = _limit(stop, rounds, seconds, is_race=is_race)
            lanes = [Lane()] * count if is_race else next_lanes(leaders, count, now)
            reached = run(
                [
                    StripStretch(lane.standing, limit, (seed, number, rounds), enough)
                    for number, lane in enumerate(lanes)
                ]
            )
            rounds += STRETCH
            for spent, length in sorted(pair for there in reached for pair in there.seen):
                if seen is not None:
                    seen(at + spent, length)
            later = stop.share_used(rounds)
            after = [lane.after(there, later) for lane, there in zip(lanes, reached, strict=True)]
            known = leaders + after if is_race else after
            leaders = sorted(known, key=lambda lane: lane.length)[:count]
            best = min([best, *(there.standing.best for there in reached)], key=lambda s: s.length)
    return best


def next_lanes(leaders: Sequence[Lane], count: int, now: float) -> list[Lane]:
    """Return so many lanes to go on with: the best, and what others do beside it.

    ``leaders`` are the lanes so far, the best first.
    """
    best = replace(leaders[0], is_apart=False)
    beside = [*leaders[1:], *[best] * count][: count - 1]
    return [best, *(_beside(lane, best, now) for lane in beside)]


def _beside(lane: Lane, best: Lane, now: float) -> Lane:
    """Return a lane as it goes on, or one from the best, or one that begins anew."""
    if lane.is_stuck(now) and best.is_stuck(now):
        return Lane(None, now, now, is_apart=True)
    is_left_alone = lane.is_apart and not lane.is_stuck(now)
    is_behind = lane.length > best.length * (1 + BEHIND)
    return best if is_behind and not is_left_alone else lane


def _limit(stop: Stop, rounds: int, seconds: float | None, *, is_race: bool) -> MaxRounds | float:
    """Return the limit of the next stretch: rounds, or seconds."""
    left = stop.seconds_left()
    if left is not None and seconds is not None:
        return min(left, RACE * seconds / HEATS if is_race else STRETCH_SECONDS)
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

    if stretch.start is None:
        standing = Standing(search.started(rng))
        note(standing.best)
    else:
        standing = stretch.start
    standing = search.improved(standing, rng, stop, note, stretch.enough)
    return StripReached(standing, tuple(found))


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
