"""Separate overlapping outlines: guided local search over positions and turnings, compiled.

Every pair of items, and every item with the ground, has a weight; the cost of a layout is the
weighted sum of depths. Items that overlap are moved one by one to their cheapest place; after
each pass the pairs that still overlap grow heavier, so that the search leaves its hollows.

References
----------
Voudouris, Tsang 1999, Guided local search, Eur. J. Oper. Res. 113:469-499 (weights);
Egeblad, Nielsen, Odgaard 2007, Fast neighborhood search for two- and three-dimensional nesting
problems, Eur. J. Oper. Res. 183:1249-1266 (separation of overlapping outlines). Cited from
memory.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from nesting.engine.contacts import MOST_LINES
from nesting.engine.layout_cost import clamped, overhang
from nesting.engine.moves import move
from nesting.engine.overlap import depth_in_ground, hole_depth, item_depth

DONE = 1e-7
"""A layout whose depths sum to less, mm, is separated; gaps are grown to cover it."""

HEADWAY = 0.98
"""A pass makes headway if it brings the total depth below this share of the last mark."""


@njit(cache=True)
def measure(i, depths, layout, wood, ways, rings):  # type: ignore[no-untyped-def]
    """Write the depths of item i with every other, and on the diagonal with the ground (n, n)."""
    block, own = layout.block, layout.place[i]
    for j in range(layout.outline.shape[0]):
        if j != i:
            dx, dy = own[0] - layout.place[j, 0], own[1] - layout.place[j, 1]
            depth, _, _ = item_depth(block, i, block, j, dx, dy, wood.gap)
            depths[i, j] = depths[j, i] = depth
    outline = layout.outline[i]
    total, _, _ = depth_in_ground(block, i, wood, ways.blocks[outline], own[0], own[1], np.inf)
    for h in range(wood.holes.shape[0]):
        if ways.takes[outline, h]:
            depth, _, _ = hole_depth(wood, h, rings, outline, own[2], own[3] > 0.5, own[0], own[1])
            total += depth
    depths[i, i] = total + overhang(block, i, wood.box)


@njit(cache=True)
def _shuffle(order):  # type: ignore[no-untyped-def]
    for k in range(order.shape[0] - 1, 0, -1):
        other = np.random.randint(k + 1)
        order[k], order[other] = order[other], order[k]


@njit(cache=True)
def _total_and_deepest(depths):  # type: ignore[no-untyped-def]
    """Return the sum of all depths, each pair once, and the greatest."""
    total, deepest = 0.0, 0.0
    for i in range(depths.shape[0]):
        for j in range(i + 1):
            total += depths[i, j]
            deepest = max(deepest, depths[i, j])
    return total, deepest


@njit(cache=True)
def _overlaps(i, depths):  # type: ignore[no-untyped-def]
    return depths[i].max() > 0.0


@njit(cache=True)
def separate(seed, most_passes, stall, unit, scratch, layout, wood, ways, figures, rings, best):  # type: ignore[no-untyped-def]
    """Move items until nothing overlaps or no headway is made.

    ``best`` (n, 4) receives the places of the least overlapping layout seen. Returns that
    layout's total depth and the passes used; below DONE it is separated.
    """
    np.random.seed(seed)
    n = layout.outline.shape[0]
    depths, base = np.zeros((n, n)), layout.weight.copy()
    order, lines = np.arange(n), np.empty((MOST_LINES, 4))
    for i in range(n):
        x, y = layout.place[i, 0], layout.place[i, 1]
        layout.place[i, 0], layout.place[i, 1] = clamped(layout.block, i, wood.box, x, y)
    for i in range(n):
        measure(i, depths, layout, wood, ways, rings)
    least, mark, since, passes = np.inf, np.inf, 0, 0
    while True:
        total, deepest = _total_and_deepest(depths)
        if total < least:
            least = total
            best[:] = layout.place
        if total < DONE or passes >= most_passes:
            break
        if total < HEADWAY * mark:
            mark, since = total, 0
        since += 1
        if since > stall:
            break
        passes += 1
        for i in range(n):
            for j in range(n):
                if depths[i, j] > 0.0:
                    layout.weight[i, j] += base[i, j] * depths[i, j] / deepest
        _shuffle(order)
        for i in order:
            if _overlaps(i, depths):
                move(i, scratch, unit, lines, layout, wood, ways, figures, rings)
                measure(i, depths, layout, wood, ways, rings)
    return least, passes
