"""What a page shows of the patterns on its sheet: edges, marks and crosses, then their lettering.

All in the sheet's frame, cut off at the page's window.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString

from nesting.outline import Mark, MarkKind
from nesting.sheets.board_view import mark_role
from nesting.sheets.drawing import (
    Circle,
    Entity,
    Polyline,
    Role,
)
from nesting.shop.pattern_crosses import cross_number, register_cross
from nesting.shop.pattern_layout import Laid, Sheet
from nesting.shop.pattern_paper import CROSS_MM, Tile
from nesting.shop.pattern_view import PageView
from nesting.shop.pattern_words import words_of
from nesting.units import Unit

ARM_MM = 5.0
"""Arm of the cross at a bolt's centre."""


def page_of(
    sheet: Sheet, tile: Tile, unit: Unit, *, ends_at: float = math.inf
) -> tuple[Entity, ...]:
    """Return everything that one page shows of its sheet; no words past where paper ends."""
    low_x, low_y, high_x, high_y = sheet.grid.core(tile)
    core = low_x, low_y, min(high_x, ends_at), high_y
    view = PageView(sheet, sheet.grid.window(tile), core, unit)
    return (*_register(view, tile), *drawn(view))


def drawn(view: PageView) -> tuple[Entity, ...]:
    """Return what a window shows of the patterns: their lines, then their words."""
    shown = [laid for laid in view.sheet.laid if laid.shape.intersects(view.box)]
    lines: list[Entity] = []
    for laid in shown:
        lines += _edges(view, laid)
        for mark in laid.pattern.outline.marks:
            lines += _mark(view, laid, mark)
    return (*lines, *(entity for laid in shown for entity in words_of(view, laid)))


def _edges(view: PageView, laid: Laid) -> Iterator[Entity]:
    rings = [LineString(ring.coords) for ring in shapely.get_rings(laid.shape)]
    view.space.take([ring.buffer(0.6) for ring in rings], is_soft=True)
    for ring in reversed(rings):
        yield from view.seen(ring, Role.PATTERN)


def _mark(view: PageView, laid: Laid, mark: Mark) -> Iterator[Entity]:
    """Yield a mark's line, or its place with the hole that belongs there."""
    points = laid.placement.to_board(np.asarray(mark.points, dtype=float))
    role = mark_role(mark.kind)
    if len(points) > 1:
        line = LineString(points)
        view.space.take([line.buffer(0.6)], is_soft=True)
        yield from view.seen(line, role)
        return
    if mark.kind is MarkKind.FACE:
        return  # Said beside the name.
    x, y = (float(value) for value in points[0])
    low_x, low_y, high_x, high_y = view.window
    radius = (mark.diameter_mm or 0.0) / 2
    arm = radius + ARM_MM / 2
    cross = MultiLineString([[(x - arm, y), (x + arm, y)], [(x, y - arm), (x, y + arm)]])
    view.space.take([shapely.Point(x, y).buffer(arm)], is_soft=True)
    yield from view.seen(cross, role)
    if not radius:
        return
    if low_x <= x - radius and x + radius <= high_x and low_y <= y - radius <= high_y - 2 * radius:
        yield Circle((x, y), radius, role)
    else:
        yield from view.seen(shapely.Point(x, y).buffer(radius, quad_segs=24).exterior, role)


def _register(view: PageView, tile: Tile) -> Iterator[Entity]:
    """Yield the joints of a page, and the crosses on them with their numbers."""
    grid = view.sheet.grid
    for start, end in grid.joints(tile):
        yield Polyline((start, end), Role.BREAK)
        view.space.take([LineString([start, end]).buffer(0.8)])
    low_x, low_y, high_x, high_y = view.window
    for cross in grid.crosses:
        x, y = cross.at
        if low_x < x < high_x and low_y < y < high_y:
            yield from register_cross(cross.at)
            view.space.take([shapely.Point(x, y).buffer(CROSS_MM)])
            yield cross_number(cross, view.sheet)
