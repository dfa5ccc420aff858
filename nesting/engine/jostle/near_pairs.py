"""The pairs of items, and of items and obstacles, that lie near one another; compiled.

While items only shift a little, their convex sums stay as they are and no others matter.
"""

from __future__ import annotations

from typing import NamedTuple

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
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import NONE_YET, door, inner
from nesting.engine.jostle.blocks import GAP, WAY
from nesting.engine.jostle.convex_sums import Sums, add_item_sums, add_obstacle_sums
from nesting.engine.jostle.field import Scene

ROOM = 4096
"""Rows of edges that are made room for at first."""

OWN, OTHER = 0, 1
"""Of a pair: an item, and another one or -1 for an obstacle."""

SUMS_FROM, SUMS_TO = 2, 3
"""Of a pair, behind both: the span of its sums."""

AWAY_X, AWAY_Y, SLACK, SUM = 2, 3, 4, 5
"""Of a near edge, behind both: its normal and slack, and its sum."""


class Near(NamedTuple):
    """Pairs (m, 4), their sums, and how many pairs are used, (1)."""

    rows: Ints
    sums: Sums
    used: Ints


@inner
def _is_near(own: Floats, x: float, y: float, other: Floats, gap: float, reach: float) -> bool:
    far = gap + reach
    is_near: bool = (
        own[LOW_X] + x - far < other[HIGH_X]
        and own[HIGH_X] + x + far > other[LOW_X]
        and own[LOW_Y] + y - far < other[HIGH_Y]
        and own[HIGH_Y] + y + far > other[LOW_Y]
    )
    return is_near


@door
def find_near(near: Near, reach: float, scene: Scene) -> None:
    """Fill ``near`` with the pairs whose boxes come within ``reach`` of one another."""
    layout, wood, table = scene.layout, scene.wood, scene.table
    boxes, place, count = layout.block.item_boxes, layout.place, NONE_YET
    is_tabled = table.pairs.shape[0] > 0
    if not is_tabled:
        near.sums.used[0] = 0
    for i in range(layout.outline.shape[0]):
        for j in range(i):
            x, y = place[i, X] - place[j, X], place[i, Y] - place[j, Y]
            if not _is_near(boxes[i], x, y, boxes[j], wood.gap, reach):
                continue
            near.rows[count, OWN], near.rows[count, OTHER] = i, j
            if is_tabled:
                pair = table.pairs[int(place[i, WAY]), int(place[j, WAY])]
                near.rows[count, SUMS_FROM], near.rows[count, SUMS_TO] = pair[BEGIN], pair[END]
            else:
                near.rows[count, SUMS_FROM] = near.sums.used[0]
                add_item_sums(near.sums, layout.block, i, layout.block, j, wood.gap)
                near.rows[count, SUMS_TO] = near.sums.used[0]
            count += 1
        count = _near_obstacles(near, i, count, reach, scene)
    near.used[0] = count


@inner
def _near_obstacles(near: Near, i: int, count: int, reach: float, scene: Scene) -> int:
    layout, wood, block = scene.layout, scene.wood, scene.layout.block
    pairs = scene.table.pairs
    x, y = layout.place[i, X], layout.place[i, Y]
    for k in range(wood.boxes.shape[0]):
        gap = wood.boxes[k, GAP]
        if not scene.ways.blocks[layout.outline[i], k]:
            continue
        if not _is_near(block.item_boxes[i], x, y, wood.boxes[k], gap, reach):
            continue
        near.rows[count, OWN], near.rows[count, OTHER] = i, -1
        if pairs.shape[0] > 0:
            pair = pairs[int(layout.place[i, WAY]), pairs.shape[0] + k]
            near.rows[count, SUMS_FROM], near.rows[count, SUMS_TO] = pair[BEGIN], pair[END]
        else:
            near.rows[count, SUMS_FROM] = near.sums.used[0]
            add_obstacle_sums(near.sums, block, i, wood, k)
            near.rows[count, SUMS_TO] = near.sums.used[0]
        count += 1
    return count


@door
def edges_near(most: float, near: Near, scene: Scene) -> Floats:
    """Return the sums that shifts of up to ``most`` a side could bring items into.

    Rows (m, 6): item, other item or -1, normal and slack of the edge by which the sum is left
    with least trouble, and the sum.
    """
    find_near(near, 2.0 * most, scene)
    rows = np.empty((ROOM, 6))
    count = _fill_edges(rows, most, near, scene)
    if count > rows.shape[0]:
        rows = np.empty((count, 6))
        _fill_edges(rows, most, near, scene)
    return rows[:count]


@inner
def _fill_edges(rows: Floats, most: float, near: Near, scene: Scene) -> int:
    """Fill as many rows as there is room for, and return how many there are."""
    place, sums, edges, count = scene.layout.place, near.sums, near.sums.edges, NONE_YET
    for k in range(near.used[0]):
        i, j = near.rows[k, OWN], near.rows[k, OTHER]
        tx, ty = place[i, X], place[i, Y]
        if j >= 0:
            tx -= place[j, X]
            ty -= place[j, Y]
        for s in range(near.rows[k, SUMS_FROM], near.rows[k, SUMS_TO]):
            box = sums.boxes[s]
            if (
                max(box[LOW_X] - tx, tx - box[HIGH_X]) >= 2.0 * most
                or max(box[LOW_Y] - ty, ty - box[HIGH_Y]) >= 2.0 * most
            ):
                continue
            slack, best = -np.inf, 0
            for e in range(sums.first[s], sums.first[s + 1]):
                out = edges[e, NORMAL_X] * tx + edges[e, NORMAL_Y] * ty - edges[e, REACH]
                if out > slack:
                    slack, best = out, e
            nx, ny = edges[best, NORMAL_X], edges[best, NORMAL_Y]
            if slack < 2.0 * most * (abs(nx) + abs(ny)):
                if count < rows.shape[0]:
                    rows[count, OWN], rows[count, OTHER] = i, j
                    rows[count, AWAY_X], rows[count, AWAY_Y], rows[count, SLACK] = nx, ny, slack
                    rows[count, SUM] = s
                count += 1
    return count
