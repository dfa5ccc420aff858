"""Free stretches on the lines of a board with very many keep-outs, without uniting them first.

A union of thousands of circles takes seconds, and taking parts from it as long again; where lines
cross circles takes milliseconds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.wood.room_bounds import ARC_STEPS, in_way, taken_by
from nesting.engine.wood.runs import (
    STEP_MM,
    Floats,
    Ints,
    Runs,
    between_taken,
    crossed,
    runs_of,
    taken,
)
from nesting.flat_geometry.overlay import polygons_of
from nesting.need import Need
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut

Crossings = tuple[Ints, Floats, Floats]


def free_lines(board: Board, need: Need, rules: Rules) -> Runs:
    """Return where on its lines a board is free for parts that tolerate as much as a need."""
    low_x, _, high_x, _ = board.shape.bounds
    wood = board.shape.buffer(TOUCH_MM - rules.trim_mm, quad_segs=ARC_STEPS)
    runs = runs_of(wood, low_x, high_x)
    count = len(runs.first) - 1
    keep_outs = list(in_way(board, need, rules))
    round_ones = [k for k in keep_outs if isinstance(k.core, Point)]
    others = [k for k in keep_outs if not isinstance(k.core, Point)]
    found = [taken(runs), _across_circles(round_ones, rules, low_x, count)]
    for shape in _polygons(taken_by(keep_out, rules) for keep_out in others):
        found.append(crossed(shape, low_x, count))
    lines, lows, highs = (np.concatenate(column) for column in zip(*found, strict=True))
    return between_taken(low_x, count, lines, lows, highs)


def _polygons(shapes: Iterator[BaseGeometry]) -> Iterator[Polygon]:
    return (polygon for shape in shapes for polygon in polygons_of(shape))


def _across_circles(
    keep_outs: Sequence[KeepOut], rules: Rules, low_x: float, count: int
) -> Crossings:
    """Return on which lines circles with their clearance lie, from where to where."""
    if not keep_outs:
        return np.empty(0, np.int64), np.empty(0), np.empty(0)
    circles = np.array([k.bounding_circle for k in keep_outs])
    clear = np.array([rules.kept_off_mm(k) for k in keep_outs])
    reach = np.maximum(0.0, circles[:, 2] + clear - TOUCH_MM)
    begin = low_x + STEP_MM / 2
    first = np.maximum(np.ceil((circles[:, 0] - reach - begin) / STEP_MM), 0).astype(np.int64)
    last = np.minimum(np.floor((circles[:, 0] + reach - begin) / STEP_MM), count - 1)
    counts = np.maximum(last.astype(np.int64) - first + 1, 0)
    of = np.repeat(np.arange(len(circles)), counts)
    line = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts) + first[of]
    off = circles[of, 0] - (begin + line * STEP_MM)
    half = np.sqrt(np.maximum(0.0, reach[of] ** 2 - off**2))
    return line, circles[of, 1] - half, circles[of, 1] + half
