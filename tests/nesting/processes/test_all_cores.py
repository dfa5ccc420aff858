"""The same work for many things in several processes: all of it, in order, whoever is lost."""

import os
import signal
from functools import partial

from nesting.processes.all_cores import on_all_cores


def squared(number):
    return number * number


def squared_elsewhere(number, here):
    """Die in any process but one."""
    if os.getpid() != here:
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def test_answers_come_in_the_order_of_things():
    assert on_all_cores(squared, range(50)) == [n * n for n in range(50)]
    assert on_all_cores(squared, []) == []


def test_what_lost_processes_leave_is_done_here():
    work = partial(squared_elsewhere, here=os.getpid())
    assert on_all_cores(work, range(5)) == [n * n for n in range(5)]
