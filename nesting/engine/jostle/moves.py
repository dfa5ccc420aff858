"""Move one item of a layout to the cheapest place found for it; compiled.

Places are the hollows of its charts if it lies only in given ways, else sampled over some of the
ways it may lie; the best of them slide downhill to where contacts are exact.
"""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np

from nesting.engine.geometry.arrays import HIGH_X, HIGH_Y, LOW_X, LOW_Y, Floats, X, Y
from nesting.engine.geometry.compiled import inner
from nesting.engine.geometry.keep_cheapest import COST, keep
from nesting.engine.jostle.blocks import (
    ANGLE,
    FACE,
    WAY,
    WAY_ANGLE,
    WAY_FACE,
    Block,
    Figures,
    Layout,
    fit_scratch,
    turn_into,
)
from nesting.engine.jostle.chart import draw, is_hollow
from nesting.engine.jostle.field import OVERHANG, Field, Scene, cost_at, open_field
from nesting.engine.jostle.slide import slide

HERE = cast(int, np.int64(0))
"""The scratch block's one slot: typed, or every kernel would be compiled twice."""

AT_X, AT_Y, AT_WAY = 1, 2, 3
"""Of places kept, behind what each costs."""

FOUND = 5
"""Of the best place found, behind the place itself: what it costs."""


class Room(NamedTuple):
    """Places kept (k, 4), sums around a place and lines touched, for :func:`move` to write on."""

    kept: Floats
    around: Floats
    lines: Floats


STRATA, LINES_ON, CONTACT, KEPT = 8, 3, 9, 2
"""Where an item that leans is tried: in as many columns of its room as lines, one place in each,
every column so many lines on from the one before (a Latin square: McKay, Beckman, Conover 1979,
Technometrics 21:239-245; from memory), and where a corner of it meets one of another. Where it lies
needs no samples near by: a slide begins there anyhow. Of all places so many slide."""

MOST_WAYS = 4

WINDOW = 0.4
"""Half the square, in sizes of a mean item, in which a slide looks at sums together."""

NEAR = 1e-10
"""Distance, in sizes of a mean item, at which an edge counts as touched."""

HOPELESS = 4.0
"""A sampled place this many times as costly as the best found does not slide."""


@inner
def uniform(low: float, high: float) -> float:
    """Return a random number between two."""
    return low + (high - low) * np.random.random()


@inner
def on_corner(field: Field, a: Block, j: int, layout: Layout) -> tuple[float, float]:
    """Return a place at which a random corner of the moving item meets one of item j."""
    limit, b = field.limit, layout.block
    first = b.piece_first[b.item_first[j]]
    theirs = np.random.randint(first, b.piece_first[b.item_first[j + 1]])
    ours = np.random.randint(0, a.piece_first[a.item_first[1]])
    x = layout.place[j, X] + b.edges[theirs, X] - a.edges[ours, X]
    y = layout.place[j, Y] + b.edges[theirs, Y] - a.edges[ours, Y]
    return min(max(x, limit[LOW_X]), limit[HIGH_X]), min(max(y, limit[LOW_Y]), limit[HIGH_Y])


@inner
def _sample(
    field: Field, a: Block, i: int, sample: int, turn: int, layout: Layout
) -> tuple[float, float]:
    """Return a place in its own line and column of a board of strata, or corner on corner."""
    limit, n = field.limit, layout.outline.shape[0]
    if sample < STRATA or n < 2:
        column = sample % STRATA
        x = (column + np.random.random()) / STRATA
        y = ((LINES_ON * column + turn) % STRATA + np.random.random()) / STRATA
        return (
            limit[LOW_X] + x * (limit[HIGH_X] - limit[LOW_X]),
            limit[LOW_Y] + y * (limit[HIGH_Y] - limit[LOW_Y]),
        )
    j = np.random.randint(n - 1)
    return on_corner(field, a, j + 1 if j >= i else j, layout)


@inner
def _sampled(field: Field, scratch: Block, i: int, kept: Floats, scene: Scene) -> None:
    """Fill kept (k, 4) with the cheapest places sampled: cost, x, y and way."""
    for k in range(KEPT):
        kept[k, COST] = np.inf
    turn = np.random.randint(STRATA)
    for sample in range(STRATA + CONTACT):
        x, y = _sample(field, scratch, i, sample, turn, scene.layout)
        most = kept[KEPT - 1, COST]
        cost, _, _ = cost_at(field, scratch, HERE, x, y, most, scene)
        keep(kept[:KEPT], cost, x, y, 0.0)


HOLLOWS, NOISE = 3, 0.1
"""Hollows of the charts of all ways from which slides begin, and noise on what they cost there."""

PROMISING = 1.3
"""A hollow is worth a slide if its chart gives less than so many times the best cost found."""


