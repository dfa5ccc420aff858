"""Convex pieces of outlines and of items as they lie, in flat arrays for compiled code.

Arrays are few and wide on purpose: a compiled call unpacks every one of them. Columns have names.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y, Flags, Floats, Ints, X, Y
from nesting.engine.geometry.compiled import door, inner

ANGLE, FACE, WAY = 2, 3, 4
"""Of places, behind x and y: angle in radians, face (0 or 1), the way it lies in or leans from."""

OUT_X, OUT_Y, SUPPORT = 2, 3, 4
"""Of a block's edges, behind the corner where each starts: its outward normal and support."""

GAP = 4
"""Of an obstacle's box, behind its ends."""

OUTSIDE, INSIDE, BUNG = 2, 3, 4
"""Of holes, behind their centre: distance outside, distance inside, radius of the bung."""

WAY_ANGLE, WAY_FACE = 0, 1
"""Of ways."""


class Figures(NamedTuple):
    """Convex pieces of each outline in its own frame: (v, 2), and their firsts (p + 1), (o + 1)."""

    corners: Floats
    piece_first: Ints
    outline_first: Ints


class Block(NamedTuple):
    """The same, turned, for each item of a layout, all about the item's own origin.

    Edges (v, 5), firsts (q + 1) and (n + 1), boxes of pieces (q, 4) and of items (n, 4).
    """

    edges: Floats
    piece_first: Ints
    item_first: Ints
    piece_boxes: Floats
    item_boxes: Floats


class Wood(NamedTuple):
    """What the items lie on: the box (4) they stay in, obstacles, holes (h, 5), gap between items.

    Obstacles are corners (c, 2), first (k + 1) and boxes with their gap (k, 5).
    """

    box: Floats
    corners: Floats
    first: Ints
    boxes: Floats
    holes: Floats
    gap: float


class Layout(NamedTuple):
    """Items: outline (n), place (n, 5), weights (n, n), the weights they began with, their block.

    There is a weight for each pair, and on the diagonal that of each item with the ground.
    """

    outline: Ints
    place: Floats
    weight: Floats
    base: Floats
    block: Block


class Ways(NamedTuple):
    """How each outline may lie: its ways (w, 2) from ``first`` on, how far it may lean from them.

    And which obstacles block it (o, k), which holes it takes (o, h).
    """

    first: Ints
    way: Floats
    lean: Floats
    blocks: Flags
    takes: Flags


@door
def turn_into(
    figures: Figures, outline: int, angle: float, is_over: bool, block: Block, slot: int
) -> None:
    """Write an outline, turned over or not and by an angle in radians, into an item's block."""
    cosine, sine = math.cos(angle), math.sin(angle)
    first = figures.outline_first[outline]
    last = figures.outline_first[outline + 1]
    piece = block.item_first[slot]
    box = block.item_boxes[slot]
    box[LOW_X], box[LOW_Y], box[HIGH_X], box[HIGH_Y] = np.inf, np.inf, -np.inf, -np.inf
    for source in range(first, last):
        start, end = figures.piece_first[source], figures.piece_first[source + 1]
        at = block.piece_first[piece]
        size = end - start
        for k in range(size):
            own = end - 1 - k if is_over else start + k
            px, py = figures.corners[own, X], figures.corners[own, Y]
            if is_over:
                py = -py
            block.edges[at + k, X] = px * cosine - py * sine
            block.edges[at + k, Y] = px * sine + py * cosine
        low_x, low_y, high_x, high_y = np.inf, np.inf, -np.inf, -np.inf
        for k in range(size):
            x, y = block.edges[at + k, X], block.edges[at + k, Y]
            follow = at + (k + 1) % size
            dx, dy = block.edges[follow, X] - x, block.edges[follow, Y] - y
            length = math.sqrt(dx * dx + dy * dy)
            block.edges[at + k, OUT_X], block.edges[at + k, OUT_Y] = dy / length, -dx / length
            block.edges[at + k, SUPPORT] = (dy * x - dx * y) / length
            low_x, low_y = min(low_x, x), min(low_y, y)
            high_x, high_y = max(high_x, x), max(high_y, y)
        block.piece_boxes[piece, LOW_X], block.piece_boxes[piece, LOW_Y] = low_x, low_y
        block.piece_boxes[piece, HIGH_X], block.piece_boxes[piece, HIGH_Y] = high_x, high_y
        box[LOW_X], box[LOW_Y] = min(box[LOW_X], low_x), min(box[LOW_Y], low_y)
        box[HIGH_X], box[HIGH_Y] = max(box[HIGH_X], high_x), max(box[HIGH_Y], high_y)
        piece += 1


@inner
def limits(a: Block, slot: int, box: Floats) -> tuple[float, float, float, float]:
    """Return the least and greatest place that keeps an item's box inside the wood's."""
    own = a.item_boxes[slot]
    return (
        box[LOW_X] - own[LOW_X],
        box[LOW_Y] - own[LOW_Y],
        box[HIGH_X] - own[HIGH_X],
        box[HIGH_Y] - own[HIGH_Y],
    )


@inner
def overhang(a: Block, slot: int, box: Floats) -> float:
    """Return by how much an item's box is larger than the wood's: it cannot lie so at all."""
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return max(low_x - high_x, 0.0) + max(low_y - high_y, 0.0)


@inner
def clamped(a: Block, slot: int, box: Floats, x: float, y: float) -> tuple[float, float]:
    """Return the place nearest to (x, y) that keeps an item's box inside the wood's."""
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return min(max(x, low_x), high_x), min(max(y, low_y), high_y)


@door
def fit_scratch(scratch: Block, figures: Figures, outline: int) -> None:
    """Lay out a block of one slot for an outline's pieces."""
    first, last = figures.outline_first[outline], figures.outline_first[outline + 1]
    scratch.item_first[0], scratch.item_first[1] = 0, last - first
    start = figures.piece_first[first]
    for k in range(last - first + 1):
        scratch.piece_first[k] = figures.piece_first[first + k] - start
