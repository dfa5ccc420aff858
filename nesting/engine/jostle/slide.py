"""Slide an item downhill to where its contacts are exact; compiled.

Inside any one set of sums the cost is concave in the place, so that along a line it can turn
upward only where a sum is left or entered. A slide goes to the first such place, and on from there
along the steepest of the ways that are open: the pull of the sums around it, or along an edge
that it touches. It ends in a corner of the arrangement of edges, exact without any step length.
"""

from __future__ import annotations

import math

import numpy as np

from nesting.engine.geometry.arrays import (
    BEGIN,
    END,
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    NORMAL_X,
    NORMAL_Y,
    REACH,
    Floats,
    X,
    Y,
)
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import Block
from nesting.engine.jostle.convex_sums import depth_in
from nesting.engine.jostle.field import (
    GROUND_WEIGHT,
    OVERHANG,
    WEIGHT,
    Field,
    Scene,
    build_row,
    with_holes,
)

MOST_STEPS = 16
MOST_TOUCHED = 12
"""Edges of sums touched at one place that are looked at."""

FLAT = 1e-12
"""Cosine under which a way runs along an edge."""

SUM, BY_X, BY_Y, ROW_WEIGHT = 0, 1, 2, 3
"""Of a sum around a place: its number, how far its row is shifted, and the row's weight."""

EDGE_WEIGHT, EDGE_SUM = 2, 3
"""Of an edge touched, behind its normal: weight, and which of the sums around it is of."""


@door
def room_around(field: Field, scene: Scene) -> int:
    """Return how many sums there can be about any place at most.

    Sums of a table serve many items; those that are built serve one each.
    """
    pairs, most = scene.table.pairs, 1
    for a in range(pairs.shape[0]):
        for b in range(pairs.shape[1]):
            most = max(most, pairs[a, b, END] - pairs[a, b, BEGIN])
    rows: int = field.boxes.shape[0]
    built: int = field.sums.boxes.shape[0]
    return most * rows if pairs.shape[0] > 0 else built


@inner
def gather(
    field: Field, a: Block, slot: int, x: float, y: float, size: float, around: Floats, scene: Scene
) -> int:
    """Fill around (k, 4) with the sums in a square of half ``size`` about a place; how many."""
    count, boxes, sums = 0, field.boxes, field.sums
    for r in range(boxes.shape[0]):
        if (
            x + size < boxes[r, LOW_X]
            or x - size > boxes[r, HIGH_X]
            or y + size < boxes[r, LOW_Y]
            or y - size > boxes[r, HIGH_Y]
        ):
            continue
        if field.spans[r, BEGIN] < 0:
            build_row(field, r, a, slot, scene)
        tx, ty = x - field.shifts[r, X], y - field.shifts[r, Y]
        for s in range(field.spans[r, BEGIN], field.spans[r, END]):
            if (
                tx + size >= sums.boxes[s, LOW_X]
                and tx - size <= sums.boxes[s, HIGH_X]
                and ty + size >= sums.boxes[s, LOW_Y]
                and ty - size <= sums.boxes[s, HIGH_Y]
            ):
                around[count, SUM], around[count, BY_X] = s, field.shifts[r, X]
                around[count, BY_Y], around[count, ROW_WEIGHT] = (
                    field.shifts[r, Y],
                    field.shifts[r, WEIGHT],
                )
                count += 1
    return count


@inner
def _cost(
    field: Field, a: Block, slot: int, x: float, y: float, around: Floats, count: int, scene: Scene
) -> tuple[float, float, float]:
    """Return the weighted depth at a place, and its pull, from the sums around it."""
    total, pull_x, pull_y = field.item[GROUND_WEIGHT] * field.item[OVERHANG], 0.0, 0.0
    edges = field.sums.edges
    for k in range(count):
        depth, nearest = depth_in(
            field.sums, int(around[k, SUM]), x - around[k, BY_X], y - around[k, BY_Y]
        )
        if depth > 0.0:
            weight = around[k, ROW_WEIGHT]
            total += weight * depth
            pull_x += weight * edges[nearest, NORMAL_X]
            pull_y += weight * edges[nearest, NORMAL_Y]
    return with_holes(total, pull_x, pull_y, field, a, slot, x, y, scene)


@inner
def _touched(
    field: Field, around: Floats, total: int, x: float, y: float, near: float, lines: Floats
) -> int:
    """Fill lines (k, 4) with normal, weight and sum of each edge within ``near`` of a place."""
    count, sums, edges = 0, field.sums, field.sums.edges
    for k in range(total):
        s, tx, ty = int(around[k, SUM]), x - around[k, BY_X], y - around[k, BY_Y]
        if (
            tx < sums.boxes[s, LOW_X] - near
            or tx > sums.boxes[s, HIGH_X] + near
            or ty < sums.boxes[s, LOW_Y] - near
            or ty > sums.boxes[s, HIGH_Y] + near
        ):
            continue
        before = count
        for e in range(sums.first[s], sums.first[s + 1]):
            deep = edges[e, REACH] - edges[e, NORMAL_X] * tx - edges[e, NORMAL_Y] * ty
            if deep < -near:
                count = before
                break
            if deep <= near and count < MOST_TOUCHED:
                lines[count, NORMAL_X], lines[count, NORMAL_Y] = (
                    edges[e, NORMAL_X],
                    edges[e, NORMAL_Y],
                )
                lines[count, EDGE_WEIGHT], lines[count, EDGE_SUM] = around[k, ROW_WEIGHT], k
                count += 1
    return count


