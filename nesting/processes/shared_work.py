"""Tasks shared out between this process and others: each done once, in whichever has time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from typing import TypeVar

from nesting.processes.workers import submitted

T = TypeVar("T")
TaskT = TypeVar("TaskT")


def begun(
    executor: Executor | None, work: Callable[[TaskT], T], tasks: Sequence[TaskT]
) -> list[Future[T] | None]:
    """Return what will hold what each task comes to; None for those that nobody else does."""
    if executor is None:
        return [None] * len(tasks)
    return [submitted(executor, work, task) for task in tasks]


def shared_out(
    answers: Sequence[Future[T] | None],
    work: Callable[[TaskT], T],
    tasks: Sequence[TaskT],
    tell: Callable[[int], None],
) -> Iterator[T]:
    """Yield what each task comes to; this process does its share, from the last one on.

    ``tell`` is told how many are done.
    """
    elsewhere, here = list[None](), dict[int, T]()

    def note(answer: Future[T]) -> None:
        if not answer.cancelled():
            elsewhere.append(None)

    for answer in answers:
        if answer is not None:
            answer.add_done_callback(note)
    for number in reversed(range(len(answers))) if any(answers) else range(len(answers)):
        answer = answers[number]
        if answer is not None and not answer.cancel():
            break
        here[number] = work(tasks[number])
        tell(len(here) + len(elsewhere))
    for number, (answer, task) in enumerate(zip(answers, tasks, strict=True)):
        yield here[number] if number in here else _given(answer, work, task)
        tell(len(here) + len(elsewhere))


def _given(answer: Future[T] | None, work: Callable[[TaskT], T], task: TaskT) -> T:
    """Return what another process found, or what is found here; its own errors show here."""
    try:
        if answer is not None:
            return answer.result()
    except Exception:  # A process was lost over it, or could not do it.
        pass
    return work(task)
