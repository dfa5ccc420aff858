"""What is marked out, drawn on the wood: the base line, and the points with their names.

A name stands inside its part, beside its point; where there is no room it is left to the table,
which goes round the part in the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.marking.base_line import BaseKind, BaseLine
from nesting.marking.marking_out import MarkedPoint, MarkingOut
from nesting.sheets.drawing import Anchor, Circle, Entity, Point, Polyline, Role, Text, View
from nesting.sheets.free_space import boxes_at
from nesting.sheets.labelling import SMALL_PAPER_MM, Labelling
from nesting.sheets.lettering import text_width
from nesting.sheets.window import Window, as_lines

DOT_PAPER_MM = 0.45
"""Radius of the ring at a point on a curve: seen, and no hole that anybody bores."""

ARM_PAPER_MM = 2.5
"""From the middle of the cross at an end of the base line to its arms' ends."""

CENTRE_PAPER_MM = 1.1
"""From the middle of the triangle where a compass stands to its corners: crosses, rings and
diamonds mean holes, metal, faces and bungs."""

AWAY_PAPER_MM = (2.4, 3.2, 4.4)
"""How far a name's middle may stand from its point."""

ASIDE_DEG = (0.0, 35.0, -35.0, 65.0, -65.0)
"""Off the way straight into the wood."""

NEARLY_LEVEL_DEG = 1.0
"""A base line this level can share the rulers round the board."""


def base_line_view(base: BaseLine, window: Window) -> Iterator[Entity]:
    """Yield the base line where it is a string, and the cross that figures are counted from."""
    ends = [base.origin, *(end.at for end in base.ends[1:])]
    if base.kind is BaseKind.STRING:
        yield from window.lines(LineString(ends), Role.BASE_LINE)
    for x, y in ends:
        if window.is_whole or window.shows(x):
            yield from _cross(window, (x, y))


def base_line_obstacles(base: BaseLine, window: Window) -> list[BaseGeometry]:
    """Return what lettering keeps clear of."""
    return [
        LineString(line.points)
        for line in base_line_view(base, window)
        if isinstance(line, Polyline)
    ]


def _cross(window: Window, at: tuple[float, float]) -> Iterable[Entity]:
    x, y = window.point(*at)
    arm = ARM_PAPER_MM * window.paper_mm
    lines = MultiLineString([[(x - arm, y), (x + arm, y)], [(x, y - arm), (x, y + arm)]])
    return as_lines(lines, Role.BASE_LINE, window.view)


def counted_from(
    base: BaseLine, window: Window, bounds: tuple[float, float, float, float]
) -> tuple[Window, tuple[float, float, float, float]]:
    """Return a window and a board's extent for rulers that count from the base line."""
    if abs(base.angle_deg) > NEARLY_LEVEL_DEG:
        return window, bounds
    x, y = base.origin
    shift = (window.shift[0] + x * window.times, window.shift[1] + y * window.times)
    counted = replace(window, shift=shift, from_mm=window.from_mm - x, to_mm=window.to_mm - x)
    return counted, (bounds[0] - x, bounds[1] - y, bounds[2] - x, bounds[3] - y)


def marked_points(marked: MarkingOut, work: Labelling) -> Iterator[Entity]:
    """Yield the sign of every point that is no corner, and names of points where there is room."""
    points, places = list[MarkedPoint](), list[NDArray[np.float64]]()
    for part, placement in zip(marked.parts, work.nest.placements, strict=True):
        shown = [p for ring in part.rings for p in ring.points if work.window.shows(p.at[0])]
        for point in shown:
            yield from _sign(point, work)
        if shown:
            points += shown
            places.append(_places(work, shown, placement.polygon))
    if points:
        yield from _names(work, points, np.concatenate(places))


