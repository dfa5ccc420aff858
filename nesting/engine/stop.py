"""When the search ends: small rules behind one protocol."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

FINISHING, MOST_FINISHING = 0.08, 5.0
"""Share of the time of a run that its search leaves for what follows it, and the most, seconds:
gathering, reasons, the referee and the account (full demo, 10 s: below a second together)."""


SECONDS_A_BOARD = 0.002
"""What the referee and the account take for a board beyond the slack they have, of the boards that
there are (3,000, half of them opened, on two processes)."""


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

    Times are those of ``time.monotonic``. Infinite: as long as it takes.
    """

    by: float = math.inf

    @staticmethod
    def of(seconds: float, begun: float) -> Finish:
        """Return when a run must be over that was given so many seconds when it began."""
        return Finish(begun + seconds)

    def is_late(self) -> bool:
        """Return whether that time is over."""
        return time.monotonic() >= self.by

    def has_left(self, seconds: float) -> bool:
        """Return whether there are so many seconds left."""
        return time.monotonic() + seconds <= self.by

    def half_way(self) -> Finish:
        """Return the middle between now and then."""
        now = time.monotonic()
        return self if self.by == math.inf else Finish(now + max(0.0, self.by - now) / 2)


NO_HURRY = Finish()
"""As long as it takes."""


def kept_back(seconds: float) -> float:
    """Return how much of the time of a run its search leaves for what follows."""
    return min(FINISHING * seconds, MOST_FINISHING)


def kept_for_account(seconds: float, boards: int) -> float:
    """Return how much of the time of a run is left for the referee and the account."""
    return min(seconds / 4, SECONDS_A_BOARD * boards)


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


def limits(
    seconds: float | None,
    rounds: int | None,
    *,
    usual_seconds: float,
    begun: float,
    boards: int = 0,
    stops: Sequence[Stop] = (),
) -> tuple[Stop, Finish]:
    """Return when a search ends, and by when what follows it; both count from when a run began.

    Parameters
    ----------
    seconds, rounds
        As they were asked for; seconds are the usual ones where neither was. A limit in rounds
        alone knows no hurry.
    boards
        For how many of them a referee and an account have to follow within the seconds.
    stops
        What else ends the search.
    """
    found = [*stops, *([] if rounds is None else [MaxRounds(rounds)])]
    if seconds is None and rounds is not None:
        return FirstOf(found), NO_HURRY
    given = usual_seconds if seconds is None else seconds
    packing = given - kept_for_account(given, boards)
    found.append(MaxSeconds(packing - kept_back(packing), begun=begun))
    if given == 0:  # A first plan made in earnest, and no search.
        return FirstOf(found), NO_HURRY
    return FirstOf(found), Finish.of(packing, begun)
