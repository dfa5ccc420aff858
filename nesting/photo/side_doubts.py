"""Long sides of a board past which it looks like the board: another lies against it, its wood goes
on past a seam that was taken for its edge, or its shadow looks like its face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from shapely.geometry import LineString, Polygon

from nesting.photo.board_face import Frame
from nesting.photo.board_sides import share_alike
from nesting.photo.plan_view import Array, Mask, PlanView

EACH_MM, CLEAR_MM = 24.0, 60.0
"""How far apart places along a side are looked at, and so far from both ends none."""

PAST_MM, FACE_MM, GROUND_MM = (10, 16, 22, 28, 35), (-10, -20, -30, -40), (70, 90, 110)
"""How far out past a side it is asked what it looks like; where the face is, and the ground, which
is looked at past the ends too."""

PAST_END_MM = (30, 45, 60)

MOST_ALIKE = 0.3
"""Part of what lies past a side that may look more like the board. Of 44 rendered sides 42 had 0.16
at most; 0.5 had one that had been cut off along a seam, 1.0 one in a shadow as dark as its face."""

LEAST_SEEN = 20
"""Places of the ground: of fewer nothing is told."""


def alike_sides(plan: PlanView, frame: Frame, outline: Polygon) -> Iterator[Array]:
    """Yield the (n, 2) places along each long side past which it looks like the board.

    ``outline``: the board's, in its frame.
    """
    long = outline.bounds[2]
    x = np.arange(CLEAR_MM, long - CLEAR_MM, EACH_MM)
    reach = [_across(outline, float(at)) for at in x]
    if len(reach) < 2:
        return
    low, high = np.array(reach).T
    y = np.linspace(low.min(), high.max(), 12)
    ends = [(at, v) for off in PAST_END_MM for at in (-off, long + off) for v in y]
    for edge, out in ((low, -1.0), (high, 1.0)):

        def past(offsets: Sequence[float], edge: Array = edge, out: float = out) -> Array:
            return np.concatenate([np.column_stack([x, edge + out * off]) for off in offsets])

        sets = past(PAST_MM), past(FACE_MM), np.concatenate([past(GROUND_MM), ends])
        beyond, face, ground = (_seen(plan, frame.back(places)) for places in sets)
        if min(len(ground), len(beyond), len(face)) < LEAST_SEEN:
            continue
        if share_alike(plan, beyond, face, ground) > MOST_ALIKE:
            yield np.column_stack([x, edge])


def _across(outline: Polygon, x: float) -> tuple[float, float]:
    """Return from where to where a board reaches across at a place along it."""
    bounds = outline.intersection(LineString([(x, -1e4), (x, 1e4)])).bounds
    return bounds[1], bounds[3]


def _seen(plan: PlanView, mm: Array) -> Array:
    """Return those places (n, 2) of the marks' plane that are seen, no paper on them."""
    cells = np.round(plan.to_cells(mm)).astype(int)
    high = np.array(plan.seen.shape)[::-1] - 1
    inside: Mask = np.all((cells >= 0) & (cells <= high), axis=1)
    column, row = np.clip(cells, 0, high).T
    made: Array = mm[inside & plan.seen[row, column] & ~plan.paper[row, column]]
    return made
