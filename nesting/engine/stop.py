"""When the search ends: small rules behind one protocol."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Protocol

FINISHING, MOST_FINISHING = 0.08, 5.0
"""Share of the time of a run that its search leaves for what follows it, and the most, seconds:
for the answers of other processes, gathering and reasons."""


class Stop(Protocol):
    """Tells how much of the allowance is used; the search ends at 1 or more."""

    def share_used(self, rounds: int) -> float:
        """Return the share used after a number of rounds, 0 to 1 or beyond."""
        ...

    def seconds_left(self) -> float | None:
        """Return the seconds left, or None where time is no limit."""
        ...


@dataclass(frozen=True)
class MaxRounds:
    """Stop after so many rounds: the same seed then gives the same plan."""

    rounds: int

    def share_used(self, rounds: int) -> float:
        """Return rounds over the limit; a limit of 0 is used up at once."""
        return rounds / self.rounds if self.rounds > 0 else 1.0

    def seconds_left(self) -> float | None:
        """Return None: time is no limit here."""
        return None


@dataclass
class MaxSeconds:
    """Stop after so many seconds, counted from when this was made; not repeatable.

    ``begun`` is the clock's time from which they count, if not from now.
    """

    seconds: float
    clock: Callable[[], float] = time.monotonic
    begun: float | None = None
    _start: float = field(init=False)

    def __post_init__(self) -> None:
        self._start = self.clock() if self.begun is None else self.begun

    def share_used(self, rounds: int) -> float:
        """Return time passed over the limit; rounds do not count."""
        passed = self.clock() - self._start
        return passed / self.seconds if self.seconds > 0 else 1.0

    def seconds_left(self) -> float | None:
        """Return the seconds left, never below 0."""
        return max(0.0, self.seconds - (self.clock() - self._start))


@dataclass(frozen=True)
class FirstOf:
    """Stop as soon as any of several rules says so."""

    stops: Sequence[Stop]

    def share_used(self, rounds: int) -> float:
        """Return the largest share used."""
        return max(stop.share_used(rounds) for stop in self.stops)

    def seconds_left(self) -> float | None:
        """Return the least seconds left of the rules that know one."""
        known = [left for stop in self.stops if (left := stop.seconds_left()) is not None]
        return min(known, default=None)


@dataclass
class WhenAsked:
    """Stop at the end of the round in which somebody asked for it: Ctrl-C."""

    is_asked: bool = False

    def share_used(self, rounds: int) -> float:
        """Return 1 once asked, else 0."""
        return 1.0 if self.is_asked else 0.0

    def seconds_left(self) -> float | None:
        """Return None: time is no limit here."""
        return None


@dataclass(frozen=True)
class Finish:
    """Until when what follows a search may go on: gathering first, then reasons; seconds.

    Times are those of the clock. Infinite: as long as it takes.
    """

    by: float = math.inf
    begun: float = -math.inf
    clock: Callable[[], float] = field(default=time.monotonic, repr=False, compare=False)

    @staticmethod
    def of(seconds: float, begun: float, clock: Callable[[], float] = time.monotonic) -> Finish:
        """Return when a run must be over that was given so many seconds when it began."""
        return Finish(begun + seconds, begun, clock)

    @property
    def seconds(self) -> float:
        """How long the run may take in all."""
        return self.by - self.begun

    def seconds_left(self) -> float:
        """Return the seconds left, never below 0."""
        return max(0.0, self.by - self.clock())

    def is_late(self) -> bool:
        """Return whether that time is over."""
        return self.clock() >= self.by

    def half_way(self) -> Finish:
        """Return the middle between now and then."""
        if self.by == math.inf:
            return self
        return replace(self, by=self.clock() + self.seconds_left() / 2)


NO_HURRY = Finish()
"""As long as it takes."""


def kept_back(seconds: float) -> float:
    """Return how much of the time of a run its search leaves for what follows."""
    return min(FINISHING * seconds, MOST_FINISHING)


def never() -> bool:
    """Return False: no time limit."""
    return False


def unlimited() -> float:
    """Return seconds without end: no time limit."""
    return math.inf


def over_in(
    seconds: float | None,
    is_ended: Callable[[], bool] = never,
    clock: Callable[[], float] = time.monotonic,
) -> Callable[[], bool]:
    """Return what says whether so many seconds have passed since, or something else is an end.

    None: the seconds never pass.
    """
    if seconds is None:
        return is_ended
    end = clock() + seconds
    return lambda: clock() >= end or is_ended()


class Spell:
    """So many seconds that may be spent in all, only now and then; None: without limit."""

    def __init__(
        self, seconds: float | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._left = math.inf if seconds is None else seconds
        self._clock = clock
        self._end = math.inf

    @contextmanager
    def begun(self, most: float = math.inf) -> Iterator[None]:
        """Spend some of it, ``most`` seconds at most; what was not used is left for later."""
        start = self._clock()
        self._end = start + min(self._left, most)
        try:
            yield
        finally:
            self._left -= self._clock() - start
            self._end = math.inf

    @property
    def seconds_left(self) -> float:
        """Seconds left now, never below 0."""
        return max(0.0, self._end - self._clock()) if self._end < math.inf else math.inf

    def is_over(self) -> bool:
        """Return whether nothing is left."""
        return self._clock() >= self._end
