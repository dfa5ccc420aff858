"""Whether code that comes with a project may run: somebody said so of these very bytes.

What was agreed to stands in a file of the user's own, by the hash of its content: a copy elsewhere
is the same code, and a changed file is another.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nesting.errors import OutputError
from nesting.folders.passing import passing_for
from nesting.plain_file import LARGEST_BYTES, plain_bytes

ALLOWED = "code-allowed.json"
"""In the state folder: hashes of what may run, each with the path it then had and the day."""

Consent = Callable[[Path, bytes], bool]
"""Says whether a file with such a content may run."""


def state_folder() -> Path:
    """Return where this platform keeps what a program remembers for a user.

    ``$XDG_STATE_HOME``, or ``~/.local/state`` (XDG Base Directory Specification); ``~/Library/
    Application Support`` on macOS and ``%LOCALAPPDATA%`` on Windows (from memory).
    """
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Application Support")
    else:
        base = os.environ.get("XDG_STATE_HOME", "")
        # The specification says that a relative path is to be ignored.
        base = base if os.path.isabs(base) else str(Path.home() / ".local" / "state")
    return Path(base) / "salvage-nest"


def hash_of(content: bytes) -> str:
    """Return what stands for a content: its SHA-256."""
    return hashlib.sha256(content).hexdigest()


def is_allowed(path: Path, content: bytes) -> bool:
    """Return whether somebody agreed to these very bytes; the path plays no part.

    A file of consents that cannot be read holds none.
    """
    return hash_of(content) in _read()


def allow(path: Path, content: bytes) -> None:
    """Remember that these bytes may run.

    Raises
    ------
    OutputError
        If that cannot be written down.
    """
    file = state_folder() / ALLOWED
    found = {**_read(), hash_of(content): {"path": str(path.resolve()), "day": _today()}}
    passing = passing_for(file)
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Nobody else may say for this user what may run.
        with open(os.open(passing, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as stream:
            json.dump({"allowed": found}, stream, indent=1)
        os.replace(passing, file)
    except OSError as error:
        passing.unlink(missing_ok=True)
        raise OutputError(
            f"{file} cannot be written ({error.strerror or error}), so that nobody would know "
            "that this code may run"
        ) from error


def _read() -> dict[str, Any]:
    try:
        found = json.loads(plain_bytes(state_folder() / ALLOWED, LARGEST_BYTES))["allowed"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _today() -> str:
    return time.strftime("%Y-%m-%d")
