"""When the search ends: small rules behind one protocol."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol


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
    """Stop after so many seconds, counted from when this was made; not repeatable."""

    seconds: float
    clock: Callable[[], float] = time.monotonic
    _start: float = field(init=False)

    def __post_init__(self) -> None:
        self._start = self.clock()

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


def never() -> bool:
    """Return False: no time limit."""
    return False


def over_in(seconds: float | None, is_ended: Callable[[], bool] = never) -> Callable[[], bool]:
    """Return what says whether so many seconds have passed since, or something else is an end.

    None: the seconds never pass.
    """
    if seconds is None:
        return is_ended
    end = time.monotonic() + seconds
    return lambda: time.monotonic() >= end or is_ended()
