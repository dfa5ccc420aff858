"""How each kind of keep-out is drawn: its true edge, and a symbol that tells it in black.

=========  =============================================
metal      heavy saltire over it, larger than the thing
hole       upright cross
recess     second ring around it
groove     lines along it
rot        lines crossed both ways
split      zigzag along it
knot       rings inside it
stain      broken level dashes
worn edge  lines leaning one way
=========  =============================================

Symbols have a least size on paper, so that a 6 mm screw is seen on a 4 m board.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import GeometryCollection, LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.sheets.board_tag import keep_out_tag
from nesting.sheets.drawing import Circle, Entity, Polyline, Role, Tag
from nesting.sheets.window import Window, as_lines
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind

SMALLEST_ARM = 1.7
"""Paper mm from the middle of a cross to its end, at least: seen at arm's length."""

MOST_COVERED = 0.4
"""Share of the wood that signs may cover, or nothing else is seen: a board with thousands of nails
is enlarged until they cover no more, and in its smaller view their signs are smaller."""

HATCH_GAP = 2.2
"""Paper mm between hatching lines: sparse, so that lettering over it can be read."""

TURN = math.tan(math.pi / 4)
"""Bulge of a half circle: the tangent of a quarter of 180 degrees."""


def keep_out_entities(keep_out: KeepOut, window: Window, index: int) -> tuple[Entity, ...]:
    """Return a keep-out's true edge, tagged, and its symbol."""
    tag = keep_out_tag(keep_out, index)
    return (*_edge(keep_out, window, tag), *_symbol(keep_out, window))


def role_of(kind: KeepOutKind) -> Role:
    """Return the role of a kind of keep-out."""
    return Role(kind.value)


def _edge(keep_out: KeepOut, window: Window, tag: Tag) -> tuple[Entity, ...]:
    role = role_of(keep_out.kind)
    if keep_out.is_circle:
        x, y, radius = keep_out.bounding_circle
        return window.circle(x, y, radius, role, tag)
    if window.is_whole and is_slot(keep_out):
        return (_slot(keep_out, window, tag),)
    return window.rings(keep_out.polygon, (role, role), tag)


def is_slot(keep_out: KeepOut) -> bool:
    """Return whether a keep-out is an even width about one straight line."""
    return isinstance(keep_out.core, LineString) and len(keep_out.core.coords) == 2


def _slot(keep_out: KeepOut, window: Window, tag: Tag) -> Polyline:
    """Return a slot's edge, its ends true half circles."""
    (ax, ay), (bx, by) = keep_out.core.coords
    reach = keep_out.reach_mm / math.hypot(bx - ax, by - ay)
    nx, ny = -(by - ay) * reach, (bx - ax) * reach
    corners = ((ax - nx, ay - ny), (bx - nx, by - ny), (bx + nx, by + ny), (ax + nx, ay + ny))
    return Polyline(
        tuple(window.point(*corner) for corner in corners),
        role_of(keep_out.kind),
        True,
        (0.0, TURN, 0.0, TURN),
        window.view,
        window.tag(tag),
    )


def symbol_reach(keep_out: KeepOut, window: Window) -> float:
    """Return how far a round keep-out's symbol reaches from its centre, mm of the drawing."""
    radius = keep_out.bounding_circle[2] * window.times
    sign = window.signs * window.paper_mm
    return max(radius + 0.8 * sign, SMALLEST_ARM * sign)


def uncrowded_scale(board: Board) -> float:
    """Return the coarsest 1 to so many at which signs of full size leave a board to be seen."""
    signs = sum(keep_out.is_circle for keep_out in board.keep_outs) * (2 * SMALLEST_ARM) ** 2
    return math.sqrt(MOST_COVERED * board.shape.area / signs) if signs else math.inf


def uncrowded(window: Window, board: Board) -> Window:
    """Return a window with signs so small that they leave a board to be seen."""
    share = uncrowded_scale(board) * window.times / window.paper_mm
    return window if share >= 1.0 else replace(window, signs=share)


def _symbol(keep_out: KeepOut, window: Window) -> tuple[Entity, ...]:
    """Return the strokes that tell a keep-out's kind."""
    role = role_of(keep_out.kind)
    if keep_out.is_circle and keep_out.kind in _AT_CENTRE:
        if not window.shows(keep_out.bounding_circle[0]):
            return ()
        return _AT_CENTRE[keep_out.kind](keep_out, window)
    shape = window.region(keep_out.polygon)
    if shape is None:
        return ()
    strokes = _AREA[keep_out.kind](shape, window.paper_mm)
    return as_lines(strokes, role, window.view)


def _cross(keep_out: KeepOut, window: Window, turn_deg: float) -> tuple[Entity, ...]:
    x, y = window.point(*keep_out.bounding_circle[:2])
    arm, role = symbol_reach(keep_out, window), role_of(keep_out.kind)
    lines = list[Entity]()
    for turn in (math.radians(turn_deg), math.radians(turn_deg + 90)):
        dx, dy = arm * math.cos(turn), arm * math.sin(turn)
        lines.append(Polyline(((x - dx, y - dy), (x + dx, y + dy)), role, view=window.view))
    return tuple(lines)


def _ring(keep_out: KeepOut, window: Window) -> tuple[Entity, ...]:
    return _circles(keep_out, window, (symbol_reach(keep_out, window),))


def _inner_rings(keep_out: KeepOut, window: Window) -> tuple[Entity, ...]:
    radius = keep_out.bounding_circle[2] * window.times
    return _circles(keep_out, window, [share * radius for share in INNER])


