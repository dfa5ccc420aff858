"""The lettering of a pattern on a page: its name and facts, its grain, what its marks are.

Lettering keeps within what is the page's own, so that no joint is cut through it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.outline import Mark, MarkKind
from nesting.sheets.board_view import HEAD_PAPER_MM, grain_of, mark_role
from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Entity,
    Point,
    Role,
    Text,
)
from nesting.sheets.free_space import boxes_at, first_free, heart_of, room_in
from nesting.sheets.lettering import text_width, wrapped
from nesting.shop.pattern_layout import Laid
from nesting.shop.pattern_view import PageView
from nesting.units import Unit
from nesting.written_measures import exact_length

Points = NDArray[np.float64]

NAME_MM = (5.0, 3.5, 2.5)
"""Heights of a pattern's name, the wanted one first; 2.5 is read at arm's length."""

MARK_MM = 2.5
"""Height of the words at marks."""

PITCH = 1.6
"""From line to line, over the height of a capital."""

ARROW_MM = (60.0, 30.0, 14.0)
"""Lengths of the grain's arrow, the wanted one first."""


def words_of(view: PageView, laid: Laid) -> Iterator[Entity]:
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
