"""A first legal layout on a strip: one item after another, as far left as it will go; compiled.

Items that are not laid yet wait far away, where they touch nothing.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from nesting.engine.geometry.compiled import inner
from nesting.engine.jostle.blocks import fit_scratch, turn_into
from nesting.engine.jostle.field import cost_at, open_field
from nesting.engine.jostle.moves import HERE, NEAR, WINDOW, on_corner, uniform
from nesting.engine.jostle.slide import MOST_TOUCHED, gather, room_around, slide, to_edge, to_limit

AT_WALL = 0.1
"""Share of the places tried that touch the strip's left end; the others touch a laid item."""

ASIDE = 0.02
"""What a step across the strip counts beside a step along it."""

PUSHES = 4

SHALLOW = 0.05
"""Overlap, as a share of a mean item's size, that a try may begin with."""


@inner
def _try_place(laid, field, a, layout):  # type: ignore[no-untyped-def]
    """Return a random place at the strip's end, or corner on corner with a laid item."""
    limit = field.limit
    if len(laid) == 0 or np.random.random() < AT_WALL:
        return limit[0], uniform(limit[1], limit[3])
    return on_corner(field, a, laid[np.random.randint(len(laid))], layout)


@inner
def _pushed(field, a, x, y, near, around, scene):  # type: ignore[no-untyped-def]
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
def _lay(i, laid, samples, unit, field, scratch, around, lines, best, scene):  # type: ignore[no-untyped-def]
    """Write the leftmost place found for an item into best (6): key, x, y, angle, face, way."""
    layout, ways, near = scene.layout, scene.ways, NEAR * unit
    outline = layout.outline[i]
    for way in range(ways.first[outline], ways.first[outline + 1]):
        angle, face = ways.way[way, 0], ways.way[way, 1]
        turn_into(scene.figures, outline, angle, face > 0.5, scratch, HERE)
        open_field(field, scratch, HERE, i, way, angle, face > 0.5, scene)
        if field.item[4] > 1e-9:
            continue
        own = scratch.item_boxes[0]
        for sample in range(samples + 1):
            if sample < samples:
                x, y = _try_place(laid, field, scratch, layout)
            else:
                x, y = best[6] + scene.wood.gap - own[0], field.limit[1]
            if x + own[2] + ASIDE * (y + own[3]) >= best[0] + 0.3 * (own[2] - own[0]):
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
            key = x + own[2] + ASIDE * (y + own[3])
            if key < best[0]:
                best[0], best[1], best[2], best[3] = key, x, y, angle
                best[4], best[5] = face, way


@njit(cache=True)
def lay_all(seed, order, samples, unit, field, scratch, scene):  # type: ignore[no-untyped-def]
    """Lay every item of a layout, all of them far away so far, and return the length used."""
    np.random.seed(seed)
    layout, length = scene.layout, 0.0
    best, lines = np.empty(7), np.empty((MOST_TOUCHED, 4))
    around = np.empty((room_around(field, scene), 4))
    for count in range(order.shape[0]):
        i = order[count]
        outline = layout.outline[i]
        best[0], best[6] = np.inf, length
        fit_scratch(scratch, scene.figures, outline)
        _lay(i, order[:count], samples, unit, field, scratch, around, lines, best, scene)
        for k in range(5):
            layout.place[i, k] = best[k + 1]
        turn_into(scene.figures, outline, best[3], best[4] > 0.5, layout.block, i)
        length = max(length, best[1] + layout.block.item_boxes[i, 2])
    return length
