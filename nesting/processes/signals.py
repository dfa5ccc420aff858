"""What ends a program from outside: Ctrl-C, SIGTERM, SIGHUP; and what holds them back."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

SIGNALS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
"""Those that ask for an end and can be answered."""

NAMES = {"SIGINT": "Ctrl-C"}
"""What people call them."""


def name_of(number: int) -> str:
    """Return what people call a signal.

    >>> name_of(signal.SIGINT), name_of(signal.SIGTERM)
    ('Ctrl-C', 'SIGTERM')
    """
    name = signal.Signals(number).name
    return NAMES.get(name, name)


@contextmanager
def signals_held() -> Iterator[None]:
    """Let nothing that asks for an end come between; what came is answered afterwards."""
    came: list[int] = []
    before = answered_by(lambda number, _: came.append(number))
    try:
        yield
    finally:
        put_back(before)
        for number in dict.fromkeys(came):
            signal.raise_signal(number)


def answered_by(handler: signal.Handlers | object) -> dict[int, object]:
    """Let a handler answer the signals and return what answered them; ignored ones stay so.

    A signal that is ignored was meant to be (``nohup``), but for Ctrl-C: shells ignore it for
    whatever runs in the background. Only the main thread may answer; elsewhere nothing changes.
    """
    before: dict[int, object] = {}
    if threading.current_thread() is not threading.main_thread():
        return before
    for number in SIGNALS:
        present = signal.getsignal(number)
        is_meant = present is signal.SIG_IGN and number != signal.SIGINT
        if present is not None and not is_meant:
            before[number] = present
            signal.signal(number, handler)  # type: ignore[arg-type]
    return before


def put_back(before: dict[int, object]) -> None:
    """Let the signals be answered as they were."""
    for number, handler in before.items():
        signal.signal(number, handler)  # type: ignore[arg-type]


@contextmanager
def signals_blocked() -> Iterator[None]:
    """Block the signals in this thread, and in every process that is started meanwhile."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
