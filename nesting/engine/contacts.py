"""Snap an item to where its contacts are exact; compiled.

The cost of a layout is piecewise linear in a place, so that its hollows lie where lines of
contact cross. Lines near a place are gathered, and the best of their crossings is taken.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from nesting.engine.layout_cost import clamped, limits, place_cost
from nesting.engine.overlap import hole_depth, obstacle_apart, pieces_apart

MOST_LINES = 8
"""Lines of contact kept, nearest first: 36 places to try."""

NONE_YET = np.int64(0)
"""A count that is typed from the start, or the kernels would be compiled twice."""


@njit(cache=True)
def _line(lines, count, nx, ny, short, x, y):  # type: ignore[no-untyped-def]
    """Keep the line n . t = c on which a contact is exact, nearest ones first."""
    away = abs(short)
    at = count
    while at > 0 and lines[at - 1, 3] > away:
        at -= 1
    if at >= MOST_LINES:
        return count
    count = min(count + 1, MOST_LINES)
    for k in range(count - 1, at, -1):
        lines[k] = lines[k - 1]
    lines[at, 0], lines[at, 1] = nx, ny
    lines[at, 2], lines[at, 3] = nx * x + ny * y + short, away
    return count


@njit(cache=True)
def _contact_lines(i, a, slot, x, y, angle, is_over, near, lines, layout, wood, ways, rings):  # type: ignore[no-untyped-def]
    """Fill lines (n, 4) with the contacts of item i within ``near`` of (x, y)."""
    count = NONE_YET
    own, gap = a.item_boxes[slot], wood.gap
    low_x, low_y, high_x, high_y = limits(a, slot, wood.box)
    for side in (low_x, high_x):
        if abs(side - x) < near:
            count = _line(lines, count, 1.0, 0.0, side - x, x, y)
    for side in (low_y, high_y):
        if abs(side - y) < near:
            count = _line(lines, count, 0.0, 1.0, side - y, x, y)
    reach = gap + near
    for j in range(layout.outline.shape[0]):
        other, b = layout.block.item_boxes[j], layout.block
        dx, dy = x - layout.place[j, 0], y - layout.place[j, 1]
        if (
            j == i
            or own[0] + dx - reach >= other[2]
            or own[2] + dx + reach <= other[0]
            or own[1] + dy - reach >= other[3]
            or own[3] + dy + reach <= other[1]
        ):
            continue
        for p in range(a.item_first[slot], a.item_first[slot + 1]):
            for q in range(b.item_first[j], b.item_first[j + 1]):
                apart, nx, ny = pieces_apart(a, p, b, q, dx, dy, reach)
                if abs(gap - apart) < near:
                    count = _line(lines, count, nx, ny, gap - apart, x, y)
    blocks = ways.blocks[layout.outline[i]]
    for k in range(wood.boxes.shape[0]):
        gap = wood.boxes[k, 4]
        other, reach = wood.boxes[k], gap + near
        if (
            not blocks[k]
            or own[0] + x - reach >= other[2]
            or own[2] + x + reach <= other[0]
            or own[1] + y - reach >= other[3]
            or own[3] + y + reach <= other[1]
        ):
            continue
        for p in range(a.item_first[slot], a.item_first[slot + 1]):
            apart, nx, ny = obstacle_apart(a, p, wood, k, x, y, reach)
            if abs(gap - apart) < near:
                count = _line(lines, count, nx, ny, gap - apart, x, y)
    for h in range(wood.holes.shape[0]):
        if ways.takes[layout.outline[i], h]:
            outline = layout.outline[i]
            depth, nx, ny = hole_depth(wood, h, rings, outline, angle, is_over, x, y)
            if 0.0 < depth < near:
                count = _line(lines, count, nx, ny, depth, x, y)
    return count


@njit(cache=True)
def snap(i, a, slot, cost, x, y, angle, is_over, near, lines, layout, wood, ways, figures, rings):  # type: ignore[no-untyped-def]
    """Move to the best place nearby where contacts are exact: on one line or where two cross."""
    for _ in range(3):
        count = _contact_lines(
            i, a, slot, x, y, angle, is_over, near, lines, layout, wood, ways, rings
        )
        from_x, from_y, before = x, y, cost
        for p in range(count):
            for q in range(p, count):
                if p == q:
                    short = lines[p, 2] - lines[p, 0] * from_x - lines[p, 1] * from_y
                    to_x, to_y = from_x + short * lines[p, 0], from_y + short * lines[p, 1]
                else:
                    cross = lines[p, 0] * lines[q, 1] - lines[p, 1] * lines[q, 0]
                    if abs(cross) < 1e-6:
                        continue
                    to_x = (lines[p, 2] * lines[q, 1] - lines[q, 2] * lines[p, 1]) / cross
                    to_y = (lines[p, 0] * lines[q, 2] - lines[q, 0] * lines[p, 2]) / cross
                if max(abs(to_x - from_x), abs(to_y - from_y)) > 2.0 * near:
                    continue
                to_x, to_y = clamped(a, slot, wood.box, to_x, to_y)
                found, _, _ = place_cost(
                    i,
                    a,
                    slot,
                    to_x,
                    to_y,
                    angle,
                    is_over,
                    layout,
                    wood,
                    ways,
                    figures,
                    rings,
                    cost,
                )
                if found < cost:
                    cost, x, y = found, to_x, to_y
        if cost <= 0.0 or cost > 0.98 * before:
            break
    return cost, x, y
