"""File names for named things: readable, legal on every system, unique without regard to case."""

from __future__ import annotations

import re
from collections.abc import Iterable

PREFIX, ENDING = "board-", ".dxf"
"""How the name of a cut sheet's file begins and ends."""


def sheet_names(boards: Iterable[str]) -> dict[str, str]:
    """Return the name of the cut sheet's file for each board's name."""
    return file_names(boards, prefix=PREFIX, ending=ENDING)


def file_names(names: Iterable[str], *, prefix: str = "", ending: str) -> dict[str, str]:
    """Return a file name for each name.

    >>> file_names(["D/01", "d 01"], prefix="board-", ending=".dxf")
    {'D/01': 'board-D-01.dxf', 'd 01': 'board-d-01-2.dxf'}
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        stem = prefix + (re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.") or "x")
        chosen, number = stem, 1
        while chosen.lower() in taken:
            number += 1
            chosen = f"{stem}-{number}"
        taken.add(chosen.lower())
        found[name] = chosen + ending
    return found
