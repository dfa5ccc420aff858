"""Compiled kernels that measure overlap: how deep convex pieces, obstacles and holes lie.

A layout is held in flat arrays so that it passes to compiled code unchanged:

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
``Rings``
    True edges of each outline, and of its bearing zones: segments (s, 4) with their firsts.

Arrays are few and wide on purpose: a compiled call unpacks every one of them.

The depth of two convex pieces is the least distance along one of their edge normals that
brings them a gap apart (separating axes); of two items, the sum over their pieces.
"""

from __future__ import annotations

import math
from collections import namedtuple

import numpy as np
from numba import njit

Figures = namedtuple("Figures", "corners piece_first outline_first")
Block = namedtuple("Block", "edges piece_first item_first piece_boxes item_boxes")
Wood = namedtuple("Wood", "box corners first boxes holes gap")
Rings = namedtuple("Rings", "segments first zones zone_first zone_of")


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


@njit(cache=True)
def pieces_apart(a, p, b, q, dx, dy, enough):  # type: ignore[no-untyped-def]
    """Return how far piece p of a, shifted, stands off piece q of b, and the way that parts them.

    Negative where they overlap; stops looking once they are ``enough`` apart.
    """
    best, way_x, way_y = -np.inf, 0.0, 0.0
    a0, a1 = a.piece_first[p], a.piece_first[p + 1]
    b0, b1 = b.piece_first[q], b.piece_first[q + 1]
    for k in range(a0, a1):
        nx, ny = a.edges[k, 2], a.edges[k, 3]
        low = np.inf
        for m in range(b0, b1):
            low = min(low, nx * b.edges[m, 0] + ny * b.edges[m, 1])
        apart = low - a.edges[k, 4] - nx * dx - ny * dy
        if apart > best:
            best, way_x, way_y = apart, -nx, -ny
            if apart >= enough:
                return best, way_x, way_y
    for k in range(b0, b1):
        nx, ny = b.edges[k, 2], b.edges[k, 3]
        low = np.inf
        for m in range(a0, a1):
            low = min(low, nx * a.edges[m, 0] + ny * a.edges[m, 1])
        apart = low - b.edges[k, 4] + nx * dx + ny * dy
        if apart > best:
            best, way_x, way_y = apart, nx, ny
            if apart >= enough:
                return best, way_x, way_y
    return best, way_x, way_y


@njit(cache=True)
def item_depth(a, i, b, j, dx, dy, gap):  # type: ignore[no-untyped-def]
    """Return the summed depth of item i of a, shifted by (dx, dy), in item j of b, and its pull."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    for p in range(a.item_first[i], a.item_first[i + 1]):
        x0, y0 = a.piece_boxes[p, 0] + dx - gap, a.piece_boxes[p, 1] + dy - gap
        x1, y1 = a.piece_boxes[p, 2] + dx + gap, a.piece_boxes[p, 3] + dy + gap
        for q in range(b.item_first[j], b.item_first[j + 1]):
            if (
                x0 < b.piece_boxes[q, 2]
                and b.piece_boxes[q, 0] < x1
                and y0 < b.piece_boxes[q, 3]
                and b.piece_boxes[q, 1] < y1
            ):
                apart, ux, uy = pieces_apart(a, p, b, q, dx, dy, gap)
                if apart < gap:
                    total += gap - apart
                    pull_x += ux
                    pull_y += uy
    return total, pull_x, pull_y


@njit(cache=True)
def obstacle_apart(a, p, wood, k, dx, dy, enough):  # type: ignore[no-untyped-def]
    """Return how far piece p of a stands off obstacle k (polygon, line or point), and the way."""
    best, way_x, way_y = -np.inf, 0.0, 0.0
    a0, a1 = a.piece_first[p], a.piece_first[p + 1]
    b0, b1 = wood.first[k], wood.first[k + 1]
    for e in range(a0, a1):
        nx, ny = a.edges[e, 2], a.edges[e, 3]
        low = np.inf
        for m in range(b0, b1):
            low = min(low, nx * wood.corners[m, 0] + ny * wood.corners[m, 1])
        apart = low - a.edges[e, 4] - nx * dx - ny * dy
        if apart > best:
            best, way_x, way_y = apart, -nx, -ny
            if apart >= enough:
                return best, way_x, way_y
    size = b1 - b0
    for m in range(size if size > 1 else 0):
        x, y = wood.corners[b0 + m, 0], wood.corners[b0 + m, 1]
        follow = b0 + (m + 1) % size
        ux, uy = wood.corners[follow, 0] - x, wood.corners[follow, 1] - y
        length = math.sqrt(ux * ux + uy * uy)
        nx, ny = uy / length, -ux / length
        low = np.inf
        for e in range(a0, a1):
            low = min(low, nx * (a.edges[e, 0] + dx - x) + ny * (a.edges[e, 1] + dy - y))
        if low > best:
            best, way_x, way_y = low, nx, ny
            if low >= enough:
                return best, way_x, way_y
    for m in range(b0, b1):
        # A corner near an end: without this axis a round clearance would have mitred corners.
        apart, nx, ny = _corner_apart(a, a0, a1, wood, m, b0, b1, dx, dy)
        if apart > best:
            best, way_x, way_y = apart, nx, ny
            if apart >= enough:
                return best, way_x, way_y
    return best, way_x, way_y


@njit(cache=True)
def _corner_apart(a, a0, a1, wood, m, b0, b1, dx, dy):  # type: ignore[no-untyped-def]
    """Return how far a piece stands off an obstacle along the line between two near corners."""
    x, y = wood.corners[m, 0], wood.corners[m, 1]
    near, nx, ny = np.inf, 0.0, 0.0
    for e in range(a0, a1):
        ux, uy = a.edges[e, 0] + dx - x, a.edges[e, 1] + dy - y
        length = math.sqrt(ux * ux + uy * uy)
        if 0.0 < length < near:
            near, nx, ny = length, ux / length, uy / length
    if near == np.inf:
        return -np.inf, 0.0, 0.0
    low, high = np.inf, -np.inf
    for e in range(a0, a1):
        low = min(low, nx * (a.edges[e, 0] + dx) + ny * (a.edges[e, 1] + dy))
    for e in range(b0, b1):
        high = max(high, nx * wood.corners[e, 0] + ny * wood.corners[e, 1])
    return low - high, nx, ny


@njit(cache=True)
def depth_in_ground(a, i, wood, blocks, x, y, limit):  # type: ignore[no-untyped-def]
    """Return the summed depth of item i at (x, y) in the obstacles that block it, and its pull."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    box = a.item_boxes[i]
    for k in range(wood.boxes.shape[0]):
        gap = wood.boxes[k, 4]
        if (
            not blocks[k]
            or box[0] + x - gap >= wood.boxes[k, 2]
            or box[2] + x + gap <= wood.boxes[k, 0]
            or box[1] + y - gap >= wood.boxes[k, 3]
            or box[3] + y + gap <= wood.boxes[k, 1]
        ):
            continue
        for p in range(a.item_first[i], a.item_first[i + 1]):
            own = a.piece_boxes[p]
            if (
                own[0] + x - gap < wood.boxes[k, 2]
                and own[2] + x + gap > wood.boxes[k, 0]
                and own[1] + y - gap < wood.boxes[k, 3]
                and own[3] + y + gap > wood.boxes[k, 1]
            ):
                apart, ux, uy = obstacle_apart(a, p, wood, k, x, y, gap)
                if apart < gap:
                    total += gap - apart
                    pull_x += ux
                    pull_y += uy
                    if total > limit:
                        return total, pull_x, pull_y
    return total, pull_x, pull_y


