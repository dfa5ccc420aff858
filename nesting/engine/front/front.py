"""A board on lines along it, and figures on such lines: what filling a board from one end works on.

Lines run along the board, a step apart across it. On each the front is where the farthest part
ends; free wood behind it that no part covers is mostly lost. What lies between two lines is not
seen: nothing rests on this, each part finds its true place afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.engine.front.front_numba import Lines, Looks
from nesting.engine.wood.runs import edges_of, rings_of
from nesting.engine.wood.runs_numba import crossings
from nesting.flat_geometry.overlay import polygons_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_LINES = 256
"""Lines along a board at most, and more than half as many: their step is a power of two, mm, so
that what is known of a figure serves for other boards."""

RISING = slice(None, None, -1)
"""Turned end for end, so that what was negated rises again."""


@dataclass(frozen=True, eq=False)
class Stretches:
    """Where a shape meets lines: number of the first, and first (k + 1) and x as crossings."""

    line: int
    first: Ints
    x: Floats

    @property
    def nbytes(self) -> int:
        """Bytes held, near enough."""
        return self.first.nbytes + self.x.nbytes

    def mirrored(self) -> Stretches:
        """Return the stretches of the shape turned end for end, x to -x."""
        lines = [-self.x[a:b][RISING] for a, b in zip(self.first[:-1], self.first[1:], strict=True)]
        return Stretches(self.line, self.first, np.concatenate([*lines, np.empty(0)]))


@dataclass(frozen=True, eq=False)
class Look:
    """One figure on lines: itself, and with the gap around it."""

    own: Stretches
    grown: Stretches

    @property
    def nbytes(self) -> int:
        """Bytes held, near enough."""
        return self.own.nbytes + self.grown.nbytes

    def mirrored(self) -> Look:
        """Return the look of the figure turned end for end."""
        return Look(self.own.mirrored(), self.grown.mirrored())


def step_for(width_mm: float) -> float:
    """Return the distance of lines for a board so wide, mm."""
    return float(2.0 ** math.ceil(math.log2(width_mm / MOST_LINES)))


def look_of(shape: BaseGeometry, grown: BaseGeometry, step: float) -> Look:
    """Return a figure on lines, the first of which is half a step above its lowest."""
    low = shape.bounds[1]
    return Look(_stretches(shape, low, step), _stretches(grown, low, step))


def _stretches(shape: BaseGeometry, low_y: float, step: float) -> Stretches:
    _, bottom, _, top = shape.bounds
    line = round((bottom - low_y) / step)
    count = max(1, round((top - low_y) / step) - line)
    return Stretches(line, *_crossed(shape, low_y + step * (line + 0.5), step, count))


def _crossed(shape: BaseGeometry, begin: float, step: float, count: int) -> tuple[Ints, Floats]:
    rings = [ring[:, ::-1] for polygon in polygons_of(shape) for ring in rings_of(polygon)]
    edges = edges_of(rings) if rings else np.empty((0, 4))
    first, x = crossings(edges, begin, step, count)
    return first, x


def lines_of(free: Sequence[BaseGeometry], side: int, step: float) -> Lines:
    """Return a board on lines as seen from its left end (side 1) or its right end (-1).

    ``free`` is where parts may lie that tolerate as much as each kind does, not empty for the
    first kind.
    """
    box = free[0].bounds
    count = max(1, round((box[3] - box[1]) / step))
    found = [Stretches(0, *_crossed(wood, box[1] + step / 2, step, count)) for wood in free]
    found = found if side > 0 else [one.mirrored() for one in found]
    starts = np.cumsum([0] + [len(one.x) for one in found])
    first = np.array([one.first + start for one, start in zip(found, starts, strict=False)])
    low = box[0] if side > 0 else -box[2]
    return Lines(first, np.concatenate([one.x for one in found]), low, step)


def free_mm2(lines: Lines) -> float:
    """Return the free wood on a board's lines for parts of the first kind, mm2."""
    x = lines.x[lines.first[0, 0] : lines.first[0, -1]]
    return float((x[1::2] - x[::2]).sum() * lines.step)


def looks_of(
    looks: Sequence[Look], needs: Sequence[int], kinds: Sequence[int], areas: Sequence[float]
) -> Looks:
    """Pack figures with the number of each one's need and kind of wood, and its area, mm2."""
    own, grown = [look.own for look in looks], [look.grown for look in looks]
    lines, first, x = _packed(own)
    grown_lines, ends, covered = _packed_ends(grown)
    apart = [g.line - o.line for o, g in zip(own, grown, strict=True)]
    begins = np.append(x, np.inf)[np.where(np.diff(first) > 0, first[:-1], len(x))]
    return Looks(
        np.array(needs), np.array(kinds), np.array(areas, np.float64), lines, begins, first, x,
        np.array(apart), grown_lines, ends, covered,
    )  # fmt: skip


def _packed(found: Sequence[Stretches]) -> tuple[Ints, Ints, Floats]:
    """Return where the lines of each begin (f + 1), where stretches of each line do, and these."""
    starts = np.cumsum([0] + [len(one.x) for one in found])
    firsts = [one.first[:-1] + start for one, start in zip(found, starts, strict=False)]
    lines = np.cumsum([0] + [len(first) for first in firsts])
    x = np.concatenate([one.x for one in found])
    return lines, np.concatenate([*firsts, starts[-1:]]), x


def _packed_ends(found: Sequence[Stretches]) -> tuple[Ints, Floats, Floats]:
    """Return where the lines of each begin (f + 1), where each line ends and what it covers."""
    lines, first, x = _packed(found)
    begin, end = first[:-1], first[1:]
    ends = np.append(x, -np.inf)[np.where(end > begin, end - 1, len(x))]
    summed = np.concatenate([[0.0], np.cumsum(x[1::2] - x[::2])])
    return lines, ends, summed[end // 2] - summed[begin // 2]
