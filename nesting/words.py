"""Counted things in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

ROUNDING = 1e-6
"""So much of a per cent comes of reckoning: 100 x 0.57 is less than 57."""


def counted(count: int, noun: str, many: str | None = None) -> str:
    """Return how many of a thing, the noun in the number that fits.

    >>> counted(1, "sheet"), counted(2, "recess"), counted(2, "line of parts", "lines of parts")
    ('1 sheet', '2 recesses', '2 lines of parts')
    """
    return f"{count} {noun if count == 1 else many or plural(noun)}"


def plural(noun: str) -> str:
    """Return a noun for several of what it names.

    >>> plural("Wish"), plural("Board")
    ('Wishes', 'Boards')
    """
    return noun + ("es" if noun.endswith(("s", "x", "ch", "sh")) else "s")


def first_few(names: Sequence[str], most: int, between: str = ", ") -> str:
    """Return the first of some names, and how many more there are.

    >>> first_few(["A", "B", "C"], 2), first_few(["A", "B"], 2)
    ('A, B and 1 more', 'A, B')
    """
    rest = len(names) - most
    return between.join(names[:most]) + (f" and {rest} more" if rest > 0 else "")


def whole_percent(share: float) -> str:
    """Return what is left of a whole in per cent, never more than there is.

    >>> whole_percent(0.7996), whole_percent(0.57)
    ('79', '57')
    """
    return f"{math.floor(100 * share + ROUNDING)}"
