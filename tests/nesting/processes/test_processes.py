"""Processes that work beside this one: lost, orphaned, left alone by signals."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import CancelledError
from pathlib import Path

import pytest

from nesting.processes.workers import WorkerLostError, Workers, answers

ROOT = Path(__file__).parents[3]


def squared(number):
    return number * number


def own_number(_=None):
    return os.getpid()


def die(first_go):
    """End this process by force the first time, and answer the second."""
    if not Path(first_go).exists():
        Path(first_go).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return "done"


def die_away_from(home):
    if os.getpid() != home:
        os.kill(os.getpid(), signal.SIGKILL)
    return "done here"


def wrong(_):
    raise ValueError("no such thing")


def untold(_):
    class LocalError(Exception):
        pass

    raise LocalError("cannot travel")


def survive(number):
    os.kill(os.getpid(), number)
    return number


def test_answers_come_in_the_order_asked():
    with Workers(2) as workers:
        assert list(answers(workers, squared, range(20))) == [n * n for n in range(20)]
        assert workers.lost == 0


def test_task_of_a_killed_process_goes_to_another(tmp_path):
    with Workers(2) as workers:
        assert workers.submit(die, str(tmp_path / "gone")).result(20) == "done"
        assert workers.lost == 1
        assert list(answers(workers, squared, range(5))) == [0, 1, 4, 9, 16]


def test_where_no_process_is_left_the_work_is_done_here():
    with Workers(2) as workers:
        home = os.getpid()
        assert list(answers(workers, die_away_from, [home, home])) == ["done here"] * 2
        with pytest.raises(WorkerLostError, match="no process is left"):
            workers.submit(squared, 2).result(5)
        assert list(answers(workers, squared, [3])) == [9]


def test_error_of_the_work_is_no_lost_process():
    with Workers(1) as workers:
        with pytest.raises(ValueError, match="no such thing"):
            workers.submit(wrong, 1).result(20)
        with pytest.raises(RuntimeError, match="cannot travel"):
            workers.submit(untold, 1).result(20)
        with pytest.raises(ValueError, match="no such thing"):
            list(answers(workers, wrong, [1]))
        assert workers.submit(squared, 3).result(20) == 9
        assert workers.lost == 0


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_signals_of_a_terminal_or_a_group_are_left_to_the_process_that_keeps_the_plan(number):
    with Workers(1) as workers:
        assert workers.submit(survive, number).result(20) == number


def test_ending_waits_for_nobody():
    workers = Workers(1)
    slow = workers.submit(time.sleep, 60)
    waiting = workers.submit(squared, 2)
    workers.shutdown()
    with pytest.raises((WorkerLostError, CancelledError)):  # It would have a result by its end.
        slow.result(0)
    with pytest.raises((WorkerLostError, CancelledError)):
        waiting.result(0)


PARENT = """
import os, sys, time
from nesting.processes.workers import Workers
if __name__ == "__main__":
    workers = Workers(2)
    print(*(p.pid for p in workers._processes), flush=True)
    if sys.argv[1] == "busy":
        print(*(workers.submit(os.getpid).result() > 0 for _ in range(4)), flush=True)
        for _ in range(2):
            workers.submit(time.sleep, 60)
    time.sleep(60)
"""


@pytest.mark.parametrize("state", ["starting", "busy"])
def test_processes_end_with_their_parent_and_hold_no_stream_of_it(tmp_path, state):
    path = tmp_path / "parent.py"
    path.write_text(PARENT)
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, str(path), state], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        text=True, env=environment,
    ) as parent:  # fmt: skip
        numbers = [int(word) for word in parent.stdout.readline().split()]
        if state == "busy":
            parent.stdout.readline()
        parent.kill()
        end = time.monotonic() + 30  # They would sleep for 60.
        assert parent.stdout.read() == "", "and not a word of it"
        assert time.monotonic() < end
    while any(map(is_alive, numbers)) and time.monotonic() < end:
        time.sleep(0.02)
    assert not any(map(is_alive, numbers))


def is_alive(number):
    try:
        state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


GROUP = """
import os, signal, sys, time
from nesting.processes.workers import Workers
if __name__ == "__main__":
    signal.signal(signal.SIGINT, lambda *_: came.append(1))
    came = []
    workers = Workers(1)
    print("started", flush=True)
    assert workers.submit(abs, -3).result() == 3
    while not came:
        time.sleep(0.01)
    print(workers.lost, len(came) > 0)
    workers.shutdown()
"""


def test_ctrl_c_to_the_group_while_processes_start_harms_none_of_them(tmp_path):
    path = tmp_path / "group.py"
    path.write_text(GROUP)
    for delay in (0.0, 0.03, 0.1):
        with subprocess.Popen(
            [sys.executable, str(path)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, env=os.environ | {"PYTHONPATH": str(ROOT)}, start_new_session=True,
        ) as parent:  # fmt: skip
            assert parent.stdout.readline() == "started\n"
            time.sleep(delay)
            os.killpg(parent.pid, signal.SIGINT)
            assert parent.communicate(timeout=30)[0] == "0 True\n"
            assert parent.returncode == 0
