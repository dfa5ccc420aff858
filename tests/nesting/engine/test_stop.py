"""When a search ends, by a clock that is set by hand; ``test_time_limits`` has what follows it."""

import pytest

from nesting.engine.stop import (
    FirstOf,
    MaxRounds,
    MaxSeconds,
    Spell,
    WhenAsked,
    kept_back,
    over_in,
)


class Clock:
    def __init__(self, now=100.0):
        self.now = now

    def __call__(self):
        return self.now


@pytest.mark.parametrize(
    ("limit", "done", "share"),
    [(4, 0, 0), (4, 1, 0.25), (4, 4, 1), (4, 6, 1.5), (1, 0, 0), (0, 0, 1)],
)
def test_rounds_are_used_up_one_by_one_and_none_are_used_up_at_once(limit, done, share):
    assert MaxRounds(limit).share_used(done) == share
    assert MaxRounds(limit).seconds_left() is None


def test_seconds_count_from_when_a_limit_is_made():
    clock = Clock()
    stop = MaxSeconds(8, clock)
    clock.now += 2
    assert (stop.share_used(1000), stop.seconds_left()) == (0.25, 6)
    clock.now += 8
    assert (stop.share_used(0), stop.seconds_left()) == (1.25, 0)


def test_seconds_count_from_an_earlier_moment_if_one_is_given():
    stop = MaxSeconds(8, Clock(), begun=96.0)
    assert (stop.share_used(0), stop.seconds_left()) == (0.5, 4)


def test_half_a_second_is_time_and_no_second_is_used_up_at_once():
    assert MaxSeconds(0.5, Clock()).share_used(0) == 0
    assert MaxSeconds(0, Clock()).share_used(0) == 1
    assert MaxSeconds(0, Clock()).seconds_left() == 0


def test_first_of_several_rules_ends_a_search():
    clock = Clock()
    both = FirstOf([MaxRounds(10), MaxSeconds(8, clock), MaxSeconds(4, clock)])
    assert (both.share_used(3), both.seconds_left()) == (0.3, 4)
    clock.now += 3
    assert (both.share_used(3), both.seconds_left()) == (0.75, 1)
    assert FirstOf([MaxRounds(10)]).seconds_left() is None


def test_search_ends_when_somebody_asks():
    asked = WhenAsked()
    assert (asked.share_used(9), asked.seconds_left()) == (0, None)
    asked.is_asked = True
    assert asked.share_used(0) == 1


@pytest.mark.parametrize(("seconds", "kept"), [(0, 0), (10, 0.8), (62.5, 5), (300, 5)])
def test_a_share_of_the_run_is_kept_back_for_what_follows_up_to_some_seconds(seconds, kept):
    assert kept_back(seconds) == pytest.approx(kept)


def test_seconds_pass_or_something_else_is_an_end():
    clock, ended = Clock(), []
    is_over = over_in(5, lambda: bool(ended), clock)
    clock.now = 104.9
    assert not is_over()
    clock.now = 105
    assert is_over()
    assert over_in(5, clock=clock)() is False
    assert over_in(None)() is False
    for seconds in (50, None):
        is_over = over_in(seconds, lambda: bool(ended), clock)
        ended.append("asked")
        assert is_over()
        ended.clear()


def test_a_spell_is_spent_too_where_what_it_was_spent_on_failed():
    clock = Clock()
    spell = Spell(10, clock)
    with pytest.raises(ValueError, match="no"), spell.begun():
        clock.now += 6
        raise ValueError("no")
    assert not spell.is_over()
    with spell.begun():
        assert spell.seconds_left == 4


def test_a_spell_without_limit_has_only_the_limit_of_the_moment():
    clock = Clock()
    spell = Spell(None, clock)
    with spell.begun():
        clock.now += 1e9
        assert not spell.is_over()
    with spell.begun(3):
        clock.now += 3
        assert spell.is_over()
