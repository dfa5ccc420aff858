"""Slide an item downhill to where its contacts are exact; compiled.

Inside any one set of sums the cost is concave in the place, so that along a line it can turn
upward only where a sum is left or entered. A slide goes to the first such place, and on from there
along the steepest of the ways that are open: the pull of the sums around it, or along an edge
that it touches. It ends in a corner of the arrangement of edges, exact without any step length.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import inner
from nesting.engine.jostle.convex_sums import depth_in
from nesting.engine.jostle.field import build_row, with_holes

MOST_STEPS = 16
MOST_TOUCHED = 12
"""Edges of sums touched at one place that are looked at."""

FLAT = 1e-12
"""Cosine under which a way runs along an edge."""


@njit(cache=True)
def room_around(field, scene):  # type: ignore[no-untyped-def]
    """Return how many sums there can be about any place at most.

    Sums of a table serve many items; those that are built serve one each.
    """
    pairs, most = scene.table.pairs, 1
    for a in range(pairs.shape[0]):
        for b in range(pairs.shape[1]):
            most = max(most, pairs[a, b, 1] - pairs[a, b, 0])
    if pairs.shape[0] > 0:
        return most * field.boxes.shape[0]
    return field.sums.boxes.shape[0]


@inner
def gather(field, a, slot, x, y, size, around, scene):  # type: ignore[no-untyped-def]
    """Fill around (k, 4) with the sums in a square of half ``size`` about a place; how many.

    Each is its number, how far its row is shifted along x and y, and the row's weight.
    """
    count, boxes, sums = 0, field.boxes, field.sums
    for r in range(boxes.shape[0]):
        if (
            x + size < boxes[r, 0]
            or x - size > boxes[r, 2]
            or y + size < boxes[r, 1]
            or y - size > boxes[r, 3]
        ):
            continue
        if field.spans[r, 0] < 0:
            build_row(field, r, a, slot, scene)
        tx, ty = x - field.shifts[r, 0], y - field.shifts[r, 1]
        for s in range(field.spans[r, 0], field.spans[r, 1]):
            if (
                tx + size >= sums.boxes[s, 0]
                and tx - size <= sums.boxes[s, 2]
                and ty + size >= sums.boxes[s, 1]
                and ty - size <= sums.boxes[s, 3]
            ):
                around[count, 0], around[count, 1] = s, field.shifts[r, 0]
                around[count, 2], around[count, 3] = field.shifts[r, 1], field.shifts[r, 2]
                count += 1
    return count


@inner
def _cost(field, a, slot, x, y, around, count, scene):  # type: ignore[no-untyped-def]
    """Return the weighted depth at a place, and its pull, from the sums around it."""
    total, pull_x, pull_y = field.item[3] * field.item[4], 0.0, 0.0
    edges = field.sums.edges
    for k in range(count):
        depth, nearest = depth_in(field.sums, int(around[k, 0]), x - around[k, 1], y - around[k, 2])
        if depth > 0.0:
            weight = around[k, 3]
            total += weight * depth
            pull_x += weight * edges[nearest, 0]
            pull_y += weight * edges[nearest, 1]
    return with_holes(total, pull_x, pull_y, field, a, slot, x, y, scene)


@inner
def _touched(field, around, total, x, y, near, lines):  # type: ignore[no-untyped-def]
    """Fill lines (k, 4) with normal, weight and sum of each edge within ``near`` of a place."""
    count, sums, edges = 0, field.sums, field.sums.edges
    for k in range(total):
        s, tx, ty = int(around[k, 0]), x - around[k, 1], y - around[k, 2]
        if (
            tx < sums.boxes[s, 0] - near
            or tx > sums.boxes[s, 2] + near
            or ty < sums.boxes[s, 1] - near
            or ty > sums.boxes[s, 3] + near
        ):
            continue
        before = count
        for e in range(sums.first[s], sums.first[s + 1]):
            deep = edges[e, 2] - edges[e, 0] * tx - edges[e, 1] * ty
            if deep < -near:
                count = before
                break
            if deep <= near and count < MOST_TOUCHED:
                lines[count, 0], lines[count, 1] = edges[e, 0], edges[e, 1]
                lines[count, 2], lines[count, 3] = around[k, 3], k
                count += 1
    return count


@inner
def _slope(lines, count, pull_x, pull_y, ux, uy):  # type: ignore[no-untyped-def]
    """Return how fast the cost grows along a unit way, touched sums that it enters included."""
    slope, k = -(pull_x * ux + pull_y * uy), 0
    while k < count:
        rate, s = np.inf, lines[k, 3]
        weight = lines[k, 2]
        while k < count and lines[k, 3] == s:
            rate = min(rate, -(lines[k, 0] * ux + lines[k, 1] * uy))
            k += 1
        if rate > FLAT:
            slope += weight * rate
    return slope


@inner
def _steepest(field, lines, count, x, y, pull_x, pull_y, near):  # type: ignore[no-untyped-def]
    """Return the steepest slope among the ways that are open from a place, and that way."""
    best, way_x, way_y = 0.0, 0.0, 0.0
    at_x0, at_x1 = x <= field.limit[0] + near, x >= field.limit[2] - near
    at_y0, at_y1 = y <= field.limit[1] + near, y >= field.limit[3] - near
    for k in range(-3, 3 * count):
        if k == -3:
            ux, uy = pull_x, pull_y
        elif k == -2:
            ux, uy = pull_x, 0.0
        elif k == -1:
            ux, uy = 0.0, pull_y
        elif k >= 2 * count:
            e = k - 2 * count  # downhill inside the sum of that edge
            ux, uy = pull_x + lines[e, 2] * lines[e, 0], pull_y + lines[e, 2] * lines[e, 1]
        else:
            side = 1.0 if k % 2 else -1.0
            ux, uy = -side * lines[k // 2, 1], side * lines[k // 2, 0]
        if (at_x0 and ux < 0.0) or (at_x1 and ux > 0.0):
            ux = 0.0
        if (at_y0 and uy < 0.0) or (at_y1 and uy > 0.0):
            uy = 0.0
        size = math.sqrt(ux * ux + uy * uy)
        if size == 0.0:
            continue
        ux, uy = ux / size, uy / size
        slope = _slope(lines, count, pull_x, pull_y, ux, uy)
        if slope < best:
            best, way_x, way_y = slope, ux, uy
    return best, way_x, way_y


@inner
def to_limit(field, x, y, ux, uy, far):  # type: ignore[no-untyped-def]
    """Return how far a place may go along a way before it leaves its limits."""
    if ux > 0.0:
        far = min(far, (field.limit[2] - x) / ux)
    elif ux < 0.0:
        far = min(far, (field.limit[0] - x) / ux)
    if uy > 0.0:
        far = min(far, (field.limit[3] - y) / uy)
    elif uy < 0.0:
        far = min(far, (field.limit[1] - y) / uy)
    return far


@inner
def to_edge(field, around, count, x, y, ux, uy, far, near):  # type: ignore[no-untyped-def]
    """Return how far it is along a way to the first of some sums that is entered or left."""
    sums, edges = field.sums, field.sums.edges
    for k in range(count):
        s, tx, ty = int(around[k, 0]), x - around[k, 1], y - around[k, 2]
        to_x, to_y = tx + far * ux, ty + far * uy
        if (
            min(tx, to_x) > sums.boxes[s, 2]
            or max(tx, to_x) < sums.boxes[s, 0]
            or min(ty, to_y) > sums.boxes[s, 3]
            or max(ty, to_y) < sums.boxes[s, 1]
        ):
            continue
        enter, leave = -np.inf, np.inf
        for e in range(sums.first[s], sums.first[s + 1]):
            along = edges[e, 0] * ux + edges[e, 1] * uy
            deep = edges[e, 2] - edges[e, 0] * tx - edges[e, 1] * ty
            if along > FLAT:
                leave = min(leave, deep / along)
            elif along < -FLAT:
                enter = max(enter, deep / along)
            elif deep <= near:
                enter = np.inf
            if enter >= leave or enter >= far or leave <= near:
                break
        if enter < leave and leave > near:
            far = min(far, enter if enter > near else leave)
    return far


@njit(cache=True)
def slide(field, a, slot, x, y, size, near, around, lines, scene):  # type: ignore[no-untyped-def]
    """Return the cost and place at the end of a slide from a place.

    ``size`` is half the square about a place in which sums are looked at together, and so the
    farthest that one step goes; ``near`` is how close counts as touching.
    """
    from_x, from_y = x, y
    total = gather(field, a, slot, x, y, size, around, scene)
    cost, pull_x, pull_y = _cost(field, a, slot, x, y, around, total, scene)
    for _ in range(MOST_STEPS):
        if cost <= 0.0:
            break
        count = _touched(field, around, total, x, y, near, lines)
        slope, ux, uy = _steepest(field, lines, count, x, y, pull_x, pull_y, near)
        if slope >= 0.0:
            break
        far = to_limit(field, x, y, ux, uy, 2.0 * size)
        far = min(far, _to_side(x - from_x, ux, size), _to_side(y - from_y, uy, size))
        far = to_edge(field, around, total, x, y, ux, uy, far, near)
        to_x = min(max(x + far * ux, field.limit[0]), field.limit[2])
        to_y = min(max(y + far * uy, field.limit[1]), field.limit[3])
        found, new_x, new_y = _cost(field, a, slot, to_x, to_y, around, total, scene)
        if found >= cost:
            break
        x, y, cost, pull_x, pull_y = to_x, to_y, found, new_x, new_y
        if max(abs(x - from_x), abs(y - from_y)) > 0.9 * size:
            from_x, from_y = x, y
            total = gather(field, a, slot, x, y, size, around, scene)
    return cost, x, y


@inner
def _to_side(x, ux, size):  # type: ignore[no-untyped-def]
    """Return how far it is along a way to a side of a square of half ``size``."""
    if ux == 0.0:
        return np.inf
    return ((size if ux > 0.0 else -size) - x) / ux
