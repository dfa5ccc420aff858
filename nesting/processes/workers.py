"""Processes that work beside this one: they end with it, leave signals to it, and may be lost.

Ctrl-C and the like reach every process of a terminal; only the one that keeps the plan answers.
A process that is killed takes nothing along: its task is done by another, or here.
"""

from __future__ import annotations

import atexit
import os
import pickle
import signal
import sys
import threading
import weakref
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import connection, get_context, parent_process, resource_tracker
from multiprocessing.process import BaseProcess
from queue import SimpleQueue
from typing import Any, ParamSpec, TypeVar

from nesting.processes.garbage import look_rarely
from nesting.processes.signals import SIGNALS, signals_blocked, signals_held

P = ParamSpec("P")
T = TypeVar("T")
TaskT = TypeVar("TaskT")

MOST_TRIES = 2
"""Processes that may be lost over one task before nobody else is asked to do it."""

PR_SET_PDEATHSIG = 1
"""Linux, ``prctl(2)``: the signal that a process gets when its parent ends."""

_running: weakref.WeakSet[BaseProcess] = weakref.WeakSet()


class WorkerLostError(RuntimeError):
    """A process ended before it had done what was asked of it."""


def started(work: Callable[..., object], *pipes: connection.Connection) -> BaseProcess:
    """Start a process that does some work and ends with this one, also if this one is killed."""
    args = (os.getpid(), pickle.dumps(work), *pipes)
    process = get_context("spawn").Process(target=_beside, args=args, daemon=True)
    # Held as well as blocked: another thread may take a signal, which is answered in this one.
    with signals_held(), signals_blocked():
        # The tracker of multiprocessing unblocks signals when it is started: so first, and apart.
        resource_tracker.ensure_running()
        with signals_blocked():
            process.start()
        _running.add(process)
    return process


def ended(process: BaseProcess) -> None:
    """End a process at once."""
    process.kill()
    process.join()


@atexit.register
def _end_all() -> None:
    for process in list(_running):
        if process.is_alive():
            process.kill()


def _beside(parent: int, work: bytes, *pipes: connection.Connection) -> None:
    end_with_parent(parent)
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)
    # Who waits for the end of our output need not wait for this process.
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1):
        os.dup2(nothing, stream)
    look_rarely()
    pickle.loads(work)(*pipes)


def end_with_parent(parent: int | None = None) -> None:
    """Have this process killed when its parent ends, however that comes."""
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if parent is not None and hasattr(os, "getppid") and os.getppid() != parent:
        os._exit(1)
    above = parent_process()
    if above is not None:
        threading.Thread(target=_end_after, args=(above.sentinel,), daemon=True).start()


def _end_after(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


@dataclass
class _Task:
    """What one process is asked to do, and who waits for the answer."""

    content: Any
    future: Future[Any]
    tries: int = 0


class Workers(Executor):
    """So many processes that do tasks, or as many as can be started; lost ones stay lost.

    Where a process is lost its task goes to another one; where none is left, or several were
    lost over it, its future raises :class:`WorkerLostError`. :func:`answers` does it here then.
    """

    def __init__(self, count: int) -> None:
        self._tasks: SimpleQueue[_Task | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._processes: list[BaseProcess] = []
        self._threads: list[threading.Thread] = []
        self._left, self._is_over = 0, False
        try:
            for _ in range(count):
                with suppress(OSError):
                    self._start()
        except BaseException:
            self.shutdown()
            raise

    @property
    def lost(self) -> int:
        """How many processes were lost."""
        return len(self._processes) - self._left

    def _start(self) -> None:
        here, there = get_context("spawn").Pipe()
        process = started(_serve, there)
        there.close()
        self._processes.append(process)
        self._left += 1
        self._threads.append(threading.Thread(target=self._drive, args=(here,), daemon=True))
        self._threads[-1].start()

    def submit(self, work: Callable[P, T], /, *args: P.args, **named: P.kwargs) -> Future[T]:
        """Have a process do a task and return what will hold the answer."""
        task = _Task((work, args, named), Future())
        self._put(task)
        return task.future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End all processes at once; what is not answered by then never is."""
        self._is_over = True
        for process in self._processes:
            process.kill()
        for _ in self._threads:
            self._tasks.put(None)
        for thread in self._threads:
            thread.join()
        for process in self._processes:
            process.join()
        self._fail_all()

    def _put(self, task: _Task) -> None:
        with self._lock:
            if self._left and not self._is_over and task.tries < MOST_TRIES:
                self._tasks.put(task)
                return
        task.future.set_exception(WorkerLostError("no process is left to do it"))

    def _drive(self, pipe: connection.Connection) -> None:
        """Hand tasks to one process, until it is lost or there are no more."""
        while (task := self._tasks.get()) is not None:
            if not task.tries and not task.future.set_running_or_notify_cancel():
                continue
            try:
                content = pickle.dumps(task.content)
            except Exception as error:
                task.future.set_exception(error)
                continue
            try:
                pipe.send_bytes(content)
                answer = pipe.recv_bytes()
            except (EOFError, OSError):
                self._lose(task)
                break
            _answer(task.future, answer)
        pipe.close()

    def _lose(self, task: _Task) -> None:
        with self._lock:
            self._left -= 0 if self._is_over else 1
        task.tries += 1
        self._put(task)
        if not self._left:
            self._fail_all()

    def _fail_all(self) -> None:
        while not self._tasks.empty():
            task = self._tasks.get()
            if task is not None and (task.tries or task.future.set_running_or_notify_cancel()):
                task.future.set_exception(WorkerLostError("no process is left to do it"))


def _answer(future: Future[Any], content: bytes) -> None:
    """Hand over what a process answered: a result, or the error of the work itself."""
    try:
        is_done, answer = pickle.loads(content)
    except Exception as error:
        is_done, answer = False, error
    if is_done:
        future.set_result(answer)
    else:
        future.set_exception(answer)


def _serve(pipe: connection.Connection) -> None:
    """Do one task after another, until nobody asks any more."""
    with suppress(EOFError, OSError):
        while True:
            pipe.send_bytes(_done(pipe.recv_bytes()))


def _done(content: bytes) -> bytes:
    try:
        work, args, named = pickle.loads(content)
        return pickle.dumps((True, work(*args, **named)))
    except Exception as error:
        return _told(error)


def _told(error: Exception) -> bytes:
    try:
        return pickle.dumps((False, error))
    except Exception:  # Not every error can travel.
        return pickle.dumps((False, RuntimeError(repr(error))))


def answers(
    executor: Executor,
    work: Callable[[TaskT], T],
    tasks: Sequence[TaskT],
    here: Callable[[TaskT], T] | None = None,
) -> Iterator[T]:
    """Yield the answer to each task in order; what no process answers is done here.

    ``here``: how, if not by the work itself. An error of the work itself shows here again.
    """
    futures = [submitted(executor, work, task) for task in tasks]
    for future, task in zip(futures, tasks, strict=True):
        try:
            answer = None if future is None else (future.result(),)
        except Exception:
            answer = None
        yield (here or work)(task) if answer is None else answer[0]


def submitted(executor: Executor, work: Callable[[TaskT], T], task: TaskT) -> Future[T] | None:
    """Return what will hold the answer to a task, or None if the executor takes none."""
    try:
        return executor.submit(work, task)
    except Exception:  # Broken, shut down, or out of reach.
        return None