def _circles(keep_out: KeepOut, window: Window, radii: Iterable[float]) -> tuple[Entity, ...]:
    centre, role = window.point(*keep_out.bounding_circle[:2]), role_of(keep_out.kind)
    return tuple(Circle(centre, radius, role, window.view) for radius in radii)


INNER = (0.66, 0.33)
"""Size of the rings within a knot over its own."""


_AT_CENTRE: dict[KeepOutKind, Callable[[KeepOut, Window], tuple[Entity, ...]]] = {
    KeepOutKind.METAL: lambda keep_out, window: _cross(keep_out, window, 45.0),
    KeepOutKind.HOLE: lambda keep_out, window: _cross(keep_out, window, 0.0),
    KeepOutKind.RECESS: _ring,
    KeepOutKind.KNOT: _inner_rings,
}


def hatching(shape: Polygon, angle_deg: float, gap: float) -> BaseGeometry:
    """Return parallel lines across a shape, ``gap`` apart, one of them through its middle."""
    middle = shape.centroid
    reach = math.hypot(*np.subtract(shape.bounds[2:], shape.bounds[:2]))
    turn = math.radians(angle_deg)
    along, across = (
        np.array([math.cos(turn), math.sin(turn)]),
        np.array([-math.sin(turn), math.cos(turn)]),
    )
    count = math.ceil(reach / gap)
    feet = np.array([middle.x, middle.y]) + np.arange(-count, count + 1)[:, None] * gap * across
    ends = np.stack([feet - reach * along, feet + reach * along], axis=1)
    return _within(shape, ends)


def _within(shape: Polygon, ends: NDArray[np.float64]) -> BaseGeometry:
    """Return what lies within a shape of (n, 2, 2) strokes, by their ends."""
    strokes = np.asarray(shapely.linestrings(ends))
    return GeometryCollection(list(np.asarray(shapely.intersection(strokes, shape))))


def _long_axis(shape: Polygon) -> tuple[float, float, float]:
    """Return the direction in degrees, length and width of the least rectangle around."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = corners[1:3] - corners[:2]
    lengths = np.hypot(*sides.T)
    longest = int(np.argmax(lengths))
    angle = math.degrees(math.atan2(sides[longest][1], sides[longest][0])) % 180.0
    return angle, float(lengths[longest]), float(lengths[1 - longest])


def _saltire(shape: Polygon, paper_mm: float) -> BaseGeometry:
    low_x, low_y, high_x, high_y = shape.bounds
    diagonals = MultiLineString(
        [[(low_x, low_y), (high_x, high_y)], [(low_x, high_y), (high_x, low_y)]]
    )
    return GeometryCollection([diagonals, hatching(shape, 45.0, HATCH_GAP * paper_mm)])


def _upright(shape: Polygon, paper_mm: float) -> BaseGeometry:
    x, y = shape.centroid.coords[0]
    low_x, low_y, high_x, high_y = shape.bounds
    return MultiLineString([[(low_x, y), (high_x, y)], [(x, low_y), (x, high_y)]])


def _outer_ring(shape: Polygon, paper_mm: float) -> BaseGeometry:
    return shape.buffer(0.8 * paper_mm).exterior


def _along(shape: Polygon, paper_mm: float) -> BaseGeometry:
    return hatching(shape, _long_axis(shape)[0], 1.2 * paper_mm)


def _crossed(shape: Polygon, paper_mm: float) -> BaseGeometry:
    gap = HATCH_GAP * paper_mm
    return GeometryCollection([hatching(shape, 45.0, gap), hatching(shape, 135.0, gap)])


def _zigzag(shape: Polygon, paper_mm: float) -> BaseGeometry:
    angle, length, width = _long_axis(shape)
    pitch, rise = 2.0 * paper_mm, max(0.9 * paper_mm, width / 2)
    steps = max(4, round(length / pitch))
    along = np.linspace(-length / 2, length / 2, steps + 1)
    across = rise * np.where(np.arange(steps + 1) % 2, 1.0, -1.0)
    turn, middle = math.radians(angle), shape.centroid
    x = middle.x + along * math.cos(turn) - across * math.sin(turn)
    y = middle.y + along * math.sin(turn) + across * math.cos(turn)
    return LineString(np.column_stack([x, y]))


def _rings(shape: Polygon, paper_mm: float) -> BaseGeometry:
    inner = [affinity.scale(shape, part, part, origin="centroid").boundary for part in INNER]
    return GeometryCollection(inner)


def _dashes(shape: Polygon, paper_mm: float) -> BaseGeometry:
    """Return level dashes, each row set half a pitch off the one below."""
    low_x, low_y, high_x, high_y = shape.bounds
    pitch, row = 4.0 * paper_mm, 1.6 * paper_mm
    starts: list[tuple[float, float]] = []
    for number, y in enumerate(np.arange(low_y + row / 2, high_y, row)):
        first = low_x - (number % 2) * pitch / 2
        starts.extend((x, y) for x in np.arange(first, high_x, pitch))
    if not starts:
        return LineString()
    begins = np.array(starts)
    ends = np.stack([begins, begins + np.array([1.8 * paper_mm, 0.0])], axis=1)
    return _within(shape, ends)


def _leaning(shape: Polygon, paper_mm: float) -> BaseGeometry:
    return hatching(shape, 60.0, 1.6 * paper_mm)


_AREA = {
    KeepOutKind.METAL: _saltire,
    KeepOutKind.HOLE: _upright,
    KeepOutKind.RECESS: _outer_ring,
    KeepOutKind.GROOVE: _along,
    KeepOutKind.ROT: _crossed,
    KeepOutKind.SPLIT: _zigzag,
    KeepOutKind.KNOT: _rings,
    KeepOutKind.STAIN: _dashes,
    KeepOutKind.WORN_EDGE: _leaning,
}
