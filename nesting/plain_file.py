"""Files that somebody names, read: plain ones alone, and none without end.

A pipe waits for whoever writes into it, a device such as ``/dev/zero`` never ends, and a link may
lead to either: what is no plain file is told, not waited for.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

LARGEST_BYTES = 500_000_000
"""Of a file that this program wrote, and finds again where somebody may have put another."""


def plain_bytes(path: Path, most: int) -> bytes:
    """Return the bytes of a plain file.

    Parameters
    ----------
    most
        Bytes that it may have.

    Raises
    ------
    OSError
        If it cannot be read, is no plain file, or has more bytes; ``strerror`` says so in words.
    ValueError
        If no file can have such a name.
    """
    content = plain_start(path, most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"it is larger than {most / 1e6:g} MB", str(path))
    return content


def plain_start(path: Path, count: int) -> bytes:
    """Return so many bytes of a plain file at the most, from its start; raises as `plain_bytes`."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        kind = os.fstat(handle).st_mode
        if stat.S_ISDIR(kind):
            raise OSError(errno.EISDIR, "it is a folder, not a file", str(path))
        if not stat.S_ISREG(kind):
            raise OSError(errno.EINVAL, "it is no plain file", str(path))
        with open(handle, "rb", closefd=False) as stream:
            found: bytes | None = stream.read(count)
        if found is None:  # as of the kernel's log, which waits for the next line
            raise OSError(errno.EINVAL, "it is no plain file", str(path))
        return found
    finally:
        os.close(handle)
