"""Search for the shortest strip in several lanes, on as many processes as there are.

First they race from many beginnings, then the best go on. Lanes meet now and then, and one that
is behind goes on from the best. Under a limit in rounds their number is fixed, so that the strip
found does not depend on the number of processes.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial

import numpy as np

from nesting.engine.jostle.layout import Shape
from nesting.engine.stop import MaxRounds, MaxSeconds, Stop
from nesting.engine.strip.strip import Standing, Strip, StripSearch
from nesting.processes.workers import Workers, answers

LANES = 2
"""Searches side by side under a limit in rounds."""

STRETCH, STRETCH_SECONDS = 20, 10.0
"""Attempts, or seconds under a time limit, between two meetings."""

RACE, HEATS = 0.2, 3
"""In the first part of the allowance every stretch begins anew, in so many heats; the best of
them go on: how far a search comes depends on where it began."""

BEHIND = 0.003
"""A lane longer than the best by more than this share goes on from the best."""


@dataclass(frozen=True)
class StripReached:
    """Where a lane stands, and when it found what: seconds since the stretch began, lengths."""

    standing: Standing
    seen: tuple[tuple[float, float], ...]

    @property
    def length(self) -> float:
        """Length of the shortest strip."""
        return self.standing.best.length


@dataclass(frozen=True)
class StripStretch:
    """What a lane does until the next meeting: from where or anew, how long, by what chance."""

    start: StripReached | None
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
    first = here.started(np.random.default_rng(seed))
    leaders = [StripReached(Standing(first), ((time.perf_counter() - begun, first.length),))]
    if seen is not None:
        seen(*leaders[0].seen[0])
    if stop.share_used(0) >= 1.0 or first.length <= enough:
        return first
    with _crew(here, workers) as run:
        while stop.share_used(rounds) < 1.0 and leaders[0].length > enough:
            is_race = stop.share_used(rounds) < RACE
            at, limit = time.perf_counter() - begun, _limit(stop, rounds, seconds, is_race=is_race)
            lanes = [None] * count if is_race else _lanes(leaders, count)
            reached = run(
                [
                    StripStretch(lane, limit, (seed, number, rounds), enough)
                    for number, lane in enumerate(lanes)
                ]
            )
            rounds += STRETCH
            for spent, length in sorted(pair for lane in reached for pair in lane.seen):
                if seen is not None:
                    seen(at + spent, length)
            known = leaders + reached if is_race else reached
            leaders = sorted(known, key=lambda lane: lane.length)[:count]
    return leaders[0].standing.best


def _lanes(leaders: Sequence[StripReached], count: int) -> list[StripReached | None]:
    """Return what each lane goes on from: its own, or the best where it is far behind."""
    best = leaders[0]
    near = [lane for lane in leaders if lane.length <= best.length * (1 + BEHIND)]
    return [near[number] if number < len(near) else best for number in range(count)]


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
        standing = stretch.start.standing
    standing = search.improved(standing, rng, stop, note, stretch.enough)
    return StripReached(standing, tuple(found))


Run = Callable[[Sequence[StripStretch]], list[StripReached]]


@contextmanager
def _crew(here: StripSearch, workers: int) -> Iterator[Run]:
    """Yield what runs the stretches of all lanes, in this process or in others."""
    if workers < 2:
        yield lambda stretches: [_walked(here, stretch) for stretch in stretches]
        return
    given = pickle.dumps((here.shapes, here.items, here.width, here.gap))
    there, instead = partial(_walk, given), partial(_walked_instead, here)
    with Workers(workers) as crew:
        yield lambda stretches: list(answers(crew, there, stretches, instead))


def _walked_instead(search: StripSearch, stretch: StripStretch) -> StripReached:
    """Return where a stretch leads whose process was lost; where time counts, its time is over."""
    if isinstance(stretch.limit, float) and stretch.start is not None:
        return StripReached(stretch.start.standing, ())
    return _walked(search, stretch)


_searches: dict[bytes, StripSearch] = {}
"""The one search of a worker process, by what was given for it."""


def _walk(given: bytes, stretch: StripStretch) -> StripReached:
    if given not in _searches:
        _searches.clear()
        _searches[given] = StripSearch(*pickle.loads(given))
    return _walked(_searches[given], stretch)
