"""Ctrl-C, SIGTERM and SIGHUP: what they do depends on how far a run has come.

Before there is a plan they end the run. From then on the first ends the search, and the best plan
is written; while it is written another one leaves everything as it was.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import Enum
from types import FrameType
from typing import TYPE_CHECKING

from nesting.engine.stop import WhenAsked
from nesting.processes.signals import answered_by, name_of, put_back

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

TOGETHER_SECONDS = 0.25
"""Signals that come together count as one: a terminal, a shell and a tool that limits time may
each pass on the same wish. Nobody presses twice as fast."""


CLEARING_SECONDS = 2.0
"""A run that ends has so long to clear away what it began. Some libraries swallow what ends it: the
next signal ends it again."""


class Stage(Enum):
    """How far a run has come; the value is what is said of it when it ends there."""

    BEGINNING = "before there was a plan: nothing was written"
    SEARCHING = "the best plan so far is written"
    WRITING = "while the plan was written: what was in the folder is as it was"
    WRITTEN = "after the plan was written"
    NO_PLAN = "before it was done"
    OVER = ""


class Stopped(KeyboardInterrupt):
    """A run that was ended by a signal; says when that was."""

    def __init__(self, number: int, stage: Stage) -> None:
        super().__init__(f"stopped by {name_of(number)} {stage.value}")
        self.code = exit_code(number)


def exit_code(number: int) -> int:
    """Return what a shell says of a program that a signal ended: 130 for Ctrl-C."""
    return 128 + number


class Stopping:
    """Answers the signals of one run, and knows which came first.

    Attributes
    ----------
    stage
        How far the run has come.
    asked
        The rule that ends a search after the first signal.
    number
        The first signal, if one came.
    stopped
        What was raised to end the run, if it was.
    """

    def __init__(
        self, stage: Stage = Stage.BEGINNING, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.stage = stage
        self.asked = WhenAsked()
        self.number: int | None = None
        self.stopped: Stopped | None = None
        self._clock = clock
        self._latest = -1.0
        self._terminals = [s for s in (1, 2) if os.isatty(s)]

    def __call__(self, number: int, frame: FrameType | None = None) -> None:
        """Answer a signal."""
        now, latest = self._clock(), self._latest
        is_first, self._latest = self.number is None, now
        if is_first:
            self.number = number
        self.asked.is_asked = True
        if number == getattr(signal, "SIGHUP", None):
            self._leave_terminal()
        is_kept = self.stage is Stage.SEARCHING
        if self.stage is Stage.WRITING:
            is_kept = is_first or now - latest < TOGETHER_SECONDS
        if self.stage is Stage.OVER:
            is_kept = now - latest < CLEARING_SECONDS
        if not is_kept:
            if self.stopped is None:
                self.stopped = Stopped(number, self.stage)
            self.stage = Stage.OVER
            raise self.stopped

    def reach(self, stage: Stage) -> None:
        """Take note of how far the run has come; from there on signals are answered so.

        Raises
        ------
        Stopped
            If the run was ended before, and some library swallowed that and went on. What is
            written by then is written.
        """
        if self.stopped is not None and stage is not Stage.WRITTEN:
            raise self.stopped
        self.stage = stage

    def _leave_terminal(self) -> None:
        """Write into nothing where a terminal was that is gone: what is left to do goes on."""
        for stream in self._terminals:
            if not os.isatty(stream):
                nothing = os.open(os.devnull, os.O_RDWR)
                os.dup2(nothing, stream)
                os.close(nothing)


@contextmanager
def signals_answered(stage: Stage = Stage.BEGINNING) -> Iterator[Stopping]:
    """Yield what answers signals; what answered them before does so again afterwards.

    Raises
    ------
    Stopped
        If a signal ended the run, whatever was raised because of it.
    """
    stopping = Stopping(stage)
    before = answered_by(stopping)
    told_before, sys.unraisablehook = sys.unraisablehook, _unless_stopped(sys.unraisablehook)
    try:
        yield stopping
    except Exception:
        if stopping.stopped is None:
            raise
        # What a library made of the end that came to it in the middle of its work.
        raise stopping.stopped from None
    finally:
        put_back(before)
        sys.unraisablehook = told_before


def _unless_stopped(tell: Callable[[UnraisableHookArgs], None]) -> Callable[..., None]:
    """Return what says nothing of a run's end that a library's callback swallowed."""

    def told(found: UnraisableHookArgs) -> None:
        if not isinstance(found.exc_value, Stopped):
            tell(found)

    return told


def signals_end_quietly() -> None:
    """Let signals end this process without a word: for its very last moments."""
    answered_by(signal.SIG_DFL)
