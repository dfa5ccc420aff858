"""What keeps one item, lying one way, off everything else; compiled.

A field has a row for each other item and for each obstacle: a box in which the item's origin may
touch it, a weight, and convex sums. Sums of items that lie only in given ways come from a table;
others are built when a place first falls into their row's box.
"""

from __future__ import annotations

from collections import namedtuple

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import inner
from nesting.engine.jostle.blocks import limits, overhang
from nesting.engine.jostle.convex_sums import add_item_sums, add_obstacle_sums, depth_in
from nesting.engine.jostle.holes import hole_depth

Field = namedtuple("Field", "boxes spans shifts sums limit item")
"""Rows: boxes (r, 4), spans (r, 2) of their sums (-1: not built yet), shifts (r, 3) x, y and
weight; the sums; limit (4): least and greatest place; item (5): angle, face, outline, weight with
the ground, overhang."""

Table = namedtuple("Table", "pairs sums")
"""Sums of ways: pairs (w, w + k, 2) is the span of each moving way with each fixed one, then with
each obstacle; (0, 0, 2) if there are none."""

Scene = namedtuple("Scene", "layout wood ways figures rings table chart")
"""All that stays in place while one item moves."""


@inner
def _row(field, r, own, other, x, y, gap, weight):  # type: ignore[no-untyped-def]
    boxes, shifts = field.boxes, field.shifts
    boxes[r, 0], boxes[r, 1] = other[0] - own[2] - gap + x, other[1] - own[3] - gap + y
    boxes[r, 2], boxes[r, 3] = other[2] - own[0] + gap + x, other[3] - own[1] + gap + y
    shifts[r, 0], shifts[r, 1], shifts[r, 2] = x, y, weight
    field.spans[r, 0] = -1


@njit(cache=True)
def open_field(field, a, slot, i, way, angle, is_over, scene):  # type: ignore[no-untyped-def]
    """Make the field of item i, which lies as ``a[slot]``, in a way or leaning from it."""
    layout, wood, table = scene.layout, scene.wood, scene.table
    own, n = a.item_boxes[slot], layout.outline.shape[0]
    is_tabled = table.pairs.shape[0] > 0
    if not is_tabled:
        field.sums.used[0] = 0
    for j in range(n):
        x, y = layout.place[j, 0], layout.place[j, 1]
        _row(field, j, own, layout.block.item_boxes[j], x, y, wood.gap, layout.weight[i, j])
        if is_tabled:
            pair = table.pairs[way, int(layout.place[j, 4])]
            field.spans[j, 0], field.spans[j, 1] = pair[0], pair[1]
    field.boxes[i, 0] = np.inf
    weight, outline = layout.weight[i, i], layout.outline[i]
    for k in range(wood.boxes.shape[0]):
        _row(field, n + k, own, wood.boxes[k], 0.0, 0.0, wood.boxes[k, 4], weight)
        if not scene.ways.blocks[outline, k]:
            field.boxes[n + k, 0] = np.inf
        if is_tabled:
            pair = table.pairs[way, table.pairs.shape[0] + k]
            field.spans[n + k, 0], field.spans[n + k, 1] = pair[0], pair[1]
    low_x, low_y, high_x, high_y = limits(a, slot, wood.box)
    field.limit[0], field.limit[1] = low_x, low_y
    field.limit[2], field.limit[3] = max(low_x, high_x), max(low_y, high_y)
    field.item[0], field.item[1] = angle, 1.0 if is_over else 0.0
    field.item[2], field.item[3] = outline, weight
    field.item[4] = overhang(a, slot, wood.box)


@inner
def build_row(field, r, a, slot, scene):  # type: ignore[no-untyped-def]
    """Build the sums of a row."""
    sums, n = field.sums, scene.layout.outline.shape[0]
    field.spans[r, 0] = sums.used[0]
    if r < n:
        add_item_sums(sums, a, slot, scene.layout.block, r, scene.wood.gap)
    else:
        add_obstacle_sums(sums, a, slot, scene.wood, r - n)
    field.spans[r, 1] = sums.used[0]


@inner
def row_depth(field, r, x, y):  # type: ignore[no-untyped-def]
    """Return the summed depth of a place in the sums of a row, and the pull out of them."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    edges = field.sums.edges
    tx, ty = x - field.shifts[r, 0], y - field.shifts[r, 1]
    for s in range(field.spans[r, 0], field.spans[r, 1]):
        depth, nearest = depth_in(field.sums, s, tx, ty)
        if depth > 0.0:
            total += depth
            pull_x += edges[nearest, 0]
            pull_y += edges[nearest, 1]
    return total, pull_x, pull_y


@inner
def is_off(field, r, x, y):  # type: ignore[no-untyped-def]
    """Return whether a place lies outside a row's box."""
    boxes = field.boxes
    return x <= boxes[r, 0] or x >= boxes[r, 2] or y <= boxes[r, 1] or y >= boxes[r, 3]


@njit(cache=True)
def cost_at(field, a, slot, x, y, most, scene):  # type: ignore[no-untyped-def]
    """Return the weighted depth at a place, and its pull; gives up above ``most``."""
    total, pull_x, pull_y = field.item[3] * field.item[4], 0.0, 0.0
    for r in range(field.boxes.shape[0]):
        if is_off(field, r, x, y):
            continue
        if field.spans[r, 0] < 0:
            build_row(field, r, a, slot, scene)
        depth, ux, uy = row_depth(field, r, x, y)
        if depth > 0.0:
            weight = field.shifts[r, 2]
            total += weight * depth
            pull_x += weight * ux
            pull_y += weight * uy
            if total > most:
                return total, pull_x, pull_y
    return with_holes(total, pull_x, pull_y, field, a, slot, x, y, scene)


@inner
def with_holes(total, pull_x, pull_y, field, a, slot, x, y, scene):  # type: ignore[no-untyped-def]
    """Return a weighted depth and its pull with those of the holes that an item takes."""
    if scene.wood.holes.shape[0]:
        depth, ux, uy = holes_at(field, a, slot, x, y, scene)
        total += field.item[3] * depth
        pull_x += field.item[3] * ux
        pull_y += field.item[3] * uy
    return total, pull_x, pull_y


@inner
def holes_at(field, a, slot, x, y, scene):  # type: ignore[no-untyped-def]
    """Return the summed depth of the holes an item takes, and their pull."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    own, wood, outline = a.item_boxes[slot], scene.wood, int(field.item[2])
    for h in range(wood.holes.shape[0]):
        far = wood.holes[h, 2]
        px, py = wood.holes[h, 0] - x, wood.holes[h, 1] - y
        if (
            own[0] - far < px < own[2] + far
            and own[1] - far < py < own[3] + far
            and scene.ways.takes[outline, h]
        ):
            depth, ux, uy = hole_depth(
                wood, h, scene.rings, outline, field.item[0], field.item[1] > 0.5, x, y
            )
            total += depth
            pull_x += ux
            pull_y += uy
    return total, pull_x, pull_y
