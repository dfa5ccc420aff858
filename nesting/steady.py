"""A stream that may go away, as a terminal that is closed does, without a word."""

from __future__ import annotations

import contextlib
import io
from typing import TextIO


class Steady(io.TextIOBase):
    """Writes into a stream as long as it can be written into."""

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """How the stream writes text."""
        return getattr(self._stream, "encoding", None) or "utf-8"

    def write(self, text: str) -> int:
        """Write what can be written."""
        with contextlib.suppress(OSError, ValueError):
            if self._stream is not None:
                self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Pass on what was written so far."""
        with contextlib.suppress(OSError, ValueError):
            if self._stream is not None:
                self._stream.flush()

    def isatty(self) -> bool:
        """Return whether it is a terminal, and there."""
        with contextlib.suppress(OSError, ValueError):
            return self._stream is not None and self._stream.isatty()
        return False

    def fileno(self) -> int:
        """Return the number by which the system knows the stream."""
        if self._stream is None:
            raise OSError("there is no such stream")
        return self._stream.fileno()
