"""How a program ends: at once, without its memory being taken apart."""

from __future__ import annotations

import atexit
import contextlib
import os
import sys
from typing import NoReturn


def leave(code: int) -> NoReturn:
    """End this process with an exit code, once all that is registered for its end is done.

    The system takes the memory back at once. Python would take apart all that it holds, piece by
    piece: a tenth of the time of a command on a book of 5,000 boards (2026-11-28).
    """
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        # Where nobody reads any more there is nothing to say it to.
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(code)
