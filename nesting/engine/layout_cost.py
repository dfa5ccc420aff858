"""What one item costs at a place of a layout: weighted depths and their pull; compiled."""

from __future__ import annotations

from collections import namedtuple

from numba import njit

from nesting.engine.overlap import depth_in_ground, hole_depth, item_depth

Layout = namedtuple("Layout", "outline place weight block")
"""Items: outline (n), place (n, 4) as x, y, angle in radians and face (0 or 1), weights (n, n):
that of each pair, and on the diagonal that of each item with the ground."""

Ways = namedtuple("Ways", "first way lean blocks takes")
"""How each outline may lie: its angles in radians and faces (w, 2) from ``first`` on, and how far
it may lean from them; which obstacles block it (o, k), which holes it takes, plugged (o, h)."""


@njit(cache=True)
def limits(a, i, box):  # type: ignore[no-untyped-def]
    """Return the least and greatest place that keeps an item's box inside the wood's."""
    own = a.item_boxes[i]
    return box[0] - own[0], box[1] - own[1], box[2] - own[2], box[3] - own[3]


@njit(cache=True)
def overhang(a, i, box):  # type: ignore[no-untyped-def]
    """Return by how much an item's box is larger than the wood's: it cannot lie so at all."""
    low_x, low_y, high_x, high_y = limits(a, i, box)
    return max(low_x - high_x, 0.0) + max(low_y - high_y, 0.0)


@njit(cache=True)
def place_cost(i, a, slot, x, y, angle, is_over, layout, wood, ways, figures, rings, limit):  # type: ignore[no-untyped-def]
    """Return the weighted depth of item i, lying as ``a[slot]`` at (x, y), and its pull."""
    total, pull_x, pull_y = layout.weight[i, i] * overhang(a, slot, wood.box), 0.0, 0.0
    own, gap = a.item_boxes[slot], wood.gap
    for j in range(layout.outline.shape[0]):
        if j == i:
            continue
        other = layout.block.item_boxes[j]
        dx, dy = x - layout.place[j, 0], y - layout.place[j, 1]
        if (
            own[0] + dx - gap >= other[2]
            or own[2] + dx + gap <= other[0]
            or own[1] + dy - gap >= other[3]
            or own[3] + dy + gap <= other[1]
        ):
            continue
        depth, ux, uy = item_depth(a, slot, layout.block, j, dx, dy, gap)
        if depth > 0.0:
            weight = layout.weight[i, j]
            total += weight * depth
            pull_x += weight * ux
            pull_y += weight * uy
            if total > limit:
                return total, pull_x, pull_y
    weight = layout.weight[i, i]
    if wood.boxes.shape[0]:
        blocks = ways.blocks[layout.outline[i]]
        spare = (limit - total) / weight
        depth, ux, uy = depth_in_ground(a, slot, wood, blocks, x, y, spare)
        total += weight * depth
        pull_x += weight * ux
        pull_y += weight * uy
    outline = layout.outline[i]
    for h in range(wood.holes.shape[0]):
        reach = wood.holes[h, 2]
        px, py = wood.holes[h, 0] - x, wood.holes[h, 1] - y
        if (
            not (own[0] - reach < px < own[2] + reach and own[1] - reach < py < own[3] + reach)
            or not ways.takes[outline, h]
        ):
            continue
        depth, ux, uy = hole_depth(wood, h, rings, outline, angle, is_over, x, y)
        total += weight * depth
        pull_x += weight * ux
        pull_y += weight * uy
        if total > limit:
            break
    return total, pull_x, pull_y


@njit(cache=True)
def clamped(a, slot, box, x, y):  # type: ignore[no-untyped-def]
    """Return the place nearest to (x, y) that keeps an item's box inside the wood's."""
    low_x, low_y, high_x, high_y = limits(a, slot, box)
    return min(max(x, low_x), high_x), min(max(y, low_y), high_y)
