"""Lanes of a strip search: how they race, what they go on from, how long, and what is told."""

import pickle

import numpy as np
import pytest

from nesting.engine.stop import MaxRounds, MaxSeconds
from nesting.engine.strip import strip_lanes
from nesting.engine.strip.strip import Standing, Strip
from nesting.engine.strip.strip_lanes import (
    BEHIND,
    HEATS,
    LANES,
    RACE,
    STRETCH,
    STRETCH_SECONDS,
    StripReached,
    StripStretch,
    shortest_strip,
)


def reached(length, *seen):
    return StripReached(Standing(Strip(length, np.zeros((1, 5)), (0,))), seen)


class Search:
    """A search whose first layout is 100 long, and no layout shorter than 50."""

    bound = 50.0
    shapes = items = ()
    width, gap = 10.0, 0.0

    def __init__(self, *_):
        pass

    def started(self, _):
        return Strip(100.0, np.zeros((1, 5)), (0,))


@pytest.fixture
def walks(monkeypatch):
    """Have stretches end at given lengths; keep what each was."""
    seen, lengths = [], []

    def walked(search, stretch):
        seen.append(stretch)
        usual = stretch.start.length if stretch.start else 99.0
        length = lengths.pop(0) if lengths else usual
        return reached(length, (0.5, length))

    monkeypatch.setattr(strip_lanes, "StripSearch", Search)
    monkeypatch.setattr(strip_lanes, "_walked", walked)
    return seen, lengths


def run(stop, **more):
    return shortest_strip((), (), 10.0, 0.0, stop, **more)


def test_in_the_race_every_stretch_begins_anew_and_then_the_best_of_all_go_on(walks):
    """Of a hundred rounds twenty are the race: two lanes begin anew once, and go on four times."""
    seen, lengths = walks
    lengths += [80.0, 70.0, 60.0, 65.0]
    assert run(MaxRounds(100)).length == 60.0
    assert len(seen) == LANES * 100 // STRETCH
    assert [one.start for one in seen[:LANES]] == [None, None]
    assert [one.start.length for one in seen[LANES : 2 * LANES]] == [70.0, 70.0]
    assert all(one.start is not None for one in seen[LANES:])


def test_a_longer_race_has_more_heats_of_which_the_best_are_remembered(walks):
    seen, lengths = walks
    lengths += [80.0, 70.0, 90.0, 85.0]
    run(MaxRounds(200))
    assert [one.start for one in seen[: 2 * LANES]] == [None] * 2 * LANES
    assert seen[2 * LANES].start.length == 70.0
    assert RACE * 200 == 2 * STRETCH


def test_chance_goes_by_seed_lane_and_round(walks):
    seen, _ = walks
    run(MaxRounds(60), seed=4)
    chances = [one.chance for one in seen]
    assert chances == [(4, lane, begun) for begun in (0, 20, 40) for lane in (0, 1)]


def test_search_ends_where_a_strip_is_short_enough_or_as_short_as_can_be(walks):
    seen, lengths = walks
    lengths += [80.0, 75.0]
    assert run(MaxRounds(1000), enough=75.0).length == 75.0
    assert len(seen) == LANES
    lengths += [50.0 + 5e-7, 60.0]
    assert run(MaxRounds(1000)).length < 50.0 + 1e-6
    assert len(seen) == 2 * LANES
    assert {one.enough for one in seen[:LANES]} == {75.0}
    assert {one.enough for one in seen[LANES:]} == {50.0 + 1e-6}


@pytest.mark.parametrize(("stop", "enough"), [(MaxRounds(0), 0.0), (MaxRounds(9), 100.0)])
def test_first_layout_is_all_where_nothing_is_to_follow(walks, stop, enough):
    seen, _ = walks
    assert run(stop, enough=enough).length == 100.0
    assert seen == []


def test_every_strip_is_told_with_the_seconds_since_the_start(walks):
    _, lengths = walks
    lengths += [80.0, 70.0]
    told = []
    run(MaxRounds(20), seen=lambda seconds, length: told.append((seconds, length)))
    assert [length for _, length in told] == [100.0, 70.0, 80.0]
    assert told[0][0] < 0.5
    assert all(0.5 <= seconds < 1.0 for seconds, _ in told[1:])


