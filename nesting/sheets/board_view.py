"""The wood itself in a window: board, keep-outs, cuts, marks, bungs, offcuts; no lettering."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.accounts.account import BoardAccount
from nesting.flat_geometry.thinned import thinned
from nesting.grain import GrainPath
from nesting.nest import Bung, Nest, Placement
from nesting.outline import Mark, MarkKind
from nesting.sheets.board_tag import board_tag
from nesting.sheets.drawing import Arrow, Entity, Point, Role, Tag, View
from nesting.sheets.symbols import SMALLEST_ARM, keep_out_entities
from nesting.sheets.window import Window, as_lines

GRAIN_STROKES_PAPER_MM = (6.0, 1.8)
"""From one stroke of a line of grown grain to the next, and its own length."""

SCRIBED_OFF_PAPER_MM = 1.2
"""A scribed line that keeps along a cut line is drawn where it is farther from it: nearer they are
one line in print."""

KEEPS_ALONG = 0.7
"""One of which less is left keeps along the cut line; else it only begins and ends there."""

HEAD_PAPER_MM = 2.2
"""Length of an arrow head on paper."""


def board_view(nest: Nest, account: BoardAccount, window: Window) -> tuple[Entity, ...]:
    """Return everything of a nest that has a place on the wood."""
    entities: list[Entity] = [*_board(nest, window)]
    for index, keep_out in enumerate(nest.board.keep_outs):
        entities.extend(keep_out_entities(keep_out, window, index))
    for placement in nest.placements:
        entities.extend(_cuts(placement, window))
        for mark in placement.need.outline.marks:
            entities.extend(_mark(mark, placement, window))
    for number, bung in enumerate(account.bungs, start=1):
        entities.extend(_bung(bung, number, window))
    entities.extend(_offcuts(account, window))
    entities.extend(_breaks(nest, window))
    return tuple(entities)


def _board(nest: Nest, window: Window) -> Iterable[Entity]:
    board = nest.board
    yield from window.rings(board.shape, (Role.BOARD, Role.BOARD), board_tag(board))
    if not board.grain.is_straight:
        yield from _grain_line(LineString(board.grain.points).intersection(board.shape), window)


def _grain_line(path: BaseGeometry, window: Window) -> Iterable[Entity]:
    """Yield grown grain in short strokes: in no viewer and no print does it look like a cut."""
    pitch, stroke = (length * window.paper_mm for length in GRAIN_STROKES_PAPER_MM)
    for line in shapely.get_parts(shapely.line_merge(window.seen(path))):
        starts = np.arange(0.0, line.length, pitch)
        ends = [shapely.line_interpolate_point(line, starts + step) for step in (0.0, stroke)]
        placed = np.stack([shapely.get_coordinates(points) for points in ends], axis=1)
        strokes = MultiLineString([LineString(pair) for pair in placed])
        yield from as_lines(strokes, Role.GRAIN_LINE, window.view)


def _cuts(placement: Placement, window: Window) -> Iterable[Entity]:
    tag = Tag(
        "part",
        (
            ("label", placement.label),
            ("part", placement.need.part),
            ("copy", str(placement.copy)),
            ("turned_over", "yes" if placement.is_turned_over else "no"),
        ),
    )
    # A copy is read, never cut from: it needs no corner that no eye sees.
    polygon = placement.polygon if window.view is View.FULL_SIZE else seen_outline(placement)
    return window.rings(polygon, (Role.SAW_OUTLINE, Role.SAW_OPENING), tag)


def seen_outline(placement: Placement) -> Polygon:
    """Return a part as it lies, of thousands of corners those that the eye can tell."""
    return placement.placed(thinned(placement.need.outline.shape))


def mark_role(kind: MarkKind) -> Role:
    """Return the role of a kind of mark."""
    return Role(f"mark {kind.value}")


def scribed_line(mark: Mark, placement: Placement, window: Window) -> BaseGeometry:
    """Return what is drawn of a line scribed on a part, in the board's frame.

    The edge of a bevelled part's marked face lies so near to the cut that it would hide it.
    """
    line: BaseGeometry = LineString(mark.points)
    if mark.kind is MarkKind.REFERENCE:
        off = SCRIBED_OFF_PAPER_MM * window.paper_mm / window.times
        beside = line.intersection(_well_inside(placement.need.outline.shape, off))
        line = beside if beside.length < KEEPS_ALONG * line.length else line
    return placement.placed(line)


@lru_cache(maxsize=100)
def _well_inside(shape: Polygon, off_mm: float) -> BaseGeometry:
    return shape.buffer(-off_mm, join_style="mitre")


def _mark(mark: Mark, placement: Placement, window: Window) -> Iterable[Entity]:
    points = placement.to_board(np.asarray(mark.points, dtype=float))
    role = mark_role(mark.kind)
    if len(points) > 1:
        line = scribed_line(mark, placement, window)
        yield from () if line.is_empty else window.lines(line, role)
        return
    x, y = points[0]
    if not window.shows(x):
        return
    radius = (mark.diameter_mm or 0.0) / 2
    if radius:
        yield from window.circle(x, y, radius, role)
    yield from as_lines(_centre_cross(window, (x, y), radius), role, window.view)


def _centre_cross(window: Window, at: Point, radius_mm: float) -> BaseGeometry:
    x, y = window.point(*at)
    arm = _cross_arm(window, radius_mm)
    return MultiLineString([[(x - arm, y), (x + arm, y)], [(x, y - arm), (x, y + arm)]])


def _cross_arm(window: Window, radius_mm: float) -> float:
    return max(radius_mm * window.times + 0.8 * window.paper_mm, SMALLEST_ARM * window.paper_mm)


def bung_reach(bung: Bung, window: Window) -> float:
    """Return half the diagonal of the diamond around a bung, mm of the drawing."""
    paper = window.paper_mm
    return max(bung.diameter_mm / 2 * window.times * math.sqrt(2) + 0.5 * paper, 2.0 * paper)


def _bung(bung: Bung, number: int, window: Window) -> Iterable[Entity]:
    """Yield a bung's circle, and the diamond that tells it from a hole left open."""
    if not window.shows(bung.x_mm):
        return
    tag = Tag("bung", (("number", str(number)), ("part", bung.part)))
    yield from window.circle(bung.x_mm, bung.y_mm, bung.diameter_mm / 2, Role.BUNG, tag)
    x, y = window.point(bung.x_mm, bung.y_mm)
    reach = bung_reach(bung, window)
    corners = [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)]
    yield from as_lines(LineString(corners), Role.BUNG, window.view)


