"""The days of a book's steps, though a clock was wrong now and then: set back, or years ahead."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence


def rising(days: Sequence[str]) -> list[str]:
    """Return the day of each step, none before that of the step before it.

    As few steps as can be are taken for dated wrongly: the longest run that rises stands, and any
    other step counts to the day of the one before it, or, before all, to the first that is right.

    Parameters
    ----------
    days
        ISO dates of the steps in their order, as the clock had them.

    Examples
    --------
    >>> rising(["2026-05-01", "2036-05-02", "2026-05-03", "2026-05-04"])
    ['2026-05-01', '2026-05-01', '2026-05-03', '2026-05-04']
    """
    right = set(_longest_rising(days))
    last = days[min(right)] if right else ""
    found = list[str]()
    for number, day in enumerate(days):
        last = day if number in right else last
        found.append(last)
    return found


def _longest_rising(days: Sequence[str]) -> list[int]:
    """Return places of the longest run that never falls; of several, that which ends first.

    By patience sorting: of all runs of one length the one with the least last day is kept.
    """
    last_days, last_places = list[str](), list[int]()
    before: list[int | None] = []
    for place, day in enumerate(days):
        length = bisect_right(last_days, day)
        before.append(last_places[length - 1] if length else None)
        if length == len(last_days):
            last_days.append(day)
            last_places.append(place)
            end = place
        else:
            last_days[length], last_places[length] = day, place
    run = list[int]()
    at: int | None = end if days else None
    while at is not None:
        run.append(at)
        at = before[at]
    return run[::-1]
