"""How often Python looks for garbage that refers to itself."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

RARELY = (50_000, 20, 50)
"""New objects, and collections of them, after which it is looked for. A large project is a million
objects that all are kept: looking through them again and again takes a tenth of the time to read
it, and an eighth of the time to draw its sheets."""


@contextmanager
def unlooked() -> Iterator[None]:
    """Look for no garbage while this lasts: all that is made is kept to the end."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        # All that was made counts as old: else the next new thing has it all looked through, a
        # tenth of the time of a command on a book of 5,000 boards (2026-11-28).
        gc.freeze()
        gc.unfreeze()
        if was_on:
            gc.enable()


def look_rarely() -> None:
    """Look for garbage rarely in this process."""
    gc.set_threshold(*RARELY)