def _offcuts(account: BoardAccount, window: Window) -> Iterable[Entity]:
    for number, offcut in enumerate(account.offcuts, start=1):
        tag = Tag("offcut", (("number", str(number)),))
        yield from window.rings(offcut.shape, (Role.OFFCUT, Role.OFFCUT), tag)


def _breaks(nest: Nest, window: Window) -> Iterable[Entity]:
    """Yield the lines where an enlarged stretch goes on in the next one."""
    for line in _break_lines(nest, window):
        yield from as_lines(line, Role.BREAK, window.view)


def _break_lines(nest: Nest, window: Window) -> Iterable[LineString]:
    low_x, low_y, high_x, high_y = nest.board.shape.bounds
    over = 2.0 * window.paper_mm / window.times
    for x in (window.from_mm, window.to_mm):
        if low_x < x < high_x:
            ends = np.array([[x, low_y - over], [x, high_y + over]])
            yield LineString(window.at(ends))


def grain_arrow(middle: Point, angle_deg: float, length: float, window: Window) -> Arrow:
    """Return a double-headed arrow along the grain about a point of the drawing."""
    turn = math.radians(angle_deg)
    dx, dy = length / 2 * math.cos(turn), length / 2 * math.sin(turn)
    start, end = (middle[0] - dx, middle[1] - dy), (middle[0] + dx, middle[1] + dy)
    head = HEAD_PAPER_MM * window.paper_mm
    return Arrow(start, end, head, Role.GRAIN, is_double=True, view=window.view)


def grain_of(placement: Placement, near: Point) -> float:
    """Return the direction of a placed part's grain near a point of the board, degrees."""
    points = placement.to_board(np.asarray(placement.need.outline.grain.points, dtype=float))
    path = GrainPath(tuple((float(x), float(y)) for x, y in points))
    return path.angle_at(*near)


def obstacles(nest: Nest, account: BoardAccount, window: Window) -> tuple[list[BaseGeometry], ...]:
    """Return what lettering keeps off: hard ones, and soft ones that it may cross at need."""
    hard: list[BaseGeometry] = []
    soft: list[BaseGeometry] = []
    keep_outs = nest.board.keep_outs
    seen = window.all_seen([keep_out.polygon for keep_out in keep_outs])
    is_round = np.array([keep_out.is_circle for keep_out in keep_outs], dtype=bool)
    is_round &= ~shapely.is_empty(seen)
    arm = SMALLEST_ARM * window.signs * window.paper_mm
    reach = np.maximum(shapely.length(seen[is_round]) / 6, arm)
    seen[is_round] = shapely.buffer(shapely.centroid(seen[is_round]), reach, quad_segs=16)
    hard.extend(seen)
    for bung in account.bungs:
        if window.shows(bung.x_mm):
            at = shapely.Point(window.point(bung.x_mm, bung.y_mm))
            hard.append(at.buffer(bung_reach(bung, window)))
    soft.append(window.seen(nest.board.shape).boundary)
    cuts = account.break_down.cuts
    soft.extend(window.seen(LineString([cut.start, cut.end])) for cut in cuts)
    soft.extend(window.seen(offcut.shape).boundary for offcut in account.offcuts)
    soft.extend(_break_lines(nest, window))
    if not nest.board.grain.is_straight:
        soft.append(window.seen(LineString(nest.board.grain.points)))
    for placement in nest.placements:
        soft.append(window.seen(seen_outline(placement)).boundary)
        for mark in placement.need.outline.marks:
            points = placement.to_board(np.asarray(mark.points, dtype=float))
            if len(points) > 1:
                line = window.seen(LineString(points))
                soft.append(line.buffer(SMALLEST_ARM / 3 * window.paper_mm))
            elif window.shows(points[0][0]):
                at = shapely.Point(window.point(*points[0]))
                soft.append(at.buffer(_cross_arm(window, (mark.diameter_mm or 0.0) / 2)))
    return hard, soft
