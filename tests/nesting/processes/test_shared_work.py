"""Tasks shared out between this process and others: each done once, none left out."""

from __future__ import annotations

from concurrent.futures import Executor, Future

import pytest

from nesting.processes.shared_work import begun, shared_out


class Others(Executor):
    """Processes that have done the first few tasks, and lose or hold the next."""

    def __init__(self, done: int, lost: int = 0) -> None:
        self.left, self.lost = done, lost

    def submit(self, work, /, *args, **named):
        future = Future()
        if self.left > 0:
            future.set_running_or_notify_cancel()
            future.set_result(("elsewhere", *args))
        elif self.lost > 0:
            future.set_running_or_notify_cancel()
            future.set_exception(RuntimeError("lost"))
            self.lost -= 1
        self.left -= 1
        return future


@pytest.mark.parametrize(
    ("others", "wanted"),
    [
        (None, [0, 1, 2, 3, 4, 5]),
        (Others(0), [5, 4, 3, 2, 1, 0]),
        (Others(2), [5, 4, 3, 2]),
        (Others(2, lost=2), [5, 4, 2, 3]),
        (Others(6), []),
        (Others(0, lost=6), [0, 1, 2, 3, 4, 5]),
    ],
    ids=["alone", "too late", "two done", "two lost", "all done", "all lost"],
)
def test_every_task_is_done_once_and_told_in_its_order(others, wanted) -> None:
    tasks, told, here = list(range(6)), [], []

    def work(task):
        here.append(task)
        return ("here", task)

    found = list(shared_out(begun(others, work, tasks), work, tasks, told.append))
    assert here == wanted
    assert found == [("here" if task in wanted else "elsewhere", task) for task in tasks]
    assert told[-1] == 6
    assert told == sorted(told)
