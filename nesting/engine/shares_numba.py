"""Compiled: what parts count for at least on lines across a board. Plain twins are in the tests."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def counted(sizes, bends, unit, whole, levels):  # type: ignore[no-untyped-def]
    """Return what every cell of (w, c) sizes counts for in all, (w,), and where it counts.

    A size counts for as many units as it holds. If ``whole`` is not 0, one that with half its
    bend is over half of it counts for all the units in it that what the size and its bend
    leave of it does not hold.

    Where: (w, levels, 2) from and to, the longest row of cells that count 1 or more, 2 or more,
    and so on; from equals to where there is none.
    """
    rows, cells = sizes.shape
    total = np.zeros(rows)
    where = np.zeros((rows, levels, 2), np.int64)
    since = np.zeros(levels, np.int64)
    all_units = np.floor(whole / unit)
    for w in range(rows):
        since[:] = 0
        for c in range(cells + 1):
            count = 0.0
            if c < cells and sizes[w, c] > 0.0:
                size, bend = sizes[w, c], bends[w, c]
                count = np.floor(size / unit)
                if whole > 0.0 and size + bend / 2 > whole / 2:
                    rest = np.floor(max(0.0, whole - size - bend) / unit)
                    count = max(count, all_units - rest)
            total[w] += count
            for v in range(levels):
                if count < v + 1:
                    if c - since[v] > where[w, v, 1] - where[w, v, 0]:
                        where[w, v, 0], where[w, v, 1] = since[v], c
                    since[v] = c + 1
    return total, where


@njit(cache=True)
def least_hits(where, low, high, lines):  # type: ignore[no-untyped-def]
    """Return for each row of cells (w,) how often lines hit those that count, at the least.

    A part may lie ``low`` to ``high`` (w,) lines from the left; infinite where low is above.
    """
    rows, levels = where.shape[0], where.shape[1]
    least = np.full(rows, np.inf)
    for w in range(rows):
        if low[w] > high[w]:
            continue
        for i in range(-1, levels * len(lines)):
            at = low[w]
            if i >= 0:
                at = lines[i % len(lines)] - where[w, i // len(lines), 0] + 1
            if at < low[w] or at > high[w]:
                continue
            hits = 0
            for v in range(levels):
                for line in lines:
                    if where[w, v, 0] <= line - at < where[w, v, 1]:
                        hits += 1
            least[w] = min(least[w], hits)
    return least
