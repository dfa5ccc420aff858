"""Which lane is searched where, with what time, and how long an answer is waited for."""

import math
import pickle
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from types import SimpleNamespace

import pytest

from nesting.engine.search import crew
from nesting.engine.search.lanes import Reached


@dataclass(frozen=True)
class Stretch:
    """A stretch of a lane by its name; ``late``: how much of its time is over."""

    lane: str
    late: float = 0.0
    current: str = "as it was"
    best: str = "best so far"

    def later_by(self, seconds):
        return replace(self, late=self.late + seconds)


class Searcher:
    """Says of each lane by whom it was searched, and how late."""

    def __init__(self, who):
        self.who = who
        self.problem = SimpleNamespace(needs=(), boards=(), rules=None, steered=None)

    def search(self, stretch, is_ended=None):
        return self.who, stretch.lane, stretch.late


class There(Executor):
    """Does what it is given a second later, as another process would, or never."""

    def __init__(self, clock=(), silent=()):
        self.clock, self.silent, self.given = clock, silent, []

    def submit(self, work, stretch):
        future = Future()
        self.given.append(future)
        if stretch.lane not in self.silent:
            self.clock[0] += 1.0
            future.set_result(work(stretch))
        return future


LANES = [Stretch("a"), Stretch("b"), Stretch("c")]


@pytest.fixture
def clock(monkeypatch):
    """A clock that is put forward by hand."""
    now = [100.0]
    monkeypatch.setattr(crew, "time", SimpleNamespace(monotonic=lambda: now[0]))
    monkeypatch.setattr(crew, "_searcher", lambda given: pickle.loads(given) and Searcher("there"))
    return now


def searched(clock, executor, *, is_alone=False, **more):
    def meanwhile():
        clock[0] += 2.0
        return "done"

    made = crew.Crew(Searcher("here"), executor, is_alone=is_alone)
    found, done = made.search(LANES, meanwhile, **more)
    assert done == "done"
    return found


def test_without_other_processes_all_is_searched_here_after_what_was_to_be_done(clock):
    assert searched(clock, None) == [("here", lane, 2.0) for lane in "abc"]


def test_one_lane_is_searched_here_beside_processes_of_this_machine(clock):
    found = searched(clock, There(clock), is_alone=True)
    assert found == [("here", "a", 4.0), ("there", "b", 1.0), ("there", "c", 2.0)]


def test_cluster_has_all_lanes_and_a_clock_of_its_own(clock):
    assert searched(clock, There(clock)) == [("there", lane, 0.0) for lane in "abc"]


def test_process_that_begins_late_has_less_time_where_its_clock_is_the_same(clock):
    given = pickle.dumps(["a problem"])
    assert crew._done_there(given, 97.0, LANES[0]) == ("there", "a", 3.0)
    assert crew._done_there(given, None, LANES[0]) == ("there", "a", 0.0)


def test_lane_that_nobody_takes_is_searched_here_in_the_time_that_is_left(clock, monkeypatch):
    monkeypatch.setattr(crew, "submitted", lambda *_: None)
    assert searched(clock, There()) == [("here", lane, 2.0) for lane in "abc"]


@pytest.mark.parametrize("silent", ["a", "b"])
def test_answer_that_does_not_come_leaves_the_lane_as_it_was(clock, silent):
    there = There(clock, silent)
    found = searched(clock, there, is_ended=lambda: True, patience=0.0)
    late = Reached("as it was", "best so far", math.inf)
    assert found == [late if lane == silent else ("there", lane, 0.0) for lane in "abc"]
    assert [future.cancelled() for future in there.given] == [lane == silent for lane in "abc"]


def test_answer_is_waited_for_until_so_long_after_the_end():
    ended, now = [False], [0.0]
    is_given_up = crew._given_up(lambda: ended[0], 3.0, lambda: now[0])
    now[0] = 50.0
    assert not is_given_up()
    ended[0] = True
    assert not is_given_up()
    now[0] = 52.9
    ended[0] = False  # Once over, it stays over.
    assert not is_given_up()
    now[0] = 53.0
    assert is_given_up()


def test_crew_is_one_process_less_than_it_has_workers(monkeypatch):
    begun = []

    class Own(There):
        def __init__(self, count):
            super().__init__()
            begun.append(count)

        def submit(self, work, given):
            begun.append(work)

        def __exit__(self, *_):
            begun.append("ended")

    monkeypatch.setattr(crew, "Workers", Own)
    with crew.crew_of(Searcher("here"), 3) as made:
        assert begun == [2, crew._prepared_there, crew._prepared_there]
        assert made._is_alone
    assert begun[-1] == "ended"
    begun.clear()
    with crew.crew_of(Searcher("here"), 2) as made:
        assert made._is_alone
        assert begun[0] == 1
    begun.clear()
    for workers, executor in ((1, None), (8, There())):
        with crew.crew_of(Searcher("here"), workers, executor) as made:
            assert not made._is_alone
    assert begun == []


def test_process_that_has_met_a_problem_goes_on_with_what_it_knows(monkeypatch):
    made = []
    monkeypatch.setattr(crew, "Searcher", lambda *given: made.append(given) or len(made))
    monkeypatch.setattr(crew, "_met", crew._Met())
    first, second = (pickle.dumps([number]) for number in (1, 2))
    assert [crew._searcher(given) for given in (first, first, second, second)] == [1, 1, 2, 2]
    assert made == [(1,), (2,)]
