"""What a part covers at least on lines across a board, however it is turned and wherever it lies.

Lines run across the board, a step apart. A part lies somewhere between them, at an angle within
its limit on slope of grain. Its length is cut into cells as wide as a step, so that wherever it
lies one line falls into each cell; of each cell the wood is known that the part has all through
it. A line leans over a part that leans, by so little that it stays in the cells next to its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.wood.extents import turnings_deg
from nesting.engine.wood.runs import edges_of, rings_of
from nesting.engine.wood.runs_numba import cores
from nesting.outline import Outline

STEP_MM = 4.0
"""Between lines. The ends of a part count some steps too short; finer lines take longer."""

MOST_ANGLES = 120
"""Ranges of angle for one face; a part that would want more counts for its area alone."""

ALIKE_MM = 0.3
"""Ways to lie that differ by no more than this are taken for one, the less of both."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Chords:
    """The least chords of a part across a board, in the (w) ways that it may lie.

    Attributes
    ----------
    lengths
        (w, 2 k) mm, the longest stretch of wood all through each cell; k cells on either side
        of the part's middle.
    reach
        (w, 2) mm, how far the part reaches at least from its middle, to the left and right.
    """

    lengths: Floats
    reach: Floats

    def __len__(self) -> int:
        return len(self.lengths)


def chords_of(outline: Outline, grain_deg: float, highest_mm: float) -> Chords:
    """Return a part's chords across a board of straight grain.

    Parameters
    ----------
    highest_mm
        Angles at which the part is higher than this are left out: no board has so much room.
    """
    radius = float(shapely.minimum_bounding_radius(outline.shape))
    middle = shapely.minimum_bounding_circle(outline.shape).centroid
    cells = math.ceil(radius / STEP_MM) + 1
    found, reaches = [np.empty((0, 2 * cells))], [np.empty((0, 2))]
    for is_over, low_deg, high_deg in turnings_deg(outline, grain_deg):
        flip = np.array([1.0, -1.0 if is_over else 1.0])
        rings = [(ring - (middle.x, middle.y)) * flip for ring in rings_of(outline.shape)]
        turns = _Turns(rings, radius, math.radians(low_deg), math.radians(high_deg), highest_mm)
        rows = np.array([_covered(edges, cells) for edges in turns.edges()])
        rows = rows.reshape(-1, 2 * cells)
        found += [rows, rows[:, ::-1]]
        reaches += [turns.reach, turns.reach[:, ::-1]]
    return _merged(np.concatenate(found), np.concatenate(reaches))


class _Turns:
    """Ranges of angle so narrow that no line leaves the cells next to its own."""

    def __init__(
        self, rings: Sequence[Floats], radius: float, low: float, high: float, highest_mm: float
    ) -> None:
        self._rings = rings
        hull = shapely.convex_hull(Polygon(rings[0]))
        assert isinstance(hull, Polygon)
        corners = np.asarray(hull.exterior.coords)
        count = 1
        while True:
            half = (high - low) / count / 2
            turns = low + half * (2 * np.arange(count) + 1)
            x = np.outer(np.cos(turns), corners[:, 0]) - np.outer(np.sin(turns), corners[:, 1])
            y = np.outer(np.sin(turns), corners[:, 0]) + np.outer(np.cos(turns), corners[:, 1])
            may = np.ptp(y, axis=1) - 2 * radius * half <= highest_mm
            off = np.abs(y[may]).max(axis=1, initial=0.0)
            self._is_fine = _leaves(radius, off, half) <= STEP_MM
            if self._is_fine.all() or count >= MOST_ANGLES:
                break
            count = min(MOST_ANGLES, count + 1 + count // 6)
        self._turns = turns[may]
        ends = np.column_stack([-x[may].min(axis=1), x[may].max(axis=1)])
        self.reach = ends * math.cos(half) - off[:, None] * math.sin(half)

    def edges(self) -> list[Floats | None]:
        """Return the part's edges turned to the middle of each range; None if that is too wide."""
        found: list[Floats | None] = []
        for turn, is_fine in zip(self._turns, self._is_fine, strict=True):
            cosine, sine = math.cos(turn), math.sin(turn)
            matrix = np.array([[cosine, sine], [-sine, cosine]])
            found.append(edges_of([ring @ matrix for ring in self._rings]) if is_fine else None)
        return found


def _leaves(radius: float, off: Floats, half: float) -> Floats:
    """Return how far a line that leans by ``half`` leaves its place up to ``off`` (w,) away.

    On it x = x' cos + y' sin holds, x' and y' being the part's own; no x is over the radius.
    """
    if half >= math.pi / 4:
        return np.full(len(off), np.inf)
    return radius * (1 / math.cos(half) - 1) + off * math.tan(half)


def _covered(edges: Floats | None, cells: int) -> Floats:
    """Return the wood (2 cells,) that a turned part has all through each cell and those beside."""
    covered = np.zeros(2 * cells)
    if edges is None:
        return covered
    first = math.ceil(edges[:, 0].min() / STEP_MM)
    last = math.floor(edges[:, 2].max() / STEP_MM)
    if last - first < 3:
        return covered
    marks = STEP_MM * np.arange(first, last + 1)
    stops = np.unique(np.concatenate([marks, edges[:, 0], edges[:, 2]]))
    wood = np.asarray(cores(edges, marks, stops[(stops >= marks[0]) & (stops <= marks[-1])]))
    wood[wood[:, 0] >= wood[:, 1]] = np.inf, -np.inf
    low = np.maximum(np.maximum(wood[:-2, 0], wood[1:-1, 0]), wood[2:, 0])
    high = np.minimum(np.minimum(wood[:-2, 1], wood[1:-1, 1]), wood[2:, 1])
    covered[cells + first + 1 : cells + last - 1] = (high - low).clip(0.0)
    return covered


def _merged(lengths: Floats, reach: Floats) -> Chords:
    """Return ways to lie of which those that are almost alike have become one, the least of both.

    So a part that is the same from its other end or its other face counts once.
    """
    kept: list[int] = []
    for w in range(len(lengths)):
        for k in kept:
            apart = np.abs(lengths[w] - lengths[k]).max(), np.abs(reach[w] - reach[k]).max()
            if max(apart) <= ALIKE_MM:
                lengths[k] = np.minimum(lengths[k], lengths[w])
                reach[k] = np.minimum(reach[k], reach[w])
                break
        else:
            kept.append(w)
    return Chords(lengths[kept], reach[kept])
