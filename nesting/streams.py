r"""What a program prints to, made safe: it may be closed, full, unread, or know few letters.

Whoever closes or fills standard output gets a sentence and an exit code, never a traceback, and
standard error is never worth losing a plan for. A letter that the terminal's encoding has not is
written out, as ``\u0141``.
"""

from __future__ import annotations

import io
import os
import re
import sys
import textwrap
from typing import Any, TextIO

from nesting.errors import OutputError


class _Pipe(io.RawIOBase):
    """Writes to a file of the system; says in words what fails, once, and then takes all."""

    def __init__(self, number: int, *, is_open: bool, is_quiet: bool) -> None:
        self._number = number
        self._is_open = is_open
        self._is_quiet = is_quiet
        self._is_over = False

    def writable(self) -> bool:
        return True

    def isatty(self) -> bool:
        return self._is_open and os.isatty(self._number)

    def fileno(self) -> int:
        return self._number

    def write(self, content: Any) -> int:
        """Write some of what is given; after a failure the rest goes nowhere."""
        size = memoryview(content).nbytes
        if self._is_over:
            return size
        try:
            if not self._is_open:
                raise OutputError("standard output is closed: what should be printed is lost")
            return os.write(self._number, content)
        except OSError as error:
            self._is_over = True
            if self._is_quiet:
                return size
            if isinstance(error, BrokenPipeError | OutputError):
                raise
            raise OutputError(
                f"standard output cannot be written ({error.strerror}): what should be printed "
                "is lost"
            ) from error


def make_safe() -> None:
    """Put safe streams in the place of standard output and error."""
    is_open = [_is_open(number) for number in range(3)]
    for number in range(3):
        if not is_open[number]:
            # Else the next file that is opened, a cut sheet, would get what is printed.
            os.dup2(os.open(os.devnull, os.O_RDWR), number)
    sys.stdout = _stream(_apart(1), sys.stdout, is_open=is_open[1], is_quiet=False)
    sys.stderr = _stream(2, sys.stderr, is_open=is_open[2], is_quiet=True)


def _apart(number: int) -> int:
    """Return another number for a file of the system; what else is written to it goes nowhere.

    A solver that is told to be quiet prints a line now and then all the same: into the JSON.
    """
    own = os.dup(number)
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, number)
    os.close(nothing)
    return own


def _is_open(number: int) -> bool:
    try:
        os.fstat(number)
    except OSError:
        return False
    return True


def _stream(number: int, before: TextIO | None, *, is_open: bool, is_quiet: bool) -> TextIO:
    pipe = _Pipe(number, is_open=is_open, is_quiet=is_quiet)
    return io.TextIOWrapper(
        io.BufferedWriter(pipe),
        encoding=before.encoding if before else "utf-8",
        errors="backslashreplace",
        line_buffering=is_quiet or pipe.isatty(),
    )


def terminal_width(stream: TextIO) -> int | None:
    """Return how many letters a row of the terminal behind a stream holds; None if it is none."""
    try:
        if not stream.isatty():
            return None
        stated = os.environ.get("COLUMNS", "")
        return int(stated) if stated.isdecimal() else os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        return None


_ROW = re.compile(r"\S {2,}(?=\S)")
"""Between what a row of a list is about and what is said of it."""


def set_in(line: str, width: int) -> str:
    """Return a line of prose in rows of a width at the most, parted between words.

    A word that is longer stays whole, as a path does, and so does a line that is no prose: data
    for other programs and pieces of files begin with a blank, a quote or a bracket. A row of a
    list, whose prose follows two blanks, goes on below its prose.

    >>> print(set_in("3 pieces stay, 2 moved (0 of them to another board)", 30))
    3 pieces stay, 2 moved (0 of
      them to another board)
    """
    if len(line) <= width:
        return line
    heads = [row.end() for row in _ROW.finditer(line)] if line.lstrip(" ")[:1].isalnum() else []
    if not (heads or line[:1].isalnum()):
        return line
    below = max((end for end in heads if end <= width // 2), default=2)
    return textwrap.fill(
        line, width, subsequent_indent=" " * below, break_long_words=False, break_on_hyphens=False,
        expand_tabs=False, replace_whitespace=False,
    )  # fmt: skip
