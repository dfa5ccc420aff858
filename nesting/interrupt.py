"""Ctrl-C during a search: the first ends it after its round, the second at once."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager

from nesting.engine.stop import WhenAsked


@contextmanager
def ctrl_c_asks() -> Iterator[WhenAsked]:
    """Yield a stop rule that Ctrl-C sets; what Ctrl-C did before is put back afterwards."""
    asked = WhenAsked()

    def handle(*_: object) -> None:
        if asked.is_asked:
            raise KeyboardInterrupt
        asked.is_asked = True

    previous = signal.signal(signal.SIGINT, handle)
    try:
        yield asked
    finally:
        signal.signal(signal.SIGINT, previous)
