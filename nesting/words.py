"""Counted things in words."""

from __future__ import annotations


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """Return how many of a thing, the noun in the number that fits.

    >>> counted(1, "sheet"), counted(2, "recess"), counted(2, "line of parts", "lines of parts")
    ('1 sheet', '2 recesses', '2 lines of parts')
    """
    ending = "es" if noun.endswith(("s", "x", "ch", "sh")) else "s"
    return f"{count} {noun if count == 1 else plural or noun + ending}"
