"""Compiled: what parts count for on lines across a board. Plain twins are in the tests."""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import BEGIN, END, Floats, Ints
from nesting.engine.geometry.compiled import door


@door
def rounded(sizes: Floats, unit: float, rest: float) -> Floats:
    """Return the sum (w,) of sizes (w, c) in whole units, and of broken ones what is over ``rest``.

    What is over is stretched, so that a whole unit and one almost broken off count alike.
    """
    rows, cells = sizes.shape
    total = np.zeros(rows)
    for w in range(rows):
        for c in range(cells):
            size = sizes[w, c] / unit
            whole = np.floor(size)
            total[w] += whole
            if size - whole > rest:
                total[w] += (size - whole - rest) / (1.0 - rest)
    return total


@door
def longest(sizes: Floats, unit: float, levels: int) -> Ints:
    """Return from and to (w, levels, 2), the longest row of cells that hold 1 unit, 2 and so on.

    Both are equal where there is none.
    """
    rows, cells = sizes.shape
    where = np.zeros((rows, levels, 2), np.int64)
    for w in range(rows):
        for v in range(levels):
            since = 0
            for c in range(cells + 1):
                if c == cells or sizes[w, c] < unit * (v + 1):
                    if c - since > where[w, v, END] - where[w, v, BEGIN]:
                        where[w, v, BEGIN], where[w, v, END] = since, c
                    since = c + 1
    return where


@door
def least_hits(where: Ints, kinds: Ints, low: Ints, high: Ints, lines: Ints) -> Floats:
    """Return for each row of cells (w,) how often lines hit those that count, at the least.

    ``where`` (k, w, levels, 2) is for each kind of line, ``kinds`` the lines' own (l,). A part
    may lie ``low`` to ``high`` (w,) lines from the left; infinite where low is above.
    """
    rows, levels, count = where.shape[1], where.shape[2], len(lines)
    least = np.full(rows, np.inf)
    for w in range(rows):
        if low[w] > high[w]:
            continue
        for i in range(-1, levels * count):
            at = low[w]
            if i >= 0:
                at = lines[i % count] - where[kinds[i % count], w, i // count, BEGIN] + 1
            if at < low[w] or at > high[w]:
                continue
            hits = 0
            for v in range(levels):
                for k in range(count):
                    begin, end = where[kinds[k], w, v]
                    if begin <= lines[k] - at < end:
                        hits += 1
            least[w] = min(least[w], hits)
            if least[w] == 0.0:
                break
    return least


@door
def least_sums(sizes: Floats, low: Ints, high: Ints, lines: Ints) -> Floats:
    """Return for each row of cells (w,) the sum of its sizes on lines, at the least.

    A part may lie ``low`` to ``high`` (w,) lines from the left; infinite where low is above.
    """
    rows, cells = sizes.shape
    least = np.full(rows, np.inf)
    for w in range(rows):
        for at in range(low[w], high[w] + 1):
            total = 0.0
            for line in lines:
                cell = line - at
                if 0 <= cell < cells:
                    total += sizes[w, cell]
            if total < least[w]:
                least[w] = total
                if total == 0.0:
                    break
    return least
