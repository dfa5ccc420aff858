"""Separate overlapping outlines: guided local search over positions and turnings, compiled.

Every pair of items, and every item with the ground, has a weight; the cost of a layout is the
weighted sum of depths. Items that overlap are moved one by one to their cheapest place; after
each pass the pairs that still overlap grow heavier, so that the search leaves its hollows.

References
----------
Voudouris, Tsang 1999, Guided local search, Eur. J. Oper. Res. 113:469-499 (weights);
Egeblad, Nielsen, Odgaard 2007, Fast neighborhood search for two- and three-dimensional nesting
problems, Eur. J. Oper. Res. 183:1249-1266 (separation of overlapping outlines). Cited from
memory.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import BEGIN, Floats, Ints, X, Y
from nesting.engine.geometry.compiled import door, inner, is_on_disk
from nesting.engine.jostle.blocks import (
    ANGLE,
    FACE,
    WAY,
    Block,
    Layout,
    clamped,
    fit_scratch,
    turn_into,
)
from nesting.engine.jostle.field import (
    OVERHANG,
    Field,
    Scene,
    build_row,
    holes_at,
    is_off,
    open_field,
    row_depth,
)
from nesting.engine.jostle.moves import HERE, HOLLOWS, KEPT, Room, move
from nesting.engine.jostle.near_pairs import Near
from nesting.engine.jostle.relax import relax
from nesting.engine.jostle.slide import MOST_TOUCHED, room_around

DONE = 1e-7
"""A layout whose depths sum to less, mm, is clear: a tenth of the referee's tolerance. Gaps
must not be grown to cover it, or items that fill a width exactly would never be clear."""

RELAX, MOST_RELAXING, FAR = 5, 60, 0.3
"""After so many passes all items are moved at once, in so many steps at most; how far at most, in
sizes of a mean item: farther, more sums come into it, and it took most of the time (swim)."""

HEADWAY = 0.99
"""A pass makes headway if it brings the total depth below this share of the last mark."""

PATIENCE = 0.15
"""Depth left, in sizes of a mean item, up to which passes without headway are waited out in full;
the more is left, the fewer: that seldom comes to anything, and another attempt does sooner."""


@inner
def measure(i: int, depths: Floats, field: Field, scratch: Block, scene: Scene) -> None:
    """Write the depths of item i with every other, and on the diagonal with the ground (n, n)."""
    layout = scene.layout
    outline, n = layout.outline[i], layout.outline.shape[0]
    x, y = layout.place[i, X], layout.place[i, Y]
    angle, face, way = layout.place[i, ANGLE], layout.place[i, FACE], layout.place[i, WAY]
    fit_scratch(scratch, scene.figures, outline)
    turn_into(scene.figures, outline, angle, face > 0.5, scratch, HERE)
    open_field(field, scratch, HERE, i, int(way), angle, face > 0.5, scene)
    ground = field.item[OVERHANG]
    if scene.wood.holes.shape[0]:
        ground += holes_at(field, scratch, HERE, x, y, scene)[0]
    for r in range(field.boxes.shape[0]):
        depth = 0.0
        if not is_off(field, r, x, y):
            if field.spans[r, BEGIN] < 0:
                build_row(field, r, scratch, HERE, scene)
            depth = row_depth(field, r, x, y)[0]
        if r >= n:
            ground += depth
        elif r != i:
            depths[i, r] = depths[r, i] = depth
    depths[i, i] = ground


@door
def total_depth(field: Field, scratch: Block, scene: Scene) -> float:
    """Return the sum of all depths of a layout."""
    n = scene.layout.outline.shape[0]
    depths = np.zeros((n, n))
    for i in range(n):
        measure(i, depths, field, scratch, scene)
    return _total_and_deepest(depths)[0]


@inner
def _shuffle(order: Ints) -> None:
    for k in range(order.shape[0] - 1, 0, -1):
        other = np.random.randint(k + 1)
        order[k], order[other] = order[other], order[k]


@inner
def _total_and_deepest(depths: Floats) -> tuple[float, float]:
    """Return the sum of all depths, each pair once, and the greatest."""
    total, deepest = 0.0, 0.0
    for i in range(depths.shape[0]):
        for j in range(i + 1):
            total += depths[i, j]
            deepest = max(deepest, depths[i, j])
    return total, deepest


@inner
def _cost(i: int, depths: Floats, weight: Floats) -> float:
    total = 0.0
    for j in range(depths.shape[0]):
        total += depths[i, j] * weight[i, j]
    return total


@inner
def _measure_all(depths: Floats, field: Field, scratch: Block, scene: Scene) -> tuple[float, float]:
    """Bring every item inside the box, write all depths, and return their sum and the greatest."""
    layout, box = scene.layout, scene.wood.box
    for i in range(layout.outline.shape[0]):
        x, y = layout.place[i, X], layout.place[i, Y]
        layout.place[i, X], layout.place[i, Y] = clamped(layout.block, i, box, x, y)
    for i in range(layout.outline.shape[0]):
        measure(i, depths, field, scratch, scene)
    return _total_and_deepest(depths)


@inner
def _copy_rows(to: Floats, rows: Floats) -> None:
    for i in range(rows.shape[0]):
        for k in range(rows.shape[1]):
            to[i, k] = rows[i, k]


@inner
def _grow_weights(depths: Floats, deepest: float, layout: Layout) -> None:
    for i in range(depths.shape[0]):
        for j in range(depths.shape[0]):
            if depths[i, j] > 0.0:
                layout.weight[i, j] += layout.base[i, j] * depths[i, j] / deepest


@door
def jostle(
    seed: int,
    most_passes: int,
    stall: int,
    close: float,
    unit: float,
    field: Field,
    near: Near,
    scratch: Block,
    scene: Scene,
    best: Floats,
) -> tuple[float, int]:
    """Move items until what overlaps is less than ``close``, or no headway is made.

    ``best`` (n, 5) receives the places of the least overlapping layout seen. Returns that
    layout's total depth and the passes used; below DONE it is clear.
    """
    np.random.seed(seed)
    layout = scene.layout
    n = layout.outline.shape[0]
    depths: Floats = np.zeros((n, n))
    order: Ints = np.arange(n)
    around, lines = np.empty((room_around(field, scene), 4)), np.empty((MOST_TOUCHED, 4))
    room, found = Room(np.empty((max(KEPT, HOLLOWS), 4)), around, lines), np.empty(6)
    total, deepest = _measure_all(depths, field, scratch, scene)
    least, mark, since, passes = total, np.inf, 0, 0
    _copy_rows(best, layout.place)
    while least >= close and passes < most_passes:
        if total < HEADWAY * mark:
            mark, since = total, 0
        since += 1
        if since > stall * min(1.0, PATIENCE * unit / least):
            break
        passes += 1
        _grow_weights(depths, deepest, layout)
        _shuffle(order)
        for i in order:
            cost = _cost(i, depths, layout.weight)
            if cost > 0.0:
                move(i, cost, unit, field, scratch, room, found, scene)
                measure(i, depths, field, scratch, scene)
        total, deepest = _total_and_deepest(depths)
        if since % RELAX == 0 and total >= close:
            relax(MOST_RELAXING, FAR * unit, near, scene)
            total, deepest = _measure_all(depths, field, scratch, scene)
        if total < least:
            least = total
            _copy_rows(best, layout.place)
    return least, passes


def is_compiled() -> bool:
    """Return whether an earlier run left the compiled jostling on this machine's disk."""
    return is_on_disk(jostle)
