"""The referee's look at run-out: the board's grain along the edges of a placed part.

Reckoned anew, edge by edge, on the placed outline; shares no code with the search.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Point

from nesting.grain import angle_between
from nesting.nest import Placement
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board

END_DEG = 0.05
"""An edge this much steeper to the part's own grain than its run-out is an end or a notch."""

STEP_MM = 1.0
"""On grown wood the grain is looked at so often along each edge."""

Corner = tuple[float, float]


def farthest_off_deg(placement: Placement, board: Board) -> float:
    """Return how far the board's grain is off a part's own line of grain at most, degrees.

    All along the sweep of grown grain; of straight grain everywhere in the part.
    """
    outline = placement.need.outline
    if not outline.grain.is_straight:
        return max(_sweep_off(edge, placement, board) for edge in pairwise(outline.grain.points))
    way = _way(*(_turned(point, placement) for point in outline.grain.points)) + (
        90.0 if _lies_across(placement, board) else 0.0
    )
    if board.grain.is_straight:
        return angle_between(way, board.grain.angles_deg[0])
    edges = [edge for edge in pairwise(_ring(placement)) if edge[0] != edge[1]]
    at_edge = max(_off(start, end, board, way) for start, end in edges)
    return max(at_edge, *(angle_between(way, turn) for turn in _within(placement, board)), 0.0)


def steepest_deg(placement: Placement, board: Board) -> float:
    """Return how far the board's grain is off a placed part at most, degrees.

    Off its long edges and its line of straight grain, or off the sweep of grown grain.
    """
    return max(farthest_off_deg(placement, board), *_edge_angles(placement, board), 0.0)


def _edge_angles(placement: Placement, board: Board) -> Iterator[float]:
    outline = placement.need.outline
    if not outline.grain.is_straight:
        return
    grain = _way(*(_turned(point, placement) for point in outline.grain.points))
    most = 90.0 - math.degrees(math.atan(outline.run_out)) + END_DEG
    for start, end in pairwise(_ring(placement)):
        if start != end and angle_between(_way(start, end), grain) <= most:
            across = 90.0 if _lies_across(placement, board) else 0.0
            yield _off(start, end, board, _way(start, end) + across)


def _lies_across(placement: Placement, board: Board) -> bool:
    """Return whether a part lies, as it may, square to the face grain of sheet goods."""
    outline = placement.need.outline
    if not (outline.may_lie_across and is_sheet_goods(board.species)):
        return False
    way = _way(*(_turned(point, placement) for point in outline.grain.points[:2]))
    return angle_between(way, board.grain.angles_deg[0]) > 45.0


def _within(placement: Placement, board: Board) -> Iterator[float]:
    """Yield the ways of the board's grain whose own lines have their middles in a part."""
    polygon = placement.polygon
    for (start, end), turn in zip(
        pairwise(board.grain.points), board.grain.angles_deg, strict=True
    ):
        if polygon.intersects(Point((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)):
            yield turn


def _sweep_off(own: tuple[Corner, Corner], placement: Placement, board: Board) -> float:
    """Return the greatest angle of a stretch of a part's grown sweep to the grain beside it."""
    places = _along(*own)
    ways = placement.need.outline.grain.angles_at(places)
    ways = (-ways if placement.is_turned_over else ways) + placement.angle_deg
    lying = np.array([_turned((x, y), placement) for x, y in places])
    beside = board.grain.angles_at(lying)
    return max(angle_between(way, turn) for way, turn in zip(ways, beside, strict=True))


def _ring(placement: Placement) -> Sequence[Corner]:
    return [_turned(point, placement) for point in placement.need.outline.shape.exterior.coords]


def _turned(point: Sequence[float], placement: Placement) -> Corner:
    """Return a point of a part's own frame in its board's."""
    turn = math.radians(placement.angle_deg)
    x, y = point[0], -point[1] if placement.is_turned_over else point[1]
    return (
        x * math.cos(turn) - y * math.sin(turn) + placement.x_mm,
        x * math.sin(turn) + y * math.cos(turn) + placement.y_mm,
    )


def _way(start: Corner, end: Corner) -> float:
    return math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))


def _off(start: Corner, end: Corner, board: Board, way: float | None = None) -> float:
    """Return the greatest angle of a way, the edge's own if not given, to the grain beside it."""
    own = _way(start, end) if way is None else way
    if board.grain.is_straight:
        return angle_between(own, board.grain.angles_deg[0])
    return max(angle_between(own, turn) for turn in board.grain.angles_at(_along(start, end)))


def _along(start: Corner, end: Corner) -> NDArray[np.float64]:
    """Return places (n, 2) along an edge, each so far from the next."""
    count = math.ceil(math.dist(start, end) / STEP_MM)
    share = (np.arange(count) + 0.5)[:, None] / count
    return np.array(start) * (1 - share) + np.array(end) * share
