"""The referee's look at run-out: the board's grain along the edges of a placed part.

Reckoned anew, edge by edge, on the placed outline; shares no code with the search.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from nesting.grain import angle_between
from nesting.nest import Placement
from nesting.stock.board import Board

END_DEG = 0.05
"""An edge this much steeper to the part's own grain than its run-out is an end or a notch."""

Corner = tuple[float, float]


def steepest_deg(placement: Placement, board: Board) -> float:
    """Return how far the board's grain is off a placed part at most, degrees.

    Off its long edges and its line of straight grain, or off the sweep of grown grain.
    """
    return max(_angles(placement, board))


def _angles(placement: Placement, board: Board) -> Iterator[float]:
    outline = placement.need.outline
    own = [_turned(point, placement) for point in outline.grain.points]
    for start, end in pairwise(own):
        yield _off(start, end, board)
    if len(own) > 2:
        return
    grain = _way(*own)
    most = 90.0 - math.degrees(math.atan(outline.run_out)) + END_DEG
    for start, end in pairwise(_ring(placement)):
        if start != end and angle_between(_way(start, end), grain) <= most:
            yield _off(start, end, board)


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


def _off(start: Corner, end: Corner, board: Board) -> float:
    """Return the angle of an edge to the grain nearest to its middle, degrees."""
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    return angle_between(_way(start, end), board.grain.angle_at(x, y))