@inner
def _slope(lines: Floats, count: int, pull_x: float, pull_y: float, ux: float, uy: float) -> float:
    """Return how fast the cost grows along a unit way, touched sums that it enters included."""
    slope, k = -(pull_x * ux + pull_y * uy), 0
    while k < count:
        rate, s = np.inf, lines[k, EDGE_SUM]
        weight = lines[k, EDGE_WEIGHT]
        while k < count and lines[k, EDGE_SUM] == s:
            rate = min(rate, -(lines[k, NORMAL_X] * ux + lines[k, NORMAL_Y] * uy))
            k += 1
        if rate > FLAT:
            slope += weight * rate
    return slope


@inner
def _steepest(
    field: Field,
    lines: Floats,
    count: int,
    x: float,
    y: float,
    pull_x: float,
    pull_y: float,
    near: float,
) -> tuple[float, float, float]:
    """Return the steepest slope among the ways that are open from a place, and that way."""
    best, way_x, way_y = 0.0, 0.0, 0.0
    at_x0, at_x1 = x <= field.limit[LOW_X] + near, x >= field.limit[HIGH_X] - near
    at_y0, at_y1 = y <= field.limit[LOW_Y] + near, y >= field.limit[HIGH_Y] - near
    for k in range(-3, 3 * count):
        if k == -3:
            ux, uy = pull_x, pull_y
        elif k == -2:
            ux, uy = pull_x, 0.0
        elif k == -1:
            ux, uy = 0.0, pull_y
        elif k >= 2 * count:
            e = k - 2 * count  # downhill inside the sum of that edge
            ux, uy = (
                pull_x + lines[e, EDGE_WEIGHT] * lines[e, NORMAL_X],
                pull_y + lines[e, EDGE_WEIGHT] * lines[e, NORMAL_Y],
            )
        else:
            side = 1.0 if k % 2 else -1.0
            ux, uy = -side * lines[k // 2, NORMAL_Y], side * lines[k // 2, NORMAL_X]
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
def to_limit(field: Field, x: float, y: float, ux: float, uy: float, far: float) -> float:
    """Return how far a place may go along a way before it leaves its limits."""
    if ux > 0.0:
        far = min(far, (field.limit[HIGH_X] - x) / ux)
    elif ux < 0.0:
        far = min(far, (field.limit[LOW_X] - x) / ux)
    if uy > 0.0:
        far = min(far, (field.limit[HIGH_Y] - y) / uy)
    elif uy < 0.0:
        far = min(far, (field.limit[LOW_Y] - y) / uy)
    return far


@inner
def to_edge(
    field: Field,
    around: Floats,
    count: int,
    x: float,
    y: float,
    ux: float,
    uy: float,
    far: float,
    near: float,
) -> float:
    """Return how far it is along a way to the first of some sums that is entered or left."""
    sums, edges = field.sums, field.sums.edges
    for k in range(count):
        s, tx, ty = int(around[k, SUM]), x - around[k, BY_X], y - around[k, BY_Y]
        to_x, to_y = tx + far * ux, ty + far * uy
        if (
            min(tx, to_x) > sums.boxes[s, HIGH_X]
            or max(tx, to_x) < sums.boxes[s, LOW_X]
            or min(ty, to_y) > sums.boxes[s, HIGH_Y]
            or max(ty, to_y) < sums.boxes[s, LOW_Y]
        ):
            continue
        enter, leave = -np.inf, np.inf
        for e in range(sums.first[s], sums.first[s + 1]):
            along = edges[e, NORMAL_X] * ux + edges[e, NORMAL_Y] * uy
            deep = edges[e, REACH] - edges[e, NORMAL_X] * tx - edges[e, NORMAL_Y] * ty
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


@door
def slide(
    field: Field,
    a: Block,
    slot: int,
    x: float,
    y: float,
    size: float,
    near: float,
    around: Floats,
    lines: Floats,
    scene: Scene,
) -> tuple[float, float, float]:
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
        to_x = min(max(x + far * ux, field.limit[LOW_X]), field.limit[HIGH_X])
        to_y = min(max(y + far * uy, field.limit[LOW_Y]), field.limit[HIGH_Y])
        found, new_x, new_y = _cost(field, a, slot, to_x, to_y, around, total, scene)
        if found >= cost:
            break
        x, y, cost, pull_x, pull_y = to_x, to_y, found, new_x, new_y
        if max(abs(x - from_x), abs(y - from_y)) > 0.9 * size:
            from_x, from_y = x, y
            total = gather(field, a, slot, x, y, size, around, scene)
    return cost, x, y


@inner
def _to_side(x: float, ux: float, size: float) -> float:
    """Return how far it is along a way to a side of a square of half ``size``."""
    if ux == 0.0:
        return np.inf
    return ((size if ux > 0.0 else -size) - x) / ux
