"""Counted things in words."""

from __future__ import annotations

import math

ROUNDING = 1e-6
"""So much of a per cent comes of reckoning: 100 x 0.57 is less than 57."""


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """Return how many of a thing, the noun in the number that fits.

    >>> counted(1, "sheet"), counted(2, "recess"), counted(2, "line of parts", "lines of parts")
    ('1 sheet', '2 recesses', '2 lines of parts')
    """
    ending = "es" if noun.endswith(("s", "x", "ch", "sh")) else "s"
    return f"{count} {noun if count == 1 else plural or noun + ending}"


def whole_percent(share: float) -> str:
    """Return what is left of a whole in per cent, never more than there is.

    >>> whole_percent(0.7996), whole_percent(0.57)
    ('79', '57')
    """
    return f"{math.floor(100 * share + ROUNDING)}"
