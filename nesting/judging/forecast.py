"""What the pile will come to, before anything is pulled: many piles drawn by lot, each nested.

Each pile gets the first plan of a search, so chances are rather too low than too high: a real
pile is packed longer. For every part the share of piles that give it says how likely the real one
will, and how sure that is: by Wilson's interval for a share (E. B. Wilson, Journal of the American
Statistical Association 22, 1927; from memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, as_completed
from dataclasses import dataclass

import numpy as np

from nesting.engine.pack import placed_at_first
from nesting.judging.choice import Choice
from nesting.judging.piles import learnt_of, pieces_off, sampled_pile
from nesting.judging.recorded import Learnt
from nesting.need import Need
from nesting.processes.workers import Workers, submitted
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.work import Step, Tell, untold

PILES = 50
"""Drawn if nothing else is asked for: a share of one half is then known to 14 points."""

SURE_DEVIATIONS = 1.96
"""Of a normal distribution: 95 of 100 lie within."""


Placed = tuple[int, Counter[str]]
"""How many boards a pile has, and how many of each part it gives."""


@dataclass(frozen=True)
class Share:
    """A share of piles, and between which bounds the true chance lies with 95 % sureness."""

    count: float
    piles: int

    @property
    def chance(self) -> float:
        """The share itself."""
        return self.count / self.piles

    @property
    def bounds(self) -> tuple[float, float]:
        """Wilson's interval.

        >>> low, high = Share(5, 10).bounds
        >>> round(low, 3), round(high, 3)
        (0.237, 0.763)
        """
        z, n, p = SURE_DEVIATIONS, self.piles, self.chance
        middle = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
        return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True)
class PartForecast:
    """One part: how likely the pile gives all of it, and how much of it on an average."""

    need: Need
    all_of_it: Share
    mean_placed: float

    @property
    def to_buy(self) -> float:
        """How many will have to be bought on an average."""
        return self.need.quantity - self.mean_placed


@dataclass(frozen=True)
class Forecast:
    """What piles of a teardown give a parts list."""

    parts: tuple[PartForecast, ...]
    piles: int
    boards_mean: float
    placed: Sequence[Counter[str]]
    """For each pile, how many of each part it gave."""
    learnt: tuple[Learnt, ...] = ()
    """What recorded boards changed in the piles, by member."""


@dataclass(frozen=True)
class PileTask:
    """One pile to be drawn and nested: work for one process."""

    choice: Choice
    needs: tuple[Need, ...]
    rules: Rules
    recorded: tuple[Board, ...]
    learnt: Mapping[str, Learnt]
    seed: tuple[int, int]

    def placed(self) -> Placed:
        """Return how many boards there are, and how many of each part they give."""
        pieces = pieces_off(self.recorded)
        chance = np.random.default_rng(self.seed)
        drawn = sampled_pile(self.choice, chance, pieces, learnt=self.learnt)
        boards = (*self.recorded, *drawn)
        if not boards:
            return 0, Counter()
        return len(boards), placed_at_first(self.needs, boards, self.rules)


def done(task: PileTask) -> Placed:
    """Return what a task comes to, in any process."""
    return task.placed()


def forecast(
    choice: Choice,
    needs: Sequence[Need],
    rules: Rules,
    *,
    recorded: Sequence[Board] = (),
    piles: int = PILES,
    seed: int = 0,
    workers: int = 1,
    on_progress: Tell = untold,
) -> Forecast:
    """Return how likely each part is given by what the best choice saves.

    Parameters
    ----------
    recorded
        Boards that are off by now: each takes the place of one that would be drawn, and teaches
        what the others of its member may be like.
    piles
        How many are drawn, each by a chance of its own: workers change nothing.
    """
    learnt = learnt_of(choice, recorded)
    tasks = [
        PileTask(choice, tuple(needs), rules, tuple(recorded), learnt, (seed, number))
        for number in range(piles)
    ]
    found = _all_done(tasks, workers, lambda n: on_progress(Step("nesting piles", n, piles)))
    placed = [count for _, count in found]
    parts = tuple(_part(need, placed) for need in needs)
    boards_mean = sum(n for n, _ in found) / piles
    return Forecast(parts, piles, boards_mean, placed, tuple(learnt.values()))


def _part(need: Need, placed: Sequence[Counter[str]]) -> PartForecast:
    whole = sum(count[need.part] >= need.quantity for count in placed)
    mean = sum(min(count[need.part], need.quantity) for count in placed) / len(placed)
    return PartForecast(need, Share(whole, len(placed)), mean)


def _all_done(tasks: Sequence[PileTask], workers: int, tell: Callable[[int], None]) -> list[Placed]:
    if workers < 2:
        found = []
        for task in tasks:
            found.append(done(task))
            tell(len(found))
        return found
    with Workers(min(workers, len(tasks))) as helpers:
        answers = [submitted(helpers, done, task) for task in tasks]
        for number, _ in enumerate(as_completed([a for a in answers if a is not None]), start=1):
            tell(number)
        return [_given(answer, task) for answer, task in zip(answers, tasks, strict=True)]


def _given(answer: Future[Placed] | None, task: PileTask) -> Placed:
    """Return what another process found, or what is found here where that one was lost."""
    if answer is None or answer.exception() is not None:
        return done(task)
    return answer.result()