@pytest.mark.parametrize(
    ("lengths", "count", "gone_on_from"),
    [
        ([50.0, 50.1, 50.2], 3, [50.0, 50.1, 50.0]),
        ([50.0, 50.0 * (1 + BEHIND), 60.0], 3, [50.0, 50.0 * (1 + BEHIND), 50.0]),
        ([50.0], 2, [50.0, 50.0]),
        ([50.0, 50.1, 50.1], 2, [50.0, 50.1]),
    ],
)
def test_lane_far_behind_goes_on_from_the_best(lengths, count, gone_on_from):
    lanes = strip_lanes._lanes([reached(length) for length in lengths], count)
    assert [lane.length for lane in lanes] == gone_on_from


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


@pytest.mark.parametrize(
    ("now", "is_race", "limit"),
    [
        (0.0, True, RACE * 60 / HEATS),
        (0.0, False, STRETCH_SECONDS),
        (55.0, False, 5.0),
        (58.0, True, 2.0),
        (61.0, False, 0.0),
    ],
)
def test_stretch_goes_on_for_some_seconds_or_as_long_as_there_is_time(now, is_race, limit):
    clock = Clock()
    stop = MaxSeconds(60.0, clock)
    clock.now = now
    assert strip_lanes._limit(stop, 0, 60.0, is_race=is_race) == pytest.approx(limit)


@pytest.mark.parametrize(("rounds", "limit"), [(0, 20), (20, 20), (40, 5), (44, 1)])
def test_stretch_goes_on_for_twenty_rounds_or_as_many_as_are_left(rounds, limit):
    found = strip_lanes._limit(MaxRounds(45), rounds, None, is_race=False)
    assert found == MaxRounds(limit)


class Walking(Search):
    """Notes how it is asked to go on."""

    def started(self, rng):
        self.chance = rng
        return super().started(rng)

    def improved(self, standing, rng, stop, note, enough):
        self.asked = standing, rng, stop, enough
        note(Strip(40.0, np.zeros((1, 5)), (0,)))
        return Standing(Strip(40.0, np.zeros((1, 5)), (0,)))


def test_stretch_begun_anew_notes_its_first_strip_and_every_shorter_one():
    search = Walking()
    found = strip_lanes._walked(search, StripStretch(None, MaxRounds(7), (1, 2, 3), 45.0))
    assert [length for _, length in found.seen] == [100.0, 40.0]
    assert 0.0 <= found.seen[0][0] <= found.seen[1][0] < 1.0
    assert found.length == 40.0
    _, rng, stop, enough = search.asked
    assert (stop, enough) == (MaxRounds(7), 45.0)
    assert rng is search.chance
    assert rng.random() == np.random.default_rng((1, 2, 3)).random()


def test_stretch_that_goes_on_begins_where_its_lane_stood():
    search, start = Walking(), reached(60.0, (3.0, 60.0))
    found = strip_lanes._walked(search, StripStretch(start, 0.25, (1,), 0.0))
    assert search.asked[0] is start.standing
    assert isinstance(search.asked[2], MaxSeconds)
    assert search.asked[2].seconds == 0.25
    assert [length for _, length in found.seen] == [40.0]


def test_stretch_whose_process_was_lost_is_walked_here_unless_its_time_is_over(walks):
    seen, _ = walks
    start = reached(60.0, (3.0, 60.0))
    lost = StripStretch(start, 2.5, (1,), 0.0)
    assert strip_lanes._walked_instead(Search(), lost) == StripReached(start.standing, ())
    for stretch in (
        StripStretch(start, MaxRounds(9), (1,), 0.0),
        StripStretch(None, 2.5, (1,), 0.0),
    ):
        strip_lanes._walked_instead(Search(), stretch)
    assert len(seen) == 2


def test_processes_keep_the_search_of_the_last_problem_alone(monkeypatch):
    made = []
    monkeypatch.setattr(strip_lanes, "StripSearch", lambda *given: made.append(given) or given)
    monkeypatch.setattr(strip_lanes, "_walked", lambda search, _: search)
    monkeypatch.setattr(strip_lanes, "_searches", {})
    one, other = (pickle.dumps(given) for given in (("a", 1), ("b", 2)))
    assert strip_lanes._walk(one, None) == ("a", 1)
    strip_lanes._walk(one, None)
    assert made == [("a", 1)]
    strip_lanes._walk(other, None)
    strip_lanes._walk(one, None)
    assert made == [("a", 1), ("b", 2), ("a", 1)]
    assert len(strip_lanes._searches) == 1
