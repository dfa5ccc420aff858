"""Compiled: the dearest filling of one board that its shares allow. Its plain twin is in the tests."""

from __future__ import annotations

import numpy as np
from numba import njit

TINY = 1e-9
"""Shares are compared with 1, and values with each other, to this."""


@njit(cache=True)
def dearest(values, copies, shares, order, most):  # type: ignore[no-untyped-def]
    """Return the most value of whole copies (n,) whose shares (r, n) add up to at most 1.

    And what the value is surely not above, the same unless ``most`` places were looked at
    before the end; and the copies taken, (n,).

    Parameters
    ----------
    order : (r, n) int
        For each row the parts by value for their share, the dearest first.
    """
    rows, parts = shares.shape
    taken, found = np.zeros(parts, np.int64), np.zeros(parts, np.int64)
    room = np.ones(rows)
    is_new = np.ones(parts + 1, np.bool_)
    best, over, value, looked, at = 0.0, 0.0, 0.0, 0, 0
    while at >= 0:
        if is_new[at]:
            looked += 1
            bound = _at_most(values, copies, shares, order, room, at, best - value) + value
            if looked > most:
                over = max(over, bound)
            if at == parts and value > best:
                best = value
                found[:] = taken
            if at == parts or looked > most or bound <= best + TINY:
                at -= 1
                continue
            count = copies[at]
            for r in range(rows):
                if shares[r, at] > TINY:
                    count = min(count, int(np.floor((room[r] + TINY) / shares[r, at])))
            is_new[at] = False
        elif taken[at] > 0:
            count = taken[at] - 1
        else:
            is_new[at] = True
            at -= 1
            continue
        value += (count - taken[at]) * values[at]
        for r in range(rows):
            room[r] -= (count - taken[at]) * shares[r, at]
        taken[at] = count
        at += 1
        is_new[at] = True
    return best, max(best, over), found


@njit(cache=True)
def _at_most(values, copies, shares, order, room, at, enough):  # type: ignore[no-untyped-def]
    """Return a bound on the value of parts from ``at`` on: each row alone, copies in fractions."""
    least = np.inf
    for r in range(len(room)):
        total, left = 0.0, room[r] + TINY
        for i in order[r]:
            if i < at or values[i] <= 0.0:
                continue
            if shares[r, i] * copies[i] <= left:
                total += values[i] * copies[i]
                left -= shares[r, i] * copies[i]
            else:
                total += values[i] * left / shares[r, i]
                break
        least = min(least, total)
        if least <= enough:
            break
    return least
