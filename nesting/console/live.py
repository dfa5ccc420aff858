"""How far a long piece of work or a search has come, on a line that is kept up to date."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from nesting.ideal import Ideal
from nesting.units import Unit
from nesting.words import counted
from nesting.work import Tell, plain_lines, untold
from nesting.written_measures import format_area

if TYPE_CHECKING:
    from nesting.engine.progress import Progress as SearchProgress


@contextmanager
def live_work(console: Console, *, is_shown: bool) -> Iterator[Tell]:
    """Yield what shows the steps of a long piece of work while it goes on.

    One line of the terminal is kept up to date; where there is no terminal, a plain line is
    written every few seconds.
    """
    if not is_shown:
        yield untold
    elif console.is_terminal:
        told = TextColumn("{task.description}", markup=False)
        columns = (SpinnerColumn(), told, TimeElapsedColumn())
        with Progress(*columns, console=console, transient=True) as line:
            task = line.add_task("beginning", total=None)
            yield lambda step: line.update(task, description=str(step))
    else:
        with plain_lines(lambda text: console.out(text, highlight=False)) as tell:
            yield tell


@contextmanager
def live_search(
    console: Console, unit: Unit = Unit.MM, *, is_shown: bool
) -> Iterator[ProgressLine]:
    """Yield a callback for the search that keeps one line of the terminal up to date."""
    bar = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(bar_width=24), console=console,
        transient=True, disable=not is_shown,
    )  # fmt: skip
    with bar:
        yield ProgressLine(bar, unit)


class ProgressLine:
    """One live line: parts placed, value and its bound, yield, rounds, time left."""

    def __init__(self, bar: Progress, unit: Unit) -> None:
        self._bar = bar
        self._unit = unit
        self._task = bar.add_task("starting", total=1.0)

    def say(self, what: str) -> None:
        """Show what goes on before there is a plan."""
        self._bar.update(self._task, description=what, refresh=True)

    def __call__(self, progress: SearchProgress) -> None:
        """Show where the search stands."""
        left = "" if progress.seconds_left is None else f", {progress.seconds_left:.0f} s left"
        self._bar.update(
            self._task,
            completed=progress.share_used,
            description=f"{progress.placed} of {counted(progress.wanted, 'part')} placed, "
            f"{_standing(progress.ideal, self._unit)}, yield {progress.yield_percent:.1f} %, "
            f"round {progress.rounds}{left}",
        )


def _standing(ideal: Ideal, unit: Unit) -> str:
    """Return the value placed and the bound that limits the plan just now."""
    if not ideal.is_value_met:
        return f"value {ideal.value:.4g} of at most {ideal.most_value:.4g} ({ideal.limit})"
    opened, least = (format_area(area, unit) for area in (ideal.opened_mm2, ideal.least_opened_mm2))
    bound = f", at least {least}" if ideal.is_wood_reckoned else ""
    return f"value {ideal.value:.4g}, the most; wood {opened}{bound}"
