"""What keeps one item, lying one way, off everything else; compiled.

A field has a row for each other item and for each obstacle: a box in which the item's origin may
touch it, a weight, and convex sums. Sums of items that lie only in given ways come from a table;
others are built when a place first falls into their row's box.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.arrays import (
    BEGIN,
    END,
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    NORMAL_X,
    NORMAL_Y,
    Floats,
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import (
    GAP,
    OUTSIDE,
    WAY,
    Block,
    Figures,
    Layout,
    Ways,
    Wood,
    limits,
    overhang,
)
from nesting.engine.jostle.convex_sums import Sums, add_item_sums, add_obstacle_sums, depth_in
from nesting.engine.jostle.holes import Rings, hole_depth

Singles = NDArray[np.float32]

WEIGHT = 2
"""Of the rows' shifts, behind x and y."""

OWN_ANGLE, OWN_FACE, OUTLINE, GROUND_WEIGHT, OVERHANG = 0, 1, 2, 3, 4
"""Of the item that a field is for."""


class Field(NamedTuple):
    """Rows: boxes (r, 4), spans (r, 2) of their sums (-1: not built yet), shifts (r, 3); the sums.

    And the limit (4), least and greatest place, and what is to be known of the item (5).
    """

    boxes: Floats
    spans: Ints
    shifts: Floats
    sums: Sums
    limit: Floats
    item: Floats


class Table(NamedTuple):
    """Sums of ways: the span (w, w + k, 2) of each moving way with each fixed one, each obstacle.

    Pairs are (0, 0, 2) if there are none.
    """

    pairs: Ints
    sums: Sums


class Chart(NamedTuple):
    """Sampled depths: a grid for each moving way with each fixed one, then with each obstacle.

    Grids (w, w + k, 3), their lower left places (w, w + k, 2), values (v), step (1), and room for
    the chart of one item (c). None of it (w = 0) for items that lean.
    """

    grids: Ints
    lows: Floats
    values: Singles
    step: Floats
    cells: Singles


class Scene(NamedTuple):
    """All that stays in place while one item moves."""

    layout: Layout
    wood: Wood
    ways: Ways
    figures: Figures
    rings: Rings
    table: Table
    chart: Chart


@inner
def _row(
    field: Field, r: int, own: Floats, other: Floats, x: float, y: float, gap: float, weight: float
) -> None:
    boxes, shifts = field.boxes, field.shifts
    boxes[r, LOW_X], boxes[r, LOW_Y] = (
        other[LOW_X] - own[HIGH_X] - gap + x,
        other[LOW_Y] - own[HIGH_Y] - gap + y,
    )
    boxes[r, HIGH_X], boxes[r, HIGH_Y] = (
        other[HIGH_X] - own[LOW_X] + gap + x,
        other[HIGH_Y] - own[LOW_Y] + gap + y,
    )
    shifts[r, X], shifts[r, Y], shifts[r, WEIGHT] = x, y, weight
    field.spans[r, BEGIN] = -1


@door
def open_field(
    field: Field, a: Block, slot: int, i: int, way: int, angle: float, is_over: bool, scene: Scene
) -> None:
    """Make the field of item i, which lies as ``a[slot]``, in a way or leaning from it."""
    layout, wood, table = scene.layout, scene.wood, scene.table
    own, n = a.item_boxes[slot], layout.outline.shape[0]
    is_tabled = table.pairs.shape[0] > 0
    if not is_tabled:
        field.sums.used[0] = 0
    for j in range(n):
        x, y = layout.place[j, X], layout.place[j, Y]
        _row(field, j, own, layout.block.item_boxes[j], x, y, wood.gap, layout.weight[i, j])
        if is_tabled:
            pair = table.pairs[way, int(layout.place[j, WAY])]
            field.spans[j, BEGIN], field.spans[j, END] = pair[BEGIN], pair[END]
    field.boxes[i, LOW_X] = np.inf
    weight, outline = layout.weight[i, i], layout.outline[i]
    for k in range(wood.boxes.shape[0]):
        _row(field, n + k, own, wood.boxes[k], 0.0, 0.0, wood.boxes[k, GAP], weight)
        if not scene.ways.blocks[outline, k]:
            field.boxes[n + k, LOW_X] = np.inf
        if is_tabled:
            pair = table.pairs[way, table.pairs.shape[0] + k]
            field.spans[n + k, BEGIN], field.spans[n + k, END] = pair[BEGIN], pair[END]
    low_x, low_y, high_x, high_y = limits(a, slot, wood.box)
    field.limit[LOW_X], field.limit[LOW_Y] = low_x, low_y
    field.limit[HIGH_X], field.limit[HIGH_Y] = max(low_x, high_x), max(low_y, high_y)
    field.item[OWN_ANGLE], field.item[OWN_FACE] = angle, 1.0 if is_over else 0.0
    field.item[OUTLINE], field.item[GROUND_WEIGHT] = outline, weight
    field.item[OVERHANG] = overhang(a, slot, wood.box)


