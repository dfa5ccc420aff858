"""Convex sums of every pair of ways in which items lie, if none of them leans; compiled.

And of every way with every obstacle of the wood.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import BEGIN, END, NORMAL_X, NORMAL_Y, REACH, Flags, Ints
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import Block, Figures, Ways, Wood, turn_into
from nesting.engine.jostle.convex_sums import (
    FAN,
    NIL,
    Sums,
    add_item_sums,
    add_obstacle_sums,
    reach,
    sums_for,
)
from nesting.engine.jostle.field import Table
from nesting.engine.jostle.layout import empty_block, starts


def table_of(figures: Figures, ways: Ways, wood: Wood) -> Table:
    """Return the sums of every pair of ways, without those that lie inside others of the pair.

    Such a sum forbids nothing more. Sums that only several others cover are kept: without them
    a search is faster, but it counts deep overlaps for less and led to longer strips (shapes0).
    """
    outlines = np.repeat(np.arange(len(ways.first) - 1), np.diff(ways.first))
    block = empty_block(figures, outlines)
    for slot, (outline, (angle, face)) in enumerate(zip(outlines, ways.way, strict=True)):
        turn_into(figures, int(outline), angle, face > 0.5, block, slot)
    pieces, corners = len(block.piece_boxes), len(block.edges)
    obstacles, count = len(wood.boxes), pieces * (pieces + len(wood.boxes))
    edges = 2 * corners * pieces + len(wood.corners) * pieces + (corners + FAN * pieces) * obstacles
    sums, is_kept = sums_for(edges, count), np.ones(count, np.bool_)
    pairs = np.zeros((len(outlines), len(outlines) + obstacles, 2), np.int64)
    _fill(pairs, is_kept, sums, block, wood)
    is_kept = is_kept[: sums.used[0]]
    sizes, before = np.diff(sums.first[: sums.used[0] + 1]), starts(is_kept.astype(np.int64))
    kept = sums.edges[: sums.first[sums.used[0]]][np.repeat(is_kept, sizes)]
    boxes = sums.boxes[: sums.used[0]][is_kept]
    return Table(before[pairs], Sums(kept, starts(sizes[is_kept]), boxes, before[-1:].copy()))


def yielding(table: Table, depth_mm: float) -> Table:
    """Return the table of items that may overlap one another, and obstacles, by so much."""
    sums = table.sums
    inward = np.array([depth_mm, depth_mm, -depth_mm, -depth_mm])
    edges = sums.edges - np.array([0.0, 0.0, depth_mm])
    return table._replace(sums=sums._replace(edges=edges, boxes=sums.boxes + inward))


def no_table() -> Table:
    """Return a table for shapes that lean: their sums are built as they are needed."""
    return Table(np.zeros((0, 0, 2), np.int64), sums_for(0, 0))


@door
def _fill(pairs: Ints, is_kept: Flags, sums: Sums, block: Block, wood: Wood) -> None:
    gap = wood.gap
    for a in range(pairs.shape[0]):
        for b in range(pairs.shape[0]):
            start = sums.used[0]
            add_item_sums(sums, block, a, block, b, gap)
            end = sums.used[0]
            pairs[a, b, BEGIN], pairs[a, b, END] = start, end
            for s in range(start, end):
                for other in range(start, end):
                    if is_kept[s] and is_kept[other] and other != s:
                        is_kept[s] = not _is_inside(s - start, other, a, b, sums, block, gap)
        for k in range(wood.boxes.shape[0]):
            pairs[a, pairs.shape[0] + k, BEGIN] = sums.used[0]
            add_obstacle_sums(sums, block, a, wood, k)
            pairs[a, pairs.shape[0] + k, END] = sums.used[0]


@inner
def _is_inside(nth: int, other: int, a: int, b: int, sums: Sums, block: Block, gap: float) -> bool:
    """Return whether the nth sum of two items, a moving and b fixed, lies inside another."""
    first, edges = block.piece_first, sums.edges
    count = block.item_first[a + 1] - block.item_first[a]
    own, theirs = block.item_first[a] + nth % count, block.item_first[b] + nth // count
    for e in range(sums.first[other], sums.first[other + 1]):
        nx, ny = edges[e, NORMAL_X], edges[e, NORMAL_Y]
        far = reach(block.edges, first[theirs], first[theirs + 1], nx, ny) + gap
        if far + reach(block.edges, first[own], first[own + 1], -nx, -ny) > edges[e, REACH] + NIL:
            return False
    return True
