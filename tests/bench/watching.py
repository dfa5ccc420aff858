"""Clock and memory of a search: when it reached what, and the most memory held at once."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import psutil

from nesting.engine.progress import Progress

EVERY_SECONDS = 0.1


@dataclass
class Watch:
    """Takes the search's progress and remembers when value and yield were reached."""

    clock: Callable[[], float] = time.perf_counter
    seen: list[tuple[float, float, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.start = self.clock()

    def __call__(self, progress: Progress) -> None:
        """Remember seconds, value and yield."""
        passed = self.clock() - self.start
        self.seen.append((passed, progress.ideal.value, progress.yield_percent))

    @property
    def first_seconds(self) -> float:
        """Seconds to the first plan."""
        return self.seen[0][0]

    def seconds_to(self, percent: float) -> tuple[float, float]:
        """Return seconds until value, and until yield, came to a share of their last for good."""
        return self._until(1, percent), self._until(2, percent)

    def _until(self, column: int, percent: float) -> float:
        wanted = self.seen[-1][column] * percent / 100
        below = [i for i, row in enumerate(self.seen) if row[column] < wanted]
        return self.seen[below[-1] + 1 if below else 0][0]


class Memory:
    """The most memory that this process and those it started held together, sampled."""

    def __init__(self) -> None:
        self.peak_bytes = 0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Memory:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _watch(self) -> None:
        me = psutil.Process()
        while not self._over.wait(EVERY_SECONDS):
            self.peak_bytes = max(self.peak_bytes, _held([me, *me.children(recursive=True)]))


def _held(processes: Sequence[psutil.Process]) -> int:
    total = 0
    for process in processes:
        try:
            total += process.memory_info().rss
        except psutil.NoSuchProcess:
            continue
    return total
