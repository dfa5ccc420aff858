"""Compiled: the convex sums of two outlines' pieces; ``kernels`` says what they mean.

A *sum* is a convex region in which a moving outline's origin may not lie: ``n . t < c`` for each
of its edges ``(nx, ny, c)``. All in mm.
"""

from __future__ import annotations

import math

import numpy as np

from nesting.engine.geometry.arrays import (
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    NORMAL_X,
    NORMAL_Y,
    REACH,
    Floats,
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import NONE_YET, door, inner
from nesting.engine.geometry.sorting import order_of
from nesting.engine.geometry.tolerances import PARALLEL_RAD, ROUND_STEP_RAD


@inner
def convex_sum(a: Floats, b: Floats, gap: float, edges: Floats, corners: Floats) -> int:
    """Fill edges (e, 3) and corners (e, 2) of the convex sum of a and -b, grown by gap.

    ``a`` (n, 2) may be one point or two; ``b`` (m, 2) has three corners or more; both
    anticlockwise. Returns the number of edges written. The buffers hold at least
    n + m + 32 rows: each corner adds its edge, and rounding adds at most 16 more.
    """
    n, m = a.shape[0], b.shape[0]
    angles = np.empty(n + m)
    normals = np.empty((n + m, 2))
    count = NONE_YET
    for which in range(2):
        size = n if which == 0 else m
        for i in range(size):
            j = (i + 1) % size
            if which == 0:
                dx, dy = a[j, X] - a[i, X], a[j, Y] - a[i, Y]
            else:
                dx, dy = b[i, X] - b[j, X], b[i, Y] - b[j, Y]
            length = math.sqrt(dx * dx + dy * dy)
            if length > 0.0:
                normals[count, X], normals[count, Y] = dy / length, -dx / length
                angles[count] = math.atan2(normals[count, Y], normals[count, X])
                count += 1
    order = np.empty(count, np.int64)
    order_of(angles, count, order)
    total = 0
    for k in range(count):
        i = order[k]
        j = order[(k + 1) % count]
        step = angles[j] - angles[i]
        if k == count - 1:
            step += 2.0 * math.pi
        if step < PARALLEL_RAD:
            continue
        pieces = 1
        if gap > 0.0:
            pieces = max(1, math.ceil(step / ROUND_STEP_RAD - 1e-9))
        for piece in range(pieces):
            if piece == 0:
                edges[total, NORMAL_X], edges[total, NORMAL_Y] = normals[i, X], normals[i, Y]
            else:
                turn = angles[i] + step * piece / pieces
                edges[total, NORMAL_X], edges[total, NORMAL_Y] = math.cos(turn), math.sin(turn)
            total += 1
    for k in range(total):
        nx, ny = edges[k, NORMAL_X], edges[k, NORMAL_Y]
        high_a, high_b = -np.inf, -np.inf
        for i in range(n):
            high_a = max(high_a, nx * a[i, X] + ny * a[i, Y])
        for i in range(m):
            high_b = max(high_b, -nx * b[i, X] - ny * b[i, Y])
        edges[k, REACH] = high_a + high_b + gap
    for k in range(total):
        j = (k + 1) % total
        cross = edges[k, NORMAL_X] * edges[j, NORMAL_Y] - edges[k, NORMAL_Y] * edges[j, NORMAL_X]
        corners[k, X] = (
            edges[k, REACH] * edges[j, NORMAL_Y] - edges[j, REACH] * edges[k, NORMAL_Y]
        ) / cross
        corners[k, Y] = (
            edges[k, NORMAL_X] * edges[j, REACH] - edges[j, NORMAL_X] * edges[k, REACH]
        ) / cross
    return total


@door
def all_sums(
    a: Floats, a_first: Ints, gaps: Floats, b: Floats, b_first: Ints
) -> tuple[Floats, Floats, Ints, Floats]:
    """Return edges, corners, first and boxes of the sums of every piece of a with every of b."""
    pieces_a, pieces_b = a_first.shape[0] - 1, b_first.shape[0] - 1
    room = a.shape[0] * pieces_b + b.shape[0] * pieces_a + 32 * pieces_a * pieces_b
    edges = np.empty((room, 3))
    corners = np.empty((room, 2))
    first = np.zeros(pieces_a * pieces_b + 1, np.int64)
    boxes = np.empty((pieces_a * pieces_b, 4))
    at = 0
    for i in range(pieces_a):
        for j in range(pieces_b):
            number = i * pieces_b + j
            used = convex_sum(
                a[a_first[i] : a_first[i + 1]],
                b[b_first[j] : b_first[j + 1]],
                gaps[i],
                edges[at:],
                corners[at:],
            )
            boxes[number, LOW_X] = boxes[number, LOW_Y] = np.inf
            boxes[number, HIGH_X] = boxes[number, HIGH_Y] = -np.inf
            for k in range(at, at + used):
                boxes[number, LOW_X] = min(boxes[number, LOW_X], corners[k, X])
                boxes[number, LOW_Y] = min(boxes[number, LOW_Y], corners[k, Y])
                boxes[number, HIGH_X] = max(boxes[number, HIGH_X], corners[k, X])
                boxes[number, HIGH_Y] = max(boxes[number, HIGH_Y], corners[k, Y])
            at += used
            first[number + 1] = at
    return edges[:at].copy(), corners[:at].copy(), first, boxes