def compass_sign(at: Point, paper_mm: float, view: View) -> Polyline:
    """Return the triangle about a place where a compass stands."""
    reach, turns = CENTRE_PAPER_MM * paper_mm, np.radians([90.0, 210.0, 330.0])
    corners = np.asarray(at) + reach * np.column_stack([np.cos(turns), np.sin(turns)])
    points = tuple((float(x), float(y)) for x, y in corners)
    return Polyline(points, Role.MARKED_POINT, is_closed=True, view=view)


def compass_obstacles(marked: MarkingOut, window: Window) -> list[BaseGeometry]:
    """Return the triangles where a compass stands, in the wood: lettering keeps clear of them."""
    points = (p for part in marked.parts for ring in part.rings for p in ring.points)
    return [
        Polygon(compass_sign(window.point(*point.at), window.paper_mm, window.view).points)
        for point in points
        if point.radius_mm is not None and window.shows(point.at[0])
    ]


def _sign(point: MarkedPoint, work: Labelling) -> Iterator[Entity]:
    """Yield a triangle where a compass stands, a ring on a curve, nothing at a corner."""
    at, window = work.window.point(*point.at), work.window
    if point.radius_mm is not None:
        yield compass_sign(at, work.paper, window.view)
    elif not point.is_corner:
        radius = DOT_PAPER_MM * work.paper
        work.space.take([shapely.Point(at).buffer(radius)], is_soft=True)
        yield Circle(at, radius, Role.MARKED_POINT, window.view)


def _places(work: Labelling, points: list[MarkedPoint], polygon: Polygon) -> NDArray[np.float64]:
    """Return (n, k, 2) middles for the names of points; nan where one would be off the part."""
    window = work.window
    turns = np.radians(np.add.outer([p.inward_deg for p in points], ASIDE_DEG))
    ways = np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    away = np.array(AWAY_PAPER_MM) * work.paper
    clear = np.array([p.clear_mm for p in points]) * window.times
    steps = (clear[:, None] + away)[:, :, None, None] * ways[:, None]
    on_wood = np.array([p.at for p in points])
    centres: NDArray[np.float64]
    centres = window.at(on_wood)[:, None] + steps.reshape(len(points), -1, 2)
    x, y = np.moveaxis((centres - np.asarray(window.shift)) / window.times, -1, 0)
    shapely.prepare(polygon)
    centres[~np.asarray(shapely.contains_xy(polygon, x, y))] = np.nan
    return centres


def _names(
    work: Labelling, points: list[MarkedPoint], centres: NDArray[np.float64]
) -> Iterator[Entity]:
    """Yield names beside their points: corners first, each at the first place that is free."""
    height = SMALL_PAPER_MM * work.paper
    widths = np.array([text_width(point.name, height) + 0.3 * height for point in points])
    tall = 1.45 * height
    free = _free(work, centres, widths, tall)
    taken, reach, count = np.empty((len(points), 2)), np.empty(len(points)), 0
    order = sorted(range(len(points)), key=lambda number: not points[number].is_corner)
    for number in order:
        for place in np.flatnonzero(free[number]):
            centre, width = centres[number, place], widths[number]
            off = np.abs(taken[:count] - centre)
            if ((off[:, 0] < (reach[:count] + width) / 2) & (off[:, 1] < tall)).any():
                continue
            taken[count], reach[count], count = centre, width, count + 1
            # Capitals and figures have no tails: they stand in the middle of their room.
            at = (float(centre[0]), float(centre[1]) - height / 2)
            name, view = points[number].name, work.window.view
            yield Text(name, at, height, Role.MARKED_POINT, Anchor.CENTRE, view)
            break
    work.space.take(boxes_at(taken[:count], reach[:count], tall))


def _free(
    work: Labelling, centres: NDArray[np.float64], widths: NDArray[np.float64], tall: float
) -> NDArray[np.bool_]:
    """Return (n, k) which places for names are free of everything drawn so far."""
    free = ~np.isnan(centres[..., 0])
    boxes = boxes_at(centres[free], np.broadcast_to(widths[:, None], free.shape)[free], tall)
    free[free] = work.space.are_free(boxes)
    return free
