"""Bungs held against the rules: wood about each, bearing zones, each other, how many a metre."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

import shapely
from shapely.geometry import Point, Polygon

from nesting.nest import Placement
from nesting.referee.fault import Fault
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut


def check_plugged(
    placement: Placement,
    bung: tuple[float, float, float],
    board: Board,
    rules: Rules,
) -> Iterator[Fault]:
    """Check one bung, x, y and diameter in mm: its wood to the edge, and the bearing zones."""
    x, y, diameter = bung
    wood = _wood_about(placement, Point(x, y)) - diameter / 2
    if wood < rules.plug_edge_mm - TOUCH_MM:
        yield Fault(
            "bung to cut edge",
            board.name,
            f"{placement.label}: {wood:.6f} mm of wood beside the bung at ({x:.1f}, {y:.1f}) mm, "
            f"{rules.plug_edge_mm:g} mm is needed",
        )
    for zone in placement.need.outline.bearing_zones:
        gap = placement.placed(zone.region).distance(Point(x, y)) - diameter / 2
        if gap < -TOUCH_MM:
            yield Fault(
                "bearing zone",
                board.name,
                f"{placement.label}: the bung at ({x:.1f}, {y:.1f}) mm lies in its {zone.label}",
            )


def _wood_about(placement: Placement, middle: Point) -> float:
    """Return how far a point lies within what both faces of a part have; below 0 outside, mm."""
    room = placement.placed(placement.need.outline.bung_room)
    if room.is_empty:
        return -math.inf
    off = float(room.boundary.distance(middle))
    return off if room.contains(middle) else -off


def check_bungs(
    placement: Placement,
    polygon: Polygon,
    around: Sequence[KeepOut],
    board: Board,
    rules: Rules,
) -> Iterator[Fault]:
    """Check a part's bungs against each other: none overlap, no metre holds too many."""
    circles = _bung_circles(placement, polygon, around, rules)
    for (x, y, d), (u, v, e) in combinations(circles, 2):
        if math.hypot(x - u, y - v) < (d + e) / 2 - TOUCH_MM:
            yield Fault(
                "bungs overlap",
                board.name,
                f"{placement.label}: those at ({x:.1f}, {y:.1f}) mm and ({u:.1f}, {v:.1f}) mm",
            )
    axis = shapely.LineString([placement.need.outline.grain.points[i] for i in (0, -1)])
    (x0, y0), (x1, y1) = placement.placed(axis).coords
    size = math.hypot(x1 - x0, y1 - y0)
    marks = [(x * (x1 - x0) + y * (y1 - y0)) / size for x, y, _ in circles]
    most = max((sum(0 <= mark - start < 1000.0 for mark in marks) for start in marks), default=0)
    allowed = placement.need.most_plugs(rules)
    if most > allowed:
        yield Fault(
            "bungs in a metre", board.name, f"{placement.label}: {most}, {allowed} are allowed"
        )


def _bung_circles(
    placement: Placement, polygon: Polygon, around: Sequence[KeepOut], rules: Rules
) -> list[tuple[float, float, float]]:
    """Return x, y, diameter of each bung; one bung closes a hole that lies inside it."""
    holes = []
    for keep_out in around:
        size = rules.plug_for(keep_out) if placement.need.may_plug(keep_out, rules) else None
        x, y, radius = keep_out.bounding_circle
        if size is not None and polygon.contains(Point(x, y)):
            holes.append((radius, x, y, size))
    circles: list[tuple[float, float, float]] = []
    for radius, x, y, size in sorted(holes, reverse=True):
        inside = [c for c in circles if math.hypot(x - c[0], y - c[1]) + radius <= c[2] / 2]
        if not inside:
            circles.append((x, y, size))
    return circles