@inner
def build_row(field: Field, r: int, a: Block, slot: int, scene: Scene) -> None:
    """Build the sums of a row."""
    sums, n = field.sums, scene.layout.outline.shape[0]
    field.spans[r, BEGIN] = sums.used[0]
    if r < n:
        add_item_sums(sums, a, slot, scene.layout.block, r, scene.wood.gap)
    else:
        add_obstacle_sums(sums, a, slot, scene.wood, r - n)
    field.spans[r, END] = sums.used[0]


@inner
def row_depth(field: Field, r: int, x: float, y: float) -> tuple[float, float, float]:
    """Return the summed depth of a place in the sums of a row, and the pull out of them."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    edges = field.sums.edges
    tx, ty = x - field.shifts[r, X], y - field.shifts[r, Y]
    for s in range(field.spans[r, BEGIN], field.spans[r, END]):
        depth, nearest = depth_in(field.sums, s, tx, ty)
        if depth > 0.0:
            total += depth
            pull_x += edges[nearest, NORMAL_X]
            pull_y += edges[nearest, NORMAL_Y]
    return total, pull_x, pull_y


@inner
def is_off(field: Field, r: int, x: float, y: float) -> bool:
    """Return whether a place lies outside a row's box."""
    box = field.boxes[r]
    is_outside: bool = x <= box[LOW_X] or x >= box[HIGH_X] or y <= box[LOW_Y] or y >= box[HIGH_Y]
    return is_outside


@door
def cost_at(
    field: Field, a: Block, slot: int, x: float, y: float, most: float, scene: Scene
) -> tuple[float, float, float]:
    """Return the weighted depth at a place, and its pull; gives up above ``most``."""
    total, pull_x, pull_y = field.item[GROUND_WEIGHT] * field.item[OVERHANG], 0.0, 0.0
    for r in range(field.boxes.shape[0]):
        if is_off(field, r, x, y):
            continue
        if field.spans[r, BEGIN] < 0:
            build_row(field, r, a, slot, scene)
        depth, ux, uy = row_depth(field, r, x, y)
        if depth > 0.0:
            weight = field.shifts[r, WEIGHT]
            total += weight * depth
            pull_x += weight * ux
            pull_y += weight * uy
            if total > most:
                return total, pull_x, pull_y
    return with_holes(total, pull_x, pull_y, field, a, slot, x, y, scene)


@inner
def with_holes(
    total: float,
    pull_x: float,
    pull_y: float,
    field: Field,
    a: Block,
    slot: int,
    x: float,
    y: float,
    scene: Scene,
) -> tuple[float, float, float]:
    """Return a weighted depth and its pull with those of the holes that an item takes."""
    if scene.wood.holes.shape[0]:
        depth, ux, uy = holes_at(field, a, slot, x, y, scene)
        total += field.item[GROUND_WEIGHT] * depth
        pull_x += field.item[GROUND_WEIGHT] * ux
        pull_y += field.item[GROUND_WEIGHT] * uy
    return total, pull_x, pull_y


@inner
def holes_at(
    field: Field, a: Block, slot: int, x: float, y: float, scene: Scene
) -> tuple[float, float, float]:
    """Return the summed depth of the holes an item takes, and their pull."""
    total, pull_x, pull_y = 0.0, 0.0, 0.0
    own, wood, outline = a.item_boxes[slot], scene.wood, int(field.item[OUTLINE])
    for h in range(wood.holes.shape[0]):
        far = wood.holes[h, OUTSIDE]
        px, py = wood.holes[h, X] - x, wood.holes[h, Y] - y
        if (
            own[LOW_X] - far < px < own[HIGH_X] + far
            and own[LOW_Y] - far < py < own[HIGH_Y] + far
            and scene.ways.takes[outline, h]
        ):
            depth, ux, uy = hole_depth(
                wood,
                h,
                scene.rings,
                outline,
                field.item[OWN_ANGLE],
                field.item[OWN_FACE] > 0.5,
                x,
                y,
            )
            total += depth
            pull_x += ux
            pull_y += uy
    return total, pull_x, pull_y
