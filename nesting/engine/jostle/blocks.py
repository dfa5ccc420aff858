"""Convex pieces of outlines and of items as they lie, in flat arrays for compiled code.

``Figures``
    Convex pieces of each outline in its own frame: corners (v, 2), piece_first (p + 1) and
    outline_first (o + 1).
``Block``
    The same, turned, for each item of a layout: edges (v, 5), each its corner x, y and the
    outward normal and support of the edge that starts there; piece_first (q + 1), item_first
    (n + 1), piece boxes (q, 4) and item boxes (n, 4); all about the item's own origin.
``Wood``
    What the items lie on: the box (4) they stay in, obstacles as corners (c, 2), first
    (k + 1) and boxes with their gap (k, 5), holes (h, 5) with centre, distance outside,
    distance inside and bung radius, and the gap between items.
``Layout``
    Items: outline (n), place (n, 5) as x, y, angle in radians, face (0 or 1) and the way it lies
    in or leans from; weights (n, n): that of each pair, and on the diagonal that of each item
    with the ground; the weights they began with; and their block.
``Ways``
    How each outline may lie: its angles in radians and faces (w, 2) from ``first`` on, and how
    far it may lean from them; which obstacles block it (o, k), which holes it takes (o, h).

Arrays are few and wide on purpose: a compiled call unpacks every one of them.
"""

from __future__ import annotations

import math
from collections import namedtuple

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import inner

Figures = namedtuple("Figures", "corners piece_first outline_first")
Block = namedtuple("Block", "edges piece_first item_first piece_boxes item_boxes")
Wood = namedtuple("Wood", "box corners first boxes holes gap")
Layout = namedtuple("Layout", "outline place weight base block")
Ways = namedtuple("Ways", "first way lean blocks takes")


@njit(cache=True)
def turn_into(figures, outline, angle, is_over, block, slot):  # type: ignore[no-untyped-def]
    """Write an outline, turned over or not and by an angle in radians, into an item's block."""
    cosine, sine = math.cos(angle), math.sin(angle)
    first = figures.outline_first[outline]
    last = figures.outline_first[outline + 1]
    piece = block.item_first[slot]
    box = block.item_boxes[slot]
    box[0], box[1], box[2], box[3] = np.inf, np.inf, -np.inf, -np.inf
    for source in range(first, last):
        start, end = figures.piece_first[source], figures.piece_first[source + 1]
        at = block.piece_first[piece]
        size = end - start
        for k in range(size):
            own = end - 1 - k if is_over else start + k
            px, py = figures.corners[own, 0], figures.corners[own, 1]
            if is_over:
                py = -py
            block.edges[at + k, 0] = px * cosine - py * sine
            block.edges[at + k, 1] = px * sine + py * cosine
        low_x, low_y, high_x, high_y = np.inf, np.inf, -np.inf, -np.inf
        for k in range(size):
            x, y = block.edges[at + k, 0], block.edges[at + k, 1]
            follow = at + (k + 1) % size
            dx, dy = block.edges[follow, 0] - x, block.edges[follow, 1] - y
            length = math.sqrt(dx * dx + dy * dy)
            block.edges[at + k, 2], block.edges[at + k, 3] = dy / length, -dx / length
            block.edges[at + k, 4] = (dy * x - dx * y) / length
            low_x, low_y = min(low_x, x), min(low_y, y)
            high_x, high_y = max(high_x, x), max(high_y, y)
        block.piece_boxes[piece, 0], block.piece_boxes[piece, 1] = low_x, low_y
        block.piece_boxes[piece, 2], block.piece_boxes[piece, 3] = high_x, high_y
        box[0], box[1] = min(box[0], low_x), min(box[1], low_y)
        box[2], box[3] = max(box[2], high_x), max(box[3], high_y)
        piece += 1


@inner
def limits(a, slot, box):  # type: ignore[no-untyped-def]
    """Return the least and greatest place that keeps an item's box inside the wood's."""
    own = a.item_boxes[slot]
    return box[0] - own[0], box[1] - own[1], box[2] - own[2], box[3] - own[3]


@inner
def overhang(a, slot, box):  # type: ignore[no-untyped-def]
    """Return by how much an item's box is larger than the wood's: it cannot lie so at all."""
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return max(low_x - high_x, 0.0) + max(low_y - high_y, 0.0)


@inner
def clamped(a, slot, box, x, y):  # type: ignore[no-untyped-def]
    """Return the place nearest to (x, y) that keeps an item's box inside the wood's."""
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return min(max(x, low_x), high_x), min(max(y, low_y), high_y)


@njit(cache=True)
def fit_scratch(scratch, figures, outline):  # type: ignore[no-untyped-def]
    """Lay out a block of one slot for an outline's pieces."""
    first, last = figures.outline_first[outline], figures.outline_first[outline + 1]
    scratch.item_first[0], scratch.item_first[1] = 0, last - first
    start = figures.piece_first[first]
    for k in range(last - first + 1):
        scratch.piece_first[k] = figures.piece_first[first + k] - start
