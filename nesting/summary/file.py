"""The summary as a file: read with care, since anybody may have changed it."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.errors import OutputError
from nesting.folders.whole_folder import settle
from nesting.plain_file import plain_bytes

SUMMARY = "summary.json"

LARGEST_MB = 200
"""A summary is read up to this size: some hundred times that of a thousand boards."""

LONGEST = 40
"""Characters of a figure that can mean anything."""


def read_summary(folder: Path) -> dict[str, Any]:
    """Return the summary in a folder.

    Raises
    ------
    OutputError
        If there is none, or it cannot be read.
    """
    settle(folder)
    path = folder / SUMMARY
    try:
        content = _parsed(plain_bytes(path, LARGEST_MB * 1_000_000).decode())
    except FileNotFoundError:
        raise OutputError(f"{path} is not there: nest the project first") from None
    except RecursionError:
        raise OutputError(
            f"{path} cannot be read: lists in it lie too deep in each other"
        ) from None
    except UnicodeDecodeError as error:
        byte = error.object[error.start]
        raise OutputError(f"{path} cannot be read: the byte 0x{byte:02x} is not UTF-8") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"{path} cannot be read: {reason}") from error
    if not isinstance(content, dict):
        raise OutputError(f"{path} is no summary of a cutting plan: nest the project again")
    return content


def _parsed(text: str) -> Any:
    return json.loads(
        text,
        parse_float=_number,
        parse_int=_whole,
        parse_constant=_number,
        object_pairs_hook=_entries,
    )


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text[:LONGEST]} is no figure of a plan")
    return value


def _whole(text: str) -> int:
    if len(text) > LONGEST:
        raise ValueError(f"{text[:LONGEST]} is no figure of a plan")
    return int(text)


def _entries(pairs: Sequence[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{twice!r} is given twice in one place")
    return found
