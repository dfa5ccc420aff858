"""Compiled: the dearest filling of one board that its shares allow; the tests try them all."""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import Floats, Ints
from nesting.engine.geometry.compiled import door

TINY = 1e-9
"""Shares are compared with 1, and values with each other, to this."""


SINGLE = 8
"""Rows of shares that bound what may still come; all of them say what fits."""

BLENDS = 30
"""Rounds in which rows of shares are blended to one that bounds the value well."""


@door
def dearest(
    values: Floats, copies: Ints, shares: Floats, floor: float, most: int
) -> tuple[float, float, Ints, int]:
    """Return the most value of whole copies (n,) whose shares (r, n) add up to at most 1.

    Only what is worth more than ``floor`` is looked for, which is returned where there is
    nothing. And what the value is surely not above, the same unless ``most`` places were
    looked at before the end; the copies taken, (n,); and how many places were looked at.
    """
    blends = blended(values, copies, shares)
    first = dearest_first(values, blends[0])
    value, above, taken, looked = _searched(
        values[first], copies[first], shares[:, first], blends[:, first], floor, most
    )
    found = np.zeros(len(values), np.int64)
    found[first] = taken
    return value, above, found, looked


@door
def _searched(
    values: Floats, copies: Ints, shares: Floats, blends: Floats, floor: float, most: int
) -> tuple[float, float, Ints, int]:
    """Do what ``dearest`` does, depth first, the parts in their order, most copies first."""
    rows, parts = shares.shape
    taken, found = np.zeros(parts, np.int64), np.zeros(parts, np.int64)
    bounding, room = np.ones(len(blends)), np.ones(rows)
    order = np.empty(blends.shape, np.int64)
    for b in range(len(blends)):
        order[b] = dearest_first(values, blends[b])
    order[0] = np.arange(parts)
    is_new = np.ones(parts + 1, np.bool_)
    best, over, value, looked, at = floor, 0.0, 0.0, 0, 0
    while at >= 0:
        if is_new[at]:
            looked += 1
            bound = np.inf
            for b in range(len(blends)):
                rest = at_most(values, copies, blends[b], order[b], bounding[b], at)
                bound = min(bound, value + rest)
                if bound <= best + TINY:
                    break
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
        more = count - taken[at]
        value += more * values[at]
        for r in range(rows):
            room[r] -= more * shares[r, at]
        for b in range(len(blends)):
            bounding[b] -= more * blends[b, at]
        taken[at] = count
        at += 1
        is_new[at] = True
    return best, max(best, over), found, looked


@door
def blended(values: Floats, copies: Ints, shares: Floats) -> Floats:
    """Return rows (b, n) that bound the value well: a blend of all, and some as they are.

    Each round of blending more is given to the row that what the blend lets pass breaks most.
    """
    rows, parts = shares.shape
    mean = np.zeros(parts)
    for r in range(rows):
        mean += shares[r] / rows
    blend, best, least = mean.copy(), mean.copy(), np.inf
    for k in range(BLENDS):
        order = dearest_first(values, blend)
        passed = np.zeros(parts)
        bound, left = 0.0, 1.0
        for i in order:
            if values[i] <= 0.0:
                continue
            passed[i] = copies[i]
            if blend[i] * copies[i] > left:
                passed[i] = left / blend[i]
            left -= blend[i] * passed[i]
            bound += values[i] * passed[i]
        if bound < least:
            least = bound
            best[:] = blend
        worst, row = 1.0 + TINY, -1
        for r in range(rows):
            total = 0.0
            for i in range(parts):
                total += shares[r, i] * passed[i]
            if total > worst:
                worst, row = total, r
        if row < 0:
            break
        weight = 1.0 / (k + 2.0)
        blend = (1.0 - weight) * blend + weight * shares[row]
    bounds = np.empty(rows)
    for r in range(rows):
        order = dearest_first(values, shares[r])
        bounds[r] = at_most(values, copies, shares[r], order, 1.0, 0)
    found = np.empty((1 + min(rows, SINGLE), parts))
    found[0] = best
    for b, r in enumerate(dearest_first(-bounds, np.ones(rows))[:SINGLE]):
        found[b + 1] = shares[r]
    return found


@door
def dearest_first(values: Floats, shares: Floats) -> Ints:
    """Return the numbers of parts (n,) by value for their share; equal ones in their order."""
    order = np.arange(len(values))
    worth = values / np.maximum(shares, TINY)
    for i in range(1, len(order)):
        at, part = i, order[i]
        while at > 0 and worth[order[at - 1]] < worth[part]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = part
    return order


@door
def at_most(
    values: Floats, copies: Ints, shares: Floats, order: Ints, room: float, at: int
) -> float:
    """Return a bound on the value of parts from ``at`` on by one row, copies in fractions."""
    total, left = 0.0, room + TINY
    for i in order:
        if i < at or values[i] <= 0.0:
            continue
        if shares[i] * copies[i] <= left:
            total += values[i] * copies[i]
            left -= shares[i] * copies[i]
        else:
            total += values[i] * left / shares[i]
            break
    return total
