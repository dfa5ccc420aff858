"""What a signal does, by how far a run has come."""

import contextlib
import os
import signal
import sys

import pytest

from nesting.processes.interrupt import TOGETHER_SECONDS, Stage, Stopped, Stopping, signals_answered
from nesting.processes.signals import SIGNALS, signals_held

KINDS = pytest.mark.parametrize("number", SIGNALS, ids=lambda n: signal.Signals(n).name)


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@KINDS
def test_before_there_is_a_plan_it_ends_the_run(number, clock):
    stopping = Stopping(clock=clock)
    with pytest.raises(Stopped, match="before there was a plan: nothing was written") as stop:
        stopping(number)
    assert stop.value.code == 128 + number
    stopping(number)  # While that goes its way another one changes nothing.


@KINDS
def test_search_is_asked_to_end_however_often_it_comes(number, clock):
    stopping = Stopping(clock=clock)
    stopping.reach(Stage.SEARCHING)
    for _ in range(5):
        clock.now += 10
        stopping(number)
    assert stopping.asked.is_asked
    assert stopping.number == number


@KINDS
def test_first_while_it_is_written_lets_it_be_written_and_the_second_does_not(number, clock):
    stopping = Stopping(clock=clock)
    stopping.reach(Stage.WRITING)
    stopping(number)
    clock.now += TOGETHER_SECONDS / 2
    stopping(number)  # A wrapper's, of the same press.
    clock.now += 1
    with pytest.raises(Stopped, match="what was in the folder is as it was"):
        stopping(number)


def test_second_counts_from_the_search_on(clock):
    stopping = Stopping(clock=clock)
    stopping.reach(Stage.SEARCHING)
    stopping(signal.SIGTERM)
    clock.now += 1
    stopping.reach(Stage.WRITING)
    with pytest.raises(Stopped, match="stopped by Ctrl-C while the plan was written"):
        stopping(signal.SIGINT)
    assert stopping.number == signal.SIGTERM


def test_once_written_it_only_ends_the_telling(clock):
    stopping = Stopping(clock=clock)
    stopping.reach(Stage.WRITTEN)
    with pytest.raises(Stopped, match="after the plan was written"):
        stopping(signal.SIGINT)


def test_ignored_hangup_stays_ignored_but_ctrl_c_is_answered():
    before = [signal.signal(n, signal.SIG_IGN) for n in (signal.SIGHUP, signal.SIGINT)]
    try:
        with signals_answered(Stage.SEARCHING) as stopping:
            os.kill(os.getpid(), signal.SIGHUP)
            assert stopping.number is None
            os.kill(os.getpid(), signal.SIGINT)
            assert stopping.number == signal.SIGINT
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        for number, handler in zip((signal.SIGHUP, signal.SIGINT), before, strict=True):
            signal.signal(number, handler)


def test_end_that_a_library_takes_for_its_own_error_is_an_end_all_the_same():
    with pytest.raises(Stopped, match="before there was a plan"), signals_answered():
        try:
            signal.raise_signal(signal.SIGTERM)
        except KeyboardInterrupt as error:
            raise ImportError("half of a library") from error


def test_error_that_no_signal_made_stays_what_it_is():
    with pytest.raises(ImportError), signals_answered(Stage.SEARCHING) as stopping:
        stopping(signal.SIGTERM)
        raise ImportError("a library that is not there")


def test_end_that_was_swallowed_can_be_asked_for_again(clock):
    stopping = Stopping(clock=clock)
    with pytest.raises(Stopped):
        stopping(signal.SIGTERM)
    clock.now += 1
    stopping(signal.SIGTERM)  # It is clearing away.
    clock.now += 10
    with pytest.raises(Stopped):
        stopping(signal.SIGTERM)


@KINDS
def test_held_signal_is_answered_afterwards_once(number):
    done = []
    with signals_answered(Stage.WRITING) as stopping:
        stopping.number = number
        with pytest.raises(Stopped), signals_held():
            for _ in range(3):
                signal.raise_signal(number)
            done.append("all of it")
    assert done == ["all of it"]


@KINDS
def test_end_that_was_swallowed_ends_the_run_at_its_next_stage(number):
    with pytest.raises(Stopped, match="before there was a plan"), signals_answered() as stopping:
        with contextlib.suppress(Stopped):
            stopping(number)
        stopping.reach(Stage.SEARCHING)


def test_end_that_a_callback_swallowed_is_no_traceback_and_other_errors_still_are():
    """As a callback of the compiler's library does, from which nothing can be raised."""

    class Told:
        def __init__(self, error):
            self.error = error

        def __del__(self):
            raise self.error

    seen = []
    before, sys.unraisablehook = sys.unraisablehook, seen.append
    try:
        with signals_answered():
            Told(Stopped(2, Stage.BEGINNING))
            Told(ValueError("another"))
        assert [type(one.exc_value) for one in seen] == [ValueError]
        assert sys.unraisablehook == seen.append
    finally:
        sys.unraisablehook = before
