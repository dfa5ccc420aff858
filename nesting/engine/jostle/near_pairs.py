"""The pairs of items, and of items and obstacles, that lie near one another; compiled.

While items only shift a little, their convex sums stay as they are and no others matter.
"""

from __future__ import annotations

from collections import namedtuple

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import NONE_YET, inner
from nesting.engine.jostle.convex_sums import add_item_sums, add_obstacle_sums

ROOM = 4096
"""Rows of edges that are made room for at first."""

Near = namedtuple("Near", "rows sums count")
"""Rows (m, 4): item, other item or -1, and the span of their sums; the sums; count (1)."""


@inner
def _is_near(own, x, y, other, gap, reach):  # type: ignore[no-untyped-def]
    far = gap + reach
    return (
        own[0] + x - far < other[2]
        and own[2] + x + far > other[0]
        and own[1] + y - far < other[3]
        and own[3] + y + far > other[1]
    )


@njit(cache=True)
def find_near(near, reach, scene):  # type: ignore[no-untyped-def]
    """Fill ``near`` with the pairs whose boxes come within ``reach`` of one another."""
    layout, wood, table = scene.layout, scene.wood, scene.table
    boxes, place, count = layout.block.item_boxes, layout.place, NONE_YET
    is_tabled = table.pairs.shape[0] > 0
    if not is_tabled:
        near.sums.used[0] = 0
    for i in range(layout.outline.shape[0]):
        for j in range(i):
            x, y = place[i, 0] - place[j, 0], place[i, 1] - place[j, 1]
            if not _is_near(boxes[i], x, y, boxes[j], wood.gap, reach):
                continue
            near.rows[count, 0], near.rows[count, 1] = i, j
            if is_tabled:
                pair = table.pairs[int(place[i, 4]), int(place[j, 4])]
                near.rows[count, 2], near.rows[count, 3] = pair[0], pair[1]
            else:
                near.rows[count, 2] = near.sums.used[0]
                add_item_sums(near.sums, layout.block, i, layout.block, j, wood.gap)
                near.rows[count, 3] = near.sums.used[0]
            count += 1
        count = _near_obstacles(near, i, count, reach, scene)
    near.count[0] = count


@inner
def _near_obstacles(near, i, count, reach, scene):  # type: ignore[no-untyped-def]
    layout, wood, block = scene.layout, scene.wood, scene.layout.block
    pairs = scene.table.pairs
    x, y = layout.place[i, 0], layout.place[i, 1]
    for k in range(wood.boxes.shape[0]):
        gap = wood.boxes[k, 4]
        if not scene.ways.blocks[layout.outline[i], k]:
            continue
        if not _is_near(block.item_boxes[i], x, y, wood.boxes[k], gap, reach):
            continue
        near.rows[count, 0], near.rows[count, 1] = i, -1
        if pairs.shape[0] > 0:
            pair = pairs[int(layout.place[i, 4]), pairs.shape[0] + k]
            near.rows[count, 2], near.rows[count, 3] = pair[0], pair[1]
        else:
            near.rows[count, 2] = near.sums.used[0]
            add_obstacle_sums(near.sums, block, i, wood, k)
            near.rows[count, 3] = near.sums.used[0]
        count += 1
    return count


@njit(cache=True)
def edges_near(most, near, scene):  # type: ignore[no-untyped-def]
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
def _fill_edges(rows, most, near, scene):  # type: ignore[no-untyped-def]
    """Fill as many rows as there is room for, and return how many there are."""
    place, sums, edges, count = scene.layout.place, near.sums, near.sums.edges, NONE_YET
    for k in range(near.count[0]):
        i, j = near.rows[k, 0], near.rows[k, 1]
        tx, ty = place[i, 0], place[i, 1]
        if j >= 0:
            tx -= place[j, 0]
            ty -= place[j, 1]
        for s in range(near.rows[k, 2], near.rows[k, 3]):
            box = sums.boxes[s]
            if (
                max(box[0] - tx, tx - box[2]) >= 2.0 * most
                or max(box[1] - ty, ty - box[3]) >= 2.0 * most
            ):
                continue
            slack, best = -np.inf, 0
            for e in range(sums.first[s], sums.first[s + 1]):
                out = edges[e, 0] * tx + edges[e, 1] * ty - edges[e, 2]
                if out > slack:
                    slack, best = out, e
            nx, ny = edges[best, 0], edges[best, 1]
            if slack < 2.0 * most * (abs(nx) + abs(ny)):
                if count < rows.shape[0]:
                    rows[count, 0], rows[count, 1] = i, j
                    rows[count, 2], rows[count, 3], rows[count, 4] = nx, ny, slack
                    rows[count, 5] = s
                count += 1
    return count
