"""What a page shows of the patterns on its sheet: edges, marks, grain, crosses and lettering.

All in the sheet's frame, cut off at the page's window. Lettering keeps within what is the page's
own, so that no joint is cut through it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.outline import Mark, MarkKind
from nesting.sheets.board_view import HEAD_PAPER_MM, grain_of, mark_role
from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    Entity,
    Point,
    Polyline,
    Role,
    Text,
    View,
)
from nesting.sheets.free_space import FreeSpace, boxes_at, first_free, heart_of, room_in
from nesting.sheets.labelling import SMALL_PAPER_MM
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.window import as_lines
from nesting.shop.pattern_layout import Laid, Sheet
from nesting.shop.pattern_paper import CROSS_MM, Tile
from nesting.units import Unit
from nesting.written_measures import exact_length

Box = tuple[float, float, float, float]

Points = NDArray[np.float64]

NAME_MM = (5.0, 3.5, 2.5)
"""Heights of a pattern's name, the wanted one first; 2.5 is read at arm's length."""

MARK_MM = 2.5
"""Height of the words at marks."""

PITCH = 1.6
"""From line to line, over the height of a capital."""

ARROW_MM = (60.0, 30.0, 14.0)
"""Lengths of the grain's arrow, the wanted one first."""

ARM_MM = 5.0
"""Arm of the cross at a bolt's centre."""

SQUARE_MM = 4.0
"""Side of the square round a registration cross, which tells it from a bolt's."""


@dataclass(frozen=True)
class PageView:
    """One page of a sheet: its window, what of that is its own, and room for lettering."""

    sheet: Sheet
    window: Box
    core: Box
    unit: Unit
    space: FreeSpace = field(default_factory=FreeSpace)

    @property
    def box(self) -> Polygon:
        """The window as a shape."""
        return shapely.box(*self.window)

    def seen(self, shape: BaseGeometry, role: Role) -> tuple[Entity, ...]:
        """Return what the window shows of lines."""
        cut = shapely.line_merge(shape.intersection(self.box))
        return as_lines(cut, role, View.FULL_SIZE)


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
    return (*lines, *(entity for laid in shown for entity in _words(view, laid)))


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
            # On one side of every joint, and within both its pages.
            at = (x + SQUARE_MM / 2 + 0.8, y + SQUARE_MM / 2 + 0.4)
            yield Text(str(cross.number), at, SMALL_PAPER_MM, Role.RULER)


def register_cross(at: Point) -> tuple[Polyline, ...]:
    """Return a cross in a square."""
    (x, y), arm, half = at, CROSS_MM, SQUARE_MM / 2
    corners = (
        (x - half, y - half),
        (x + half, y - half),
        (x + half, y + half),
        (x - half, y + half),
    )
    return (
        Polyline(((x - arm, y), (x + arm, y)), Role.REGISTER),
        Polyline(((x, y - arm), (x, y + arm)), Role.REGISTER),
        Polyline(corners, Role.REGISTER, is_closed=True),
    )


def _words(view: PageView, laid: Laid) -> Iterator[Entity]:
    """Yield a pattern's lettering on this page: name and facts, grain, words at marks."""
    pieces = shapely.get_parts(laid.shape.intersection(shapely.box(*view.core)))
    regions = [piece for piece in pieces if isinstance(piece, Polygon) and piece.area > 40.0]
    if not regions:
        return
    region = max(regions, key=lambda piece: piece.area)
    yield from _label(view, laid, region)
    yield from _grain(view, laid, region)
    for mark in laid.pattern.outline.marks:
        yield from _mark_words(view, laid, mark)


def wordings(laid: Laid, unit: Unit, wide: float) -> Iterator[tuple[str, ...]]:
    """Yield the wordings of a pattern's label, the fullest first; ``wide`` in capitals."""
    pattern, outline = laid.pattern, laid.pattern.outline
    name = f"{pattern.number}  {pattern.name}"
    face = next((m.label for m in outline.marks if m.kind is MarkKind.FACE and m.label), "")
    thick = f"{outline.thickness_word} {exact_length(outline.siding_mm, unit)}"
    seen = f"this is its {face}" if face else "this is its marked face"
    facts = (thick, seen, pattern.pieces, f"pattern {pattern.identity}")
    broken = wrapped(name, 1.0, wide)
    yield (*broken, *facts)
    yield (*broken, f"{thick}, {seen}", f"{pattern.pieces}, pattern {pattern.identity}")
    yield (*broken, f"{thick}, {seen}")
    yield (f"{name}, {thick}, {seen}",)
    yield broken
    yield (name,)
    yield (f"{pattern.number}, {thick}",)
    yield (str(pattern.number),)


def _label(view: PageView, laid: Laid, region: Polygon) -> Iterator[Entity]:
    heart = heart_of(region)
    wide = region.bounds[2] - region.bounds[0]
    for lines in wordings(laid, view.unit, max(12.0, 0.7 * wide / NAME_MM[-1])):
        for height in NAME_MM:
            if max(text_width(line, height) for line in lines) + height > wide:
                continue
            found = _block(view, lines, height, region, heart)
            if found:
                yield from found
                return
    at = np.array([heart])
    yield from _beside(view, str(laid.pattern.number), at, 4.0, (Role.PART_NAME, laid.shape))


