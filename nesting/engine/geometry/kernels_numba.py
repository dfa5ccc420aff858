"""Compiled kernels of the search; :mod:`nesting.engine.geometry.kernels` says what they mean.

Everything is in mm. A *sum* is a convex region in which a moving outline's origin may not
lie: ``n . t < c`` for each of its edges ``(nx, ny, c)``. Compiled code is cached on disk
beside this file, or in the user's cache folder where that is read-only.
"""

from __future__ import annotations

import math

import numpy as np

from nesting.engine.geometry.arrays import (
    FROM_X,
    FROM_Y,
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    NORMAL_X,
    NORMAL_Y,
    REACH,
    TO_X,
    TO_Y,
    Floats,
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import NONE_YET, door, inner
from nesting.engine.geometry.sorting import order_of
from nesting.engine.geometry.tolerances import FLAT_SINE, STRICT_MM

SCORE, AT_X, AT_Y = 0, 1, 2
"""Of the best positions."""


@inner
def _covered(
    ax: float, ay: float, ux: float, uy: float, number: int, edges: Floats, first: Ints
) -> tuple[float, float]:
    """Return the share, from and to in 0..1, of a segment that lies inside a sum."""
    start, end = 0.0, 1.0
    for k in range(first[number], first[number + 1]):
        at = edges[k, NORMAL_X] * ax + edges[k, NORMAL_Y] * ay - edges[k, REACH]
        rise = edges[k, NORMAL_X] * ux + edges[k, NORMAL_Y] * uy
        if at > -STRICT_MM and at + rise > -STRICT_MM:
            return 1.0, 0.0
        if rise > 0.0:
            end = min(end, -at / rise)
        elif rise < 0.0:
            start = max(start, -at / rise)
    return start, end


@inner
def _with_room(rows: Floats, count: int) -> Floats:
    """Return rows (n, 4) copied into an array of so many."""
    larger = np.empty((count, 4))
    for i in range(rows.shape[0]):
        for k in range(4):
            larger[i, k] = rows[i, k]
    return larger


@door
def exposed(edges: Floats, corners: Floats, first: Ints, boxes: Floats) -> Floats:
    """Return the segments (k, 4) of the sums' edges that lie inside no other sum.

    A point at which two others meet on an edge is one as well, of no length.
    """
    sums = first.shape[0] - 1
    found = np.empty((2 * edges.shape[0] + 16, 4))
    begins, ends = np.empty(sums), np.empty(sums)
    near, order = np.empty(sums, np.int64), np.empty(sums, np.int64)
    total, hider = NONE_YET, 0
    for own in range(sums):
        neighbours = 0
        for other in range(sums):
            if (
                other != own
                and boxes[own, LOW_X] < boxes[other, HIGH_X]
                and boxes[other, LOW_X] < boxes[own, HIGH_X]
                and boxes[own, LOW_Y] < boxes[other, HIGH_Y]
                and boxes[other, LOW_Y] < boxes[own, HIGH_Y]
            ):
                near[neighbours] = other
                neighbours += 1
        for k in range(first[own], first[own + 1]):
            before = k - 1 if k > first[own] else first[own + 1] - 1
            ax, ay = corners[before, X], corners[before, Y]
            ux, uy = corners[k, X] - ax, corners[k, Y] - ay
            length = math.sqrt(ux * ux + uy * uy)
            if length < STRICT_MM:
                continue
            count = NONE_YET
            for turn in range(neighbours):
                # The sum that hid the edge before hides this one too, more often than not.
                place = (hider + turn) % neighbours
                other = near[place]
                if (
                    max(ax, ax + ux) <= boxes[other, LOW_X]
                    or min(ax, ax + ux) >= boxes[other, HIGH_X]
                    or max(ay, ay + uy) <= boxes[other, LOW_Y]
                    or min(ay, ay + uy) >= boxes[other, HIGH_Y]
                ):
                    continue
                start, end = _covered(ax, ay, ux, uy, other, edges, first)
                if start < end:
                    begins[count], ends[count] = start, end
                    count += 1
                    if start == 0.0 and end == 1.0:
                        hider = place
                        break
            order_of(begins, count, order)
            at = 0.0
            for p in range(count + 1):
                end = begins[order[p]] if p < count else 1.0
                free = (end - at) * length
                # Where two meet in one point that is free: a part may just fill an opening.
                if free > STRICT_MM or (0 < p < count and free >= -STRICT_MM):
                    if total == found.shape[0]:
                        found = _with_room(found, 2 * total)
                    found[total, FROM_X], found[total, FROM_Y] = ax + at * ux, ay + at * uy
                    found[total, TO_X], found[total, TO_Y] = ax + end * ux, ay + end * uy
                    total += 1
                if p < count:
                    at = max(at, ends[order[p]])
    return _with_room(found[:total], total)


@inner
def _is_inside(number: int, x: float, y: float, edges: Floats, first: Ints, boxes: Floats) -> bool:
    if (
        x <= boxes[number, LOW_X]
        or y <= boxes[number, LOW_Y]
        or x >= boxes[number, HIGH_X]
        or y >= boxes[number, HIGH_Y]
    ):
        return False
    for k in range(first[number], first[number + 1]):
        if edges[k, NORMAL_X] * x + edges[k, NORMAL_Y] * y - edges[k, REACH] > -STRICT_MM:
            return False
    return True


@door
def sum_about(x: float, y: float, edges: Floats, first: Ints, boxes: Floats) -> int:
    """Return the number of the first sum in which a position lies, -1 if it lies in none."""
    for number in range(first.shape[0] - 1):
        if _is_inside(number, x, y, edges, first, boxes):
            return number
    return -1


@inner
def _offer(
    x: float,
    y: float,
    limit: Floats,
    weights: Floats,
    spots: Floats,
    edges: Floats,
    first: Ints,
    boxes: Floats,
    killer: Ints,
) -> None:
    """Take a candidate into the sorted spots if it is legal and good enough."""
    slack = STRICT_MM
    if (
        x < limit[LOW_X] - slack
        or y < limit[LOW_Y] - slack
        or x > limit[HIGH_X] + slack
        or y > limit[HIGH_Y] + slack
    ):
        return
    x = min(max(x, limit[LOW_X]), limit[HIGH_X])
    y = min(max(y, limit[LOW_Y]), limit[HIGH_Y])
    score = weights[X] * x + weights[Y] * y
    last = spots.shape[0] - 1
    if score >= spots[last, SCORE]:
        return
    if first.shape[0] > 1 and _is_inside(killer[0], x, y, edges, first, boxes):
        return
    number = sum_about(x, y, edges, first, boxes)
    if number >= 0:
        killer[0] = number
        return
    for k in range(last + 1):
        if abs(spots[k, AT_X] - x) < 1e-6 and abs(spots[k, AT_Y] - y) < 1e-6:
            return
    k = last
    while k > 0 and spots[k - 1, SCORE] > score:
        spots[k, SCORE], spots[k, AT_X], spots[k, AT_Y] = (
            spots[k - 1, SCORE],
            spots[k - 1, AT_X],
            spots[k - 1, AT_Y],
        )
        k -= 1
    spots[k, SCORE], spots[k, AT_X], spots[k, AT_Y] = score, x, y


@inner
def _least(x0: float, y0: float, x1: float, y1: float, weights: Floats) -> float:
    """Return the least score anywhere in a box."""
    along: float = weights[X] * x0 if weights[X] > 0 else weights[X] * x1
    across: float = weights[Y] * y0 if weights[Y] > 0 else weights[Y] * y1
    return along + across


@door
def lowest_spots(
    edges: Floats,
    first: Ints,
    boxes: Floats,
    segments: Floats,
    limit: Floats,
    weights: Floats,
    spots: Floats,
) -> None:
    """Fill spots (k, 3) with score, x, y of the best legal positions, best first.

    Candidates are the corners of ``limit`` (x0, y0, x1, y1), ends of the segments (s, 4),
    where segments cross the limit's sides, and where two segments cross. ``spots`` comes in
    filled with infinities; rows left infinite hold nothing.
    """
    killer = np.zeros(1, np.int64)
    x0, y0, x1, y1 = limit[LOW_X], limit[LOW_Y], limit[HIGH_X], limit[HIGH_Y]
    near = np.empty(segments.shape[0], np.int64)
    least = np.empty(segments.shape[0])
    count = NONE_YET
    for i in range(segments.shape[0]):
        ax, ay, bx, by = (
            segments[i, FROM_X],
            segments[i, FROM_Y],
            segments[i, TO_X],
            segments[i, TO_Y],
        )
        low_x, high_x = max(min(ax, bx), x0), min(max(ax, bx), x1)
        low_y, high_y = max(min(ay, by), y0), min(max(ay, by), y1)
        if low_x <= high_x + STRICT_MM and low_y <= high_y + STRICT_MM:
            near[count] = i
            least[count] = _least(low_x, low_y, high_x, high_y, weights)
            count += 1
    for x in (x0, x1):
        for y in (y0, y1):
            _offer(x, y, limit, weights, spots, edges, first, boxes, killer)
    order = np.empty(count, np.int64)
    order_of(least, count, order)
    last = spots.shape[0] - 1
    for p in range(count):
        if least[order[p]] >= spots[last, SCORE]:
            break
        i = near[order[p]]
        ax, ay, bx, by = (
            segments[i, FROM_X],
            segments[i, FROM_Y],
            segments[i, TO_X],
            segments[i, TO_Y],
        )
        _offer(ax, ay, limit, weights, spots, edges, first, boxes, killer)
        _offer(bx, by, limit, weights, spots, edges, first, boxes, killer)
        for x in (x0, x1):
            if (ax - x) * (bx - x) < 0.0:
                y = ay + (x - ax) / (bx - ax) * (by - ay)
                _offer(x, y, limit, weights, spots, edges, first, boxes, killer)
        for y in (y0, y1):
            if (ay - y) * (by - y) < 0.0:
                x = ax + (y - ay) / (by - ay) * (bx - ax)
                _offer(x, y, limit, weights, spots, edges, first, boxes, killer)
        for q in range(p):
            j = near[order[q]]
            cx, cy, dx, dy = (
                segments[j, FROM_X],
                segments[j, FROM_Y],
                segments[j, TO_X],
                segments[j, TO_Y],
            )
            if (
                max(ax, bx) < min(cx, dx)
                or max(cx, dx) < min(ax, bx)
                or max(ay, by) < min(cy, dy)
                or max(cy, dy) < min(ay, by)
            ):
                continue
            ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
            turn = ux * vy - uy * vx
            if abs(turn) <= FLAT_SINE * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
                continue
            along = ((cx - ax) * vy - (cy - ay) * vx) / turn
            other = ((cx - ax) * uy - (cy - ay) * ux) / turn
            if 0.0 <= along <= 1.0 and 0.0 <= other <= 1.0:
                x, y = ax + along * ux, ay + along * uy
                _offer(x, y, limit, weights, spots, edges, first, boxes, killer)