@njit(cache=True)
def _to_segments(segments, start, end, px, py):  # type: ignore[no-untyped-def]
    """Return the distance of a point from segments, the way away from them, and if it is inside."""
    best, way_x, way_y, is_inside = np.inf, 0.0, 0.0, False
    for k in range(start, end):
        ax, ay, bx, by = segments[k]
        ux, uy = bx - ax, by - ay
        along = ((px - ax) * ux + (py - ay) * uy) / (ux * ux + uy * uy)
        along = min(max(along, 0.0), 1.0)
        vx, vy = px - ax - along * ux, py - ay - along * uy
        away = math.sqrt(vx * vx + vy * vy)
        if away < best:
            best = away
            if away > 0.0:
                way_x, way_y = vx / away, vy / away
        if (ay > py) != (by > py) and px < ax + (py - ay) / (by - ay) * ux:
            is_inside = not is_inside
    return best, way_x, way_y, is_inside


@njit(cache=True)
def hole_depth(wood, h, rings, outline, angle, is_over, x, y):  # type: ignore[no-untyped-def]
    """Return how far an item must move until a hole is wholly outside or soundly inside it.

    And the unit way to move the item. Sound is ``inside`` from every cut edge, and the bung
    clear of every bearing zone.
    """
    cosine, sine = math.cos(angle), math.sin(angle)
    dx, dy = wood.holes[h, 0] - x, wood.holes[h, 1] - y
    px, py = dx * cosine + dy * sine, -dx * sine + dy * cosine
    if is_over:
        py = -py
    start, end = rings.first[outline], rings.first[outline + 1]
    away, wx, wy, is_inside = _to_segments(rings.segments, start, end, px, py)
    out = wood.holes[h, 2] + (away if is_inside else -away)
    if out <= 0.0:
        return 0.0, 0.0, 0.0
    inward = wood.holes[h, 3] - (away if is_inside else -away)
    sign = 1.0 if is_inside else -1.0
    in_x, in_y = -wx * sign, -wy * sign
    for z in range(rings.zone_of[outline], rings.zone_of[outline + 1]):
        near, zx, zy, is_in = _to_segments(
            rings.zones, rings.zone_first[z], rings.zone_first[z + 1], px, py
        )
        deep = wood.holes[h, 4] + (near if is_in else -near)
        if deep > 0.0 and deep > inward:
            inward = deep
            turn = -1.0 if is_in else 1.0
            in_x, in_y = -zx * turn, -zy * turn
    if inward <= 0.0:
        return 0.0, 0.0, 0.0
    depth, ux, uy = (inward, in_x, in_y) if inward < out else (out, wx * sign, wy * sign)
    if is_over:
        uy = -uy
    return depth, ux * cosine - uy * sine, ux * sine + uy * cosine