def _block(
    view: PageView, lines: tuple[str, ...], height: float, region: Polygon, near: Point
) -> list[Entity]:
    """Return lines of lettering within a region, or nothing where there is no room."""
    width = max(text_width(line, height) for line in lines) + height
    tall = PITCH * height * len(lines)
    centre = room_in(view.space, region, (width, tall), near)
    if centre is None:
        return []
    x, y = centre
    view.space.take_box((x - width / 2, y - tall / 2, x + width / 2, y + tall / 2))
    top = y + PITCH * height * (len(lines) - 1) / 2 - 0.45 * height
    return [
        Text(line, (x, top - row * PITCH * height), height, Role.PART_NAME, Anchor.CENTRE)
        for row, line in enumerate(lines)
    ]


def _grain(view: PageView, laid: Laid, region: Polygon) -> Iterator[Entity]:
    """Yield an arrow along the grain, the longest that has room."""
    near = heart_of(region)
    turn = math.radians(grain_of(laid.placement, near))
    for length in ARROW_MM:
        dx, dy = length / 2 * math.cos(turn), length / 2 * math.sin(turn)
        size = (2 * abs(dx) + 3.0, 2 * abs(dy) + 3.0)
        centre = room_in(view.space, region, size, near)
        if centre is not None:
            start, end = (centre[0] - dx, centre[1] - dy), (centre[0] + dx, centre[1] + dy)
            view.space.take([LineString([start, end]).buffer(1.5)])
            yield Arrow(start, end, HEAD_PAPER_MM, Role.GRAIN, is_double=True)
            return


def _mark_words(view: PageView, laid: Laid, mark: Mark) -> Iterator[Entity]:
    """Yield what a mark is, where this page has it."""
    words = mark_words(mark, view.unit)
    if not words or mark.kind is MarkKind.FACE:
        return
    points = laid.placement.to_board(np.asarray(mark.points, dtype=float))
    core = shapely.box(*view.core)
    shape = LineString(points) if len(points) > 1 else shapely.Point(points[0])
    cut = shape.intersection(core)
    if cut.is_empty:
        return
    here = shapely.get_parts(cut)
    longest = max(here, key=lambda part: float(part.length))
    if len(points) > 1 and longest.length < min(8.0, 0.4 * shape.length):
        return
    is_line = len(points) > 1
    along = shapely.line_interpolate_point(longest, ALONG, normalized=True) if is_line else longest
    near = shapely.get_coordinates(along)
    reach = 1.2 if is_line else (mark.diameter_mm or 0.0) / 2 + 1.5
    yield from _beside(view, words, near, reach, (mark_role(mark.kind), laid.shape))


def mark_words(mark: Mark, unit: Unit) -> str:
    """Return what is written beside a mark."""
    if mark.kind is not MarkKind.BOLT:
        return mark.label
    size = f" {exact_length(mark.diameter_mm, unit)}" if mark.diameter_mm else ""
    edge = " through the edge" if len(mark.points) > 1 else ""
    return f"{mark.label or 'bolt'}{size}{edge}"


ALONG = (0.5, 0.25, 0.75, 0.05, 0.95)
"""Where along a line its word may stand."""

TURNS = ((1, 0.6), (1, -0.6), (-1, 0.6), (-1, -0.6), (0, 1), (0, -1), (1, 0), (-1, 0))
"""Where a word may stand about a point: right and left of it, over and under it."""


def _beside(
    view: PageView, words: str, near: Points, reach: float, kind: tuple[Role, Polygon]
) -> Iterator[Entity]:
    """Yield a word near one of some points where nothing else is, on its own pattern if it can be.

    In two lines where it has no room in one, and only at worst across a line; ``kind`` is its role
    and that pattern's shape.
    """
    role, shape = kind
    broken = wrapped(words, MARK_MM, BROKEN_SHARE * text_width(words, MARK_MM))
    for heeds_soft, lines in product((True, False), dict.fromkeys(((words,), broken))):
        size = max(text_width(line, MARK_MM) for line in lines) + 1.0, PITCH * MARK_MM * len(lines)
        centre = _room_beside(view, near, reach, size, shape, heeds_soft=heeds_soft)
        if centre is not None:
            x, y = centre
            wide, tall = size
            view.space.take_box((x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2))
            top = y + PITCH * MARK_MM * (len(lines) - 1) / 2 - MARK_MM / 2
            for row, line in enumerate(lines):
                at = (x, top - row * PITCH * MARK_MM)
                yield Text(line, at, MARK_MM, role, Anchor.CENTRE)
            return


BROKEN_SHARE = 0.6
"""Of the width of a word in one line, what it may take in several."""


def _room_beside(
    view: PageView,
    near: Points,
    reach: float,
    size: tuple[float, float],
    shape: Polygon,
    *,
    heeds_soft: bool,
) -> Point | None:
    """Return the middle of a free box near one of some points, within a shape if it can be."""
    half = np.array(size) / 2
    turns = np.multiply(TURNS, reach + half)
    centres = np.concatenate([at + k * turns for k in (1.0, 1.6, 2.4) for at in near])
    low_x, low_y, high_x, high_y = view.core
    low, high = centres - half, centres + half
    seen = (low >= (low_x, low_y)).all(axis=1) & (high <= (high_x, high_y)).all(axis=1)
    centres = centres[seen]
    inside = shapely.contains(shape, boxes_at(centres, *size))
    for some in (inside, ~inside):
        centre = first_free(view.space, centres[some], size, heeds_soft=heeds_soft)
        if centre is not None:
            return centre
    return None
