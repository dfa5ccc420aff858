"""What a view on paper is drawn with: lines as lean as the eye sees them, tints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.nest import Nest
from nesting.sheets.drawing import Area, Entity, Point, Polyline, Role
from nesting.sheets.window import Window
from nesting.stock.keep_out import KeepOutKind

TINT, SOLID, VEILED = 0.10, 1.0, 0.25
"""Shares of ink: a part's tint, a nail or a bolt, and a plate under its hatching."""

UNSEEN_MM, MANY_POINTS = 0.01, 8
"""Of wood for a line, of paper for a tint: of longer ones, points that lie nearer to the chord are
left out. A line so lies where it does on the cut sheet, whatever the scale."""


def leaned(entity: Entity, within_mm: float) -> Entity:
    """Return a line without the points that are so near to its chord."""
    if not isinstance(entity, Polyline) or len(entity.points) < MANY_POINTS or entity.bulges:
        return entity
    return replace(entity, points=_thinned(entity.points, within_mm, is_closed=entity.is_closed))


def _thinned(points: Sequence[Point], within_mm: float, *, is_closed: bool) -> tuple[Point, ...]:
    ring = [*points, points[0]] if is_closed else points
    line = shapely.simplify(shapely.LineString(ring), within_mm)
    kept = tuple((x, y) for x, y in shapely.get_coordinates(line).tolist())
    return kept[:-1] if is_closed else kept


def tints(nest: Nest, window: Window) -> Iterator[Area]:
    """Yield the parts lightly tinted, and metal as dark as ink goes."""
    for placement in nest.placements:
        yield from _areas(window.seen(placement.polygon), Role.SAW_OUTLINE, TINT)
    for keep_out in nest.board.keep_outs:
        if keep_out.kind is KeepOutKind.METAL:
            shade = SOLID if keep_out.is_circle else VEILED
            yield from _areas(window.seen(keep_out.polygon), Role.METAL, shade)


def _areas(seen: BaseGeometry, role: Role, shade: float) -> Iterator[Area]:
    for part in shapely.get_parts(seen):
        if isinstance(part, Polygon) and part.area > 0:
            part = shapely.orient_polygons(part)
            rings = [
                _thinned(ring.coords[:-1], UNSEEN_MM, is_closed=True)
                for ring in (part.exterior, *part.interiors)
            ]
            yield Area(tuple(rings), role, shade)
