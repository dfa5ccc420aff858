"""What a part covers at least on lines across a board, however it is turned and wherever it lies.

Lines run across the board, a step apart. A part lies somewhere between them, at an angle within
its limit on slope of grain. Its length is cut into cells as wide as a step, so that wherever it
lies one line falls into each cell; of each cell the wood is known that the part has all through
it. A line leans over the part where the part leans, by a little that is added to the cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.possible import turnings_deg
from nesting.engine.runs import edges_of, rings_of
from nesting.engine.runs_numba import cores
from nesting.outline import Outline

STEP_MM = 2.5
"""Between lines. The ends of a part count a few steps too short: coarser lines give away more."""

ALIKE_MM = 0.3
"""Ways to lie that differ by no more than this are taken for one, the less of both."""

MOST_ANGLES = 120
"""Angles looked at for one face; a part that would want more is not told apart from its box."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Chords:
    """A part's least chords across the board in (w) ranges of angle that make up all allowed.

    Attributes
    ----------
    low, high
        (w, 2 k) mm, from and to, the longest stretch of wood all through each cell, low above
        high where there is none; k cells on either side of the part's middle.
    bottom, top
        (w, 2 k) mm, the farthest that the part reaches in each cell.
    left, right
        (w,) mm, how far the part reaches at least from its middle.
    """

    low: Floats
    high: Floats
    bottom: Floats
    top: Floats
    left: Floats
    right: Floats

    def __len__(self) -> int:
        return len(self.low)

    @property
    def lengths(self) -> Floats:
        """The wood in each cell, (w, 2 k) mm."""
        return (self.high - self.low).clip(0.0)

    def bent(self, steps: int) -> tuple[Floats, Floats]:
        """Return sizes and bends (w, 2 k), mm, of the part over so many cells to either side.

        Each is the least of what the part measures in the cell and, in the mean, in the two
        cells at the ends; and how far its edges, in the mean, lie off the straight line there.
        0 where the part does not reach as far all the way.
        """
        if steps == 0:
            return self.lengths, np.zeros_like(self.low)
        middle = slice(steps, -steps)
        size, bend = np.zeros_like(self.low), np.zeros_like(self.low)
        if self.low.shape[1] <= 2 * steps:
            return size, bend
        long = self.lengths
        is_through = _all_along(self._links, steps)
        mean = (long[:, : -2 * steps] + long[:, 2 * steps :]) / 2
        size[:, middle] = np.where(is_through, np.minimum(long[:, middle], mean), 0.0)
        off = _off_line(self.bottom, self.low, steps) + _off_line(self.high, self.top, steps)
        bend[:, middle] = np.where(is_through, off / 2, 0.0)
        return size, bend

    @property
    def _links(self) -> NDArray[np.bool_]:
        """Whether the wood of a cell and that of the next are one, (w, 2 k - 1)."""
        low = np.maximum(self.low[:, :-1], self.low[:, 1:])
        return np.asarray(low < np.minimum(self.high[:, :-1], self.high[:, 1:]))


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
    found = [np.empty((0, 4, 2 * cells))]
    reaches = [np.empty((0, 2))]
    for is_over, low_deg, high_deg in turnings_deg(outline, grain_deg):
        flip = np.array([1.0, -1.0 if is_over else 1.0])
        rings = [(ring - (middle.x, middle.y)) * flip for ring in rings_of(outline.shape)]
        turns = _Turns(rings, radius, math.radians(low_deg), math.radians(high_deg), highest_mm)
        rows = np.array([_cells(edges, cells) for edges in turns.edges()]).reshape(-1, 4, 2 * cells)
        found += [rows, -rows[:, [1, 0, 3, 2], ::-1]]
        reaches += [turns.reach, turns.reach[:, ::-1]]
    rows, reach = _merged(np.concatenate(found), np.concatenate(reaches))
    return Chords(*(rows[:, i] for i in range(4)), reach[:, 0], reach[:, 1])


def _merged(rows: Floats, reach: Floats) -> tuple[Floats, Floats]:
    """Return ways to lie (w, 4, c) of which those that are almost alike have become one.

    It has the least of both: a part that is the same from its other end or face counts once.
    """
    lengths = (rows[:, 1] - rows[:, 0]).clip(0.0)
    kept: list[int] = []
    for w in range(len(rows)):
        for k in kept:
            apart = max(np.abs(lengths[w] - lengths[k]).max(), np.abs(reach[w] - reach[k]).max())
            if apart <= ALIKE_MM:
                is_less = lengths[w] < lengths[k]
                lengths[k] = np.minimum(lengths[k], lengths[w])
                reach[k] = np.minimum(reach[k], reach[w])
                rows[k][:, is_less] = rows[w][:, is_less]
                break
        else:
            kept.append(w)
    return rows[kept], reach[kept]


