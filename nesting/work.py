"""Telling how far a long piece of work has come, to whoever shows it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

LOG_SECONDS = 5.0
"""Where there is no terminal to keep a line up to date on, it is said anew so often."""


@dataclass(frozen=True)
class Step:
    """What is being done, and how much of it is done out of how much."""

    what: str
    done: float = 0.0
    of: float = 0.0

    @property
    def share(self) -> float:
        """Done out of all, 0 to 1; 0 where nobody knows how much there is."""
        return min(1.0, self.done / self.of) if self.of else 0.0

    def __str__(self) -> str:
        return f"{self.what}, {self.done:g} of {self.of:g}" if self.of else self.what


Tell = Callable[[Step], None]
"""Is told each step as it begins or comes on."""


def untold(_: Step) -> None:
    """Tell nobody."""


@contextmanager
def plain_lines(
    write: Callable[[str], None],
    every_s: float = LOG_SECONDS,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Tell]:
    """Yield what keeps the latest step and writes it, with the time so far, every few seconds.

    Work that is over sooner writes nothing.
    """
    latest: list[Step] = []
    is_over, begun = threading.Event(), clock()

    def say() -> None:
        while not is_over.wait(every_s):
            if latest:
                write(f"{latest[-1]} ({clock() - begun:.0f} s)")

    def tell(step: Step) -> None:
        latest[:] = [step]

    speaker = threading.Thread(target=say, daemon=True)
    speaker.start()
    try:
        yield tell
    finally:
        is_over.set()
        speaker.join()
