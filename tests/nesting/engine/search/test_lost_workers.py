"""A search goes on as if nothing had happened when processes of it are killed, or asked to end."""

import time
from concurrent.futures import Executor, Future

import numpy as np
import pytest
from shapely.geometry import Polygon, box

import nesting.engine.search.meetings as meetings
from nesting.engine.pack import pack
from nesting.engine.search import crew
from nesting.engine.stop import FirstOf, MaxRounds, MaxSeconds, WhenAsked
from nesting.need import Need
from nesting.outline import Outline
from nesting.processes.workers import Workers, ended
from nesting.referee.check import check_plan
from nesting.rules import Rules
from nesting.stock.board import Board


@pytest.fixture(scope="module")
def job():
    """Steps of which no bound proves the best plan, so that the search goes on."""
    rng = np.random.default_rng(4)
    lengths = (900, 700, 800, 1000, 600)
    boards = [Board(f"B{i}", box(0, 0, x, 110), 30, "oak") for i, x in enumerate(lengths)]
    shapes = [
        Polygon([(0, 0), (x, 0), (x, 30), (x / 2, 30), (x / 2, 70), (0, 70)])
        for x in rng.uniform(150, 420, 8).round(1)
    ]
    needs = [Need(f"P{i}", "any", Outline(shape, 20), ("oak",)) for i, shape in enumerate(shapes)]
    return needs, boards, Rules()


@pytest.fixture(autouse=True)
def short_stretches(monkeypatch):
    monkeypatch.setattr(meetings, "STRETCH", 4)


ROUNDS = MaxRounds(14)


@pytest.fixture(scope="module")
def alone(job):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(meetings, "STRETCH", 4)
        plan = pack(*job, stop=ROUNDS, seed=3)
    assert not plan.ideal.is_proven_best, "or it might have ended before anything was lost"
    return plan


class Mortal(Workers):
    """Workers of which one is killed as often as a task is given to them, a moment later."""

    def __init__(self, count):
        super().__init__(count)
        self.given = 0

    def submit(self, work, /, *args, **named):
        future = super().submit(work, *args, **named)
        self.given += 1
        if self.given > len(self._processes) + 1:  # Not while they read the problem.
            ended(self._processes[self.given % len(self._processes)])
        return future


def test_plan_is_the_same_when_processes_are_killed(job, alone, monkeypatch):
    crews, workers = [], 3

    def mortal(count):
        crews.append(Mortal(count))
        return crews[-1]

    monkeypatch.setattr(crew, "Workers", mortal)
    assert pack(*job, stop=ROUNDS, seed=3, workers=workers) == alone
    assert [c.lost for c in crews] == [workers - 1]


class Broken(Executor):
    """An executor that takes no task, or never does what it took."""

    def __init__(self, is_refusing):
        self.is_refusing = is_refusing

    def submit(self, work, /, *args, **named):
        if self.is_refusing:
            raise RuntimeError("shut down")
        future = Future()
        future.set_exception(OSError("the other end is gone"))
        return future


@pytest.mark.parametrize("is_refusing", [True, False])
def test_plan_is_the_same_when_a_cluster_breaks(job, alone, is_refusing):
    assert pack(*job, stop=ROUNDS, seed=3, executor=Broken(is_refusing)) == alone


class Silent(Executor):
    """An executor that never answers."""

    def submit(self, work, /, *args, **named):
        return Future()


@pytest.mark.parametrize("is_asked", [True, False])
def test_search_that_is_over_waits_for_nobody_for_long(job, monkeypatch, is_asked):
    monkeypatch.setattr(crew, "PATIENCE_SECONDS", 0.3)
    asked = WhenAsked()
    stop = FirstOf([asked, MaxRounds(10**6)]) if is_asked else MaxSeconds(1.0)

    def ask(progress):
        asked.is_asked = True

    begun = time.monotonic()
    plan = pack(
        *job, stop=stop, workers=2, executor=Silent(), on_progress=ask if is_asked else None
    )
    assert time.monotonic() - begun < 15
    assert check_plan(plan, job[0], job[2]) == ()
    assert plan.nests


def test_end_that_is_asked_for_in_the_middle_of_a_stretch_comes_at_once(job):
    """Under a limit in rounds a stretch is over when its rounds are, however long they take."""
    asked, looks = WhenAsked(), []

    class Asks(MaxRounds):
        def share_used(self, rounds):
            looks.append(rounds)
            asked.is_asked = len(looks) > 400
            return super().share_used(rounds)

    stop = FirstOf([Asks(10**6), asked])
    plan = pack(*job, stop=stop, seed=3)
    assert 400 < len(looks) < 800
    assert plan.nests


def test_interruption_before_the_first_plan_is_no_plan(job, monkeypatch):
    from nesting.engine.search.lanes import Searcher

    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(Searcher, "construct", interrupted)
    with pytest.raises(KeyboardInterrupt):
        pack(*job, stop=MaxRounds(5))