class _Turns:
    """Ranges of angle narrow enough that no line leaves its cell by more than a step."""

    def __init__(
        self, rings: list[Floats], radius: float, low: float, high: float, highest_mm: float
    ) -> None:
        self._rings = rings
        hull = shapely.convex_hull(Polygon(rings[0]))
        assert isinstance(hull, Polygon)
        corners = np.asarray(hull.exterior.coords)
        for count in _counts():
            half = (high - low) / count / 2
            turns = low + half * (2 * np.arange(count) + 1)
            x = np.outer(np.cos(turns), corners[:, 0]) - np.outer(np.sin(turns), corners[:, 1])
            y = np.outer(np.sin(turns), corners[:, 0]) + np.outer(np.cos(turns), corners[:, 1])
            may = np.ptp(y, axis=1) - 2 * radius * half <= highest_mm
            off = np.abs(y).max(axis=1)
            leaves = radius * (1 / math.cos(half) - 1) + off * math.tan(half)
            if (leaves[may] <= STEP_MM).all() or count >= MOST_ANGLES:
                break
        self.turns = turns[may]
        less = off[may] * math.sin(half)
        ends = np.column_stack([-x[may].min(axis=1), x[may].max(axis=1)])
        self.reach = ends * math.cos(half) - less[:, None]
        self._is_fine = leaves[may] <= STEP_MM

    def edges(self) -> list[Floats | None]:
        """Return the part's edges turned to the middle of each range; None if that is too wide."""
        found: list[Floats | None] = []
        for turn, is_fine in zip(self.turns, self._is_fine, strict=True):
            cosine, sine = math.cos(turn), math.sin(turn)
            matrix = np.array([[cosine, sine], [-sine, cosine]])
            found.append(edges_of([ring @ matrix for ring in self._rings]) if is_fine else None)
        return found


def _counts() -> list[int]:
    """Return how many ranges of angle are tried, rising."""
    counts = [1]
    while counts[-1] < MOST_ANGLES:
        counts.append(min(MOST_ANGLES, counts[-1] + 1 + counts[-1] // 6))
    return counts


def _cells(edges: Floats | None, cells: int) -> Floats:
    """Return low, high, bottom and top (4, 2 cells) of a turned part in each cell.

    A cell's neighbours count as part of it, for lines that leave their cell.
    """
    found = np.tile(np.array([[np.inf], [-np.inf], [-np.inf], [np.inf]]), 2 * cells)
    if edges is None:
        return found
    first = math.ceil(edges[:, 0].min() / STEP_MM)
    last = math.floor(edges[:, 2].max() / STEP_MM)
    if last - first < 3:
        return found
    marks = STEP_MM * np.arange(first, last + 1)
    stops = np.unique(np.concatenate([marks, edges[:, 0], edges[:, 2]]))
    wood = np.asarray(cores(edges, marks, stops[(stops >= marks[0]) & (stops <= marks[-1])]))
    wood[wood[:, 0] >= wood[:, 1]] = np.inf, -np.inf
    bottom, top = _reached(edges, marks)
    at = slice(cells + first + 1, cells + last - 1)
    found[0, at] = _of_three(wood[:, 0], np.maximum)
    found[1, at] = _of_three(wood[:, 1], np.minimum)
    found[2, at] = _of_three(bottom, np.minimum)
    found[3, at] = _of_three(top, np.maximum)
    found[:2, found[0] >= found[1]] = np.array([[np.inf], [-np.inf]])
    return found


def _reached(edges: Floats, marks: Floats) -> tuple[Floats, Floats]:
    """Return the lowest and highest (k,) that edges come to between each two marks."""
    low, high = np.full(len(marks) - 1, np.inf), np.full(len(marks) - 1, -np.inf)
    x0, y0, x1, y1 = edges.T
    begin = np.clip(np.floor((x0 - marks[0]) / STEP_MM).astype(np.int64), 0, len(low) - 1)
    end = np.clip(np.floor((x1 - marks[0]) / STEP_MM).astype(np.int64), 0, len(low) - 1)
    counts = end - begin + 1
    edge = np.repeat(np.arange(len(edges)), counts)
    cell = begin[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    slope = ((y1 - y0) / (x1 - x0))[edge]
    for x in (marks[cell], marks[cell + 1]):
        y = y0[edge] + slope * (np.clip(x, x0[edge], x1[edge]) - x0[edge])
        np.minimum.at(low, cell, y)
        np.maximum.at(high, cell, y)
    return low, high


def _of_three(values: Floats, choose: np.ufunc) -> Floats:
    return np.asarray(choose(choose(values[:-2], values[1:-1]), values[2:]))


def _off_line(least: Floats, most: Floats, steps: int) -> Floats:
    """Return how far an edge lies off the line through it ``steps`` cells to either side.

    The edge lies between ``least`` and ``most``; the distance is not less than what is returned.
    """
    ends = slice(None, -2 * steps), slice(2 * steps, None), slice(steps, -steps)
    with np.errstate(invalid="ignore"):
        above = least[:, ends[2]] - (most[:, ends[0]] + most[:, ends[1]]) / 2
        below = (least[:, ends[0]] + least[:, ends[1]]) / 2 - most[:, ends[2]]
    return np.fmax(np.fmax(above, below), 0.0)


def _all_along(links: NDArray[np.bool_], steps: int) -> NDArray[np.bool_]:
    """Return whether all links from so many cells before to so many after a cell are there."""
    sums = np.pad(np.cumsum(links, axis=1), ((0, 0), (1, 0)))
    return np.asarray(sums[:, 2 * steps :] - sums[:, : -2 * steps] == 2 * steps)
