"""A first legal layout on a strip: one item after another, as far left as it will go; compiled.

Items that are not laid yet wait far away, where they touch nothing.
"""

from __future__ import annotations

import numpy as np

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y, Floats, Ints, X, Y
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import (
    ANGLE,
    FACE,
    WAY,
    WAY_ANGLE,
    WAY_FACE,
    Block,
    Layout,
    fit_scratch,
    turn_into,
)
from nesting.engine.jostle.field import OVERHANG, Field, Scene, cost_at, open_field
from nesting.engine.jostle.moves import HERE, NEAR, WINDOW, on_corner, uniform
from nesting.engine.jostle.slide import MOST_TOUCHED, gather, room_around, slide, to_edge, to_limit

AT_WALL = 0.1
"""Share of the places tried that touch the strip's left end; the others touch a laid item."""

ASIDE = 0.02
"""What a step across the strip counts beside a step along it."""

PUSHES = 4

SHALLOW = 0.05
"""Overlap, as a share of a mean item's size, that a try may begin with."""

KEY, LENGTH = 5, 6
"""Of the leftmost place found, behind the place itself: how far left, and the length used."""


@inner
def _try_place(laid: Ints, field: Field, a: Block, layout: Layout) -> tuple[float, float]:
    """Return a random place at the strip's end, or corner on corner with a laid item."""
    limit = field.limit
    if len(laid) == 0 or np.random.random() < AT_WALL:
        return limit[LOW_X], uniform(limit[LOW_Y], limit[HIGH_Y])
    return on_corner(field, a, laid[np.random.randint(len(laid))], layout)


@inner
def _pushed(
    field: Field, a: Block, x: float, y: float, near: float, around: Floats, scene: Scene
) -> tuple[float, float]:
    """Return a place pushed left and down in turn until it touches."""
    count = gather(field, a, HERE, x, y, np.inf, around, scene)
    for push in range(PUSHES):
        ux, uy = (-1.0, 0.0) if push % 2 == 0 else (0.0, -1.0)
        far = to_limit(field, x, y, ux, uy, np.inf)
        if far <= near:
            continue
        far = to_edge(field, around, count, x, y, ux, uy, far, near)
        if cost_at(field, a, HERE, x + far * ux, y + far * uy, 0.0, scene)[0] <= 0.0:
            x, y = x + far * ux, y + far * uy
    return x, y


@inner
def _lay(
    i: int,
    laid: Ints,
    samples: int,
    unit: float,
    field: Field,
    scratch: Block,
    around: Floats,
    lines: Floats,
    best: Floats,
    scene: Scene,
) -> None:
    """Write the leftmost place found for an item into best (7), with its key."""
    layout, ways, near = scene.layout, scene.ways, NEAR * unit
    outline = layout.outline[i]
    for way in range(ways.first[outline], ways.first[outline + 1]):
        angle, face = ways.way[way, WAY_ANGLE], ways.way[way, WAY_FACE]
        turn_into(scene.figures, outline, angle, face > 0.5, scratch, HERE)
        open_field(field, scratch, HERE, i, way, angle, face > 0.5, scene)
        if field.item[OVERHANG] > 1e-9:
            continue
        own = scratch.item_boxes[0]
        for sample in range(samples + 1):
            if sample < samples:
                x, y = _try_place(laid, field, scratch, layout)
            else:
                x, y = best[LENGTH] + scene.wood.gap - own[LOW_X], field.limit[LOW_Y]
            if x + own[HIGH_X] + ASIDE * (y + own[HIGH_Y]) >= best[KEY] + 0.3 * (
                own[HIGH_X] - own[LOW_X]
            ):
                continue
            cost, _, _ = cost_at(field, scratch, HERE, x, y, SHALLOW * unit, scene)
            if cost > SHALLOW * unit:
                continue
            cost, x, y = slide(
                field, scratch, HERE, x, y, WINDOW * unit, near, around, lines, scene
            )
            if cost > 0.0:
                continue
            x, y = _pushed(field, scratch, x, y, near, around, scene)
            key = x + own[HIGH_X] + ASIDE * (y + own[HIGH_Y])
            if key < best[KEY]:
                best[KEY], best[X], best[Y], best[ANGLE] = key, x, y, angle
                best[FACE], best[WAY] = face, way


@door
def lay_all(
    seed: int, order: Ints, samples: int, unit: float, field: Field, scratch: Block, scene: Scene
) -> float:
    """Lay every item of a layout, all of them far away so far, and return the length used."""
    np.random.seed(seed)
    layout, length = scene.layout, 0.0
    best, lines = np.empty(7), np.empty((MOST_TOUCHED, 4))
    around = np.empty((room_around(field, scene), 4))
    for count in range(order.shape[0]):
        i = order[count]
        outline = layout.outline[i]
        best[KEY], best[LENGTH] = np.inf, length
        fit_scratch(scratch, scene.figures, outline)
        _lay(i, order[:count], samples, unit, field, scratch, around, lines, best, scene)
        for k in range(5):
            layout.place[i, k] = best[k]
        turn_into(scene.figures, outline, best[ANGLE], best[FACE] > 0.5, layout.block, i)
        length = max(length, best[X] + layout.block.item_boxes[i, HIGH_X])
    return length