@inner
def _keep_hollows(i: int, way: int, field: Field, kept: Floats, scene: Scene) -> None:
    """Take the hollows of an item's chart in one way into kept (k, 4): cost, x, y and way."""
    chart, limit = scene.chart, field.limit
    columns, rows = draw(i, way, field, scene)
    step, cells = chart.step[0], chart.cells
    for cell in range(columns * rows):
        if cells[cell] < kept[HOLLOWS - 1, COST] and is_hollow(cells, cell, columns, rows):
            x = min(limit[LOW_X] + (cell % columns) * step, limit[HIGH_X])
            y = min(limit[LOW_Y] + (cell // columns) * step, limit[HIGH_Y])
            keep(kept[:HOLLOWS], cells[cell] * (1.0 + NOISE * np.random.random()), x, y, way)


@inner
def _lie(
    i: int, way: int, angle: float, is_over: bool, field: Field, scratch: Block, scene: Scene
) -> None:
    """Turn an item into a way, or leaning from it, and open its field."""
    turn_into(scene.figures, scene.layout.outline[i], angle, is_over, scratch, HERE)
    open_field(field, scratch, HERE, i, way, angle, is_over, scene)


@inner
def _chart_all(i: int, field: Field, scratch: Block, kept: Floats, scene: Scene) -> None:
    """Fill kept (k, 4) with the hollows of an item's charts in all its ways, cheapest first."""
    ways, outline = scene.ways, scene.layout.outline[i]
    for k in range(HOLLOWS):
        kept[k, COST] = np.inf
    for way in range(ways.first[outline], ways.first[outline + 1]):
        _lie(i, way, ways.way[way, WAY_ANGLE], ways.way[way, WAY_FACE] > 0.5, field, scratch, scene)
        if field.item[OVERHANG] <= 1e-9:
            _keep_hollows(i, way, field, kept, scene)


@inner
def _turned(
    turn: int, start: int, i: int, is_charted: bool, kept: Floats, scene: Scene
) -> tuple[int, float, bool]:
    """Return way, angle and face of an item's next turn: as it lies at turn -1; way -1 for none."""
    place, ways, outline = scene.layout.place[i], scene.ways, scene.layout.outline[i]
    here, first = int(place[WAY]), ways.first[outline]
    if turn < 0:
        return here, place[ANGLE], place[FACE] > 0.5
    way = first + (start + turn) % (ways.first[outline + 1] - first)
    if is_charted:
        way = int(kept[turn, AT_WAY])
    angle, is_over, lean = (
        ways.way[way, WAY_ANGLE],
        ways.way[way, WAY_FACE] > 0.5,
        ways.lean[outline],
    )
    if not is_charted and way == here and lean == 0.0:
        way = -1
    elif lean > 0.0 and np.random.random() < 0.6:
        angle += uniform(-lean, lean)
    return way, angle, is_over


@inner
def move(
    i: int,
    cost: float,
    unit: float,
    field: Field,
    scratch: Block,
    room: Room,
    best: Floats,
    scene: Scene,
) -> None:
    """Move item i, which costs so much, to the cheapest place found among its ways of lying.

    ``best`` (6) is written: a place and what it costs. One call of slide serves all: each function
    on the way to it is compiled with all that is below.
    """
    layout, kept, outline = scene.layout, room.kept, scene.layout.outline[i]
    size, near = WINDOW * unit, NEAR * unit
    fit_scratch(scratch, scene.figures, outline)
    best[FOUND] = cost
    for k in range(5):
        best[k] = layout.place[i, k]
    count = scene.ways.first[outline + 1] - scene.ways.first[outline]
    is_charted, start = scene.chart.grids.shape[0] > 0, np.random.randint(count)
    for turn in range(-1, HOLLOWS if is_charted else min(count, MOST_WAYS)):
        if best[FOUND] <= 0.0:
            break
        if is_charted and turn == 0:
            _chart_all(i, field, scratch, kept, scene)
        if is_charted and turn >= 0 and kept[turn, COST] >= PROMISING * best[FOUND]:
            break
        way, angle, is_over = _turned(turn, start, i, is_charted, kept, scene)
        if way < 0:
            continue
        _lie(i, way, angle, is_over, field, scratch, scene)
        if field.item[OVERHANG] > 1e-9:
            continue
        if not is_charted:
            _sampled(field, scratch, i, kept, scene)
        first = turn if is_charted else (-1 if turn < 0 else 0)
        for k in range(first, turn + 1 if is_charted else KEPT):
            x, y = layout.place[i, X], layout.place[i, Y]
            if k >= 0:
                x, y = kept[k, AT_X], kept[k, AT_Y]
                if kept[k, COST] >= HOPELESS * best[FOUND]:
                    continue
            there, x, y = slide(
                field, scratch, HERE, x, y, size, near, room.around, room.lines, scene
            )
            if there < best[FOUND]:
                best[FOUND], best[X], best[Y], best[ANGLE] = there, x, y, angle
                best[FACE], best[WAY] = 1.0 if is_over else 0.0, way
    _settle(i, best, layout, scene.figures)


@inner
def _settle(i: int, best: Floats, layout: Layout, figures: Figures) -> None:
    """Lay an item where ``best`` says."""
    is_turned = best[ANGLE] != layout.place[i, ANGLE] or best[FACE] != layout.place[i, FACE]
    for k in range(5):
        layout.place[i, k] = best[k]
    if is_turned:
        turn_into(figures, layout.outline[i], best[ANGLE], best[FACE] > 0.5, layout.block, i)
