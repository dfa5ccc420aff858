"""How well a board is used behind the front that parts form while it fills from one end.

Lines run along the board, a step apart across it. On each the front is where the farthest part
ends; free wood behind it that no part covers is mostly lost. A rough measure: it steers a
search, and nothing rests on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from nesting.engine.no_fit import polygons_of
from nesting.engine.runs import edges_of, rings_of
from nesting.engine.runs_numba import crossings
from nesting.engine.turned import Turned

Floats = NDArray[np.float64]

LINES = 96
"""Lines along a board."""


@dataclass(frozen=True, eq=False)
class Front:
    """Where parts end on each line (m,), and how much of it they cover with their gaps (m,)."""

    ends: Floats
    covered: Floats


@dataclass(frozen=True, eq=False)
class _Profile:
    """A figure on lines from its own lowest: number of the first, ends (k,), covered (k,)."""

    first: int
    ends: Floats
    covered: Floats


class FrontLines:
    """The lines of one board, filled from its left end (side 1) or its right end (-1)."""

    def __init__(self, free: BaseGeometry, side: int, gap_mm: float) -> None:
        self._side, self._gap = side, gap_mm
        wood = affinity.scale(free, side, 1, origin=(0, 0))
        self._low_x, self._low_y, high_x, high_y = wood.bounds
        self._step = (high_y - self._low_y) / LINES
        self._cell = max((high_x - self._low_x) / 1024, 1e-9)
        self._before = self._free_before(wood)
        self._profiles: dict[int, _Profile] = {}

    @property
    def empty(self) -> Front:
        """The front of an empty board."""
        return Front(np.full(LINES, self._low_x), np.zeros(LINES))

    def _free_before(self, wood: BaseGeometry) -> Floats:
        """Return the free wood on each line before every cell and after the last (m, 1025)."""
        x = self._low_x + self._cell * (np.arange(1024) + 0.5)
        y = self._low_y + self._step * (np.arange(LINES) + 0.5)
        shapely.prepare(wood)
        is_free = shapely.contains_xy(wood, *np.meshgrid(x, y))
        return np.asarray(np.pad(np.cumsum(is_free, axis=1), ((0, 0), (1, 0))) * self._cell)

    def with_part(self, front: Front, figure: Turned, x_mm: float, y_mm: float) -> Front:
        """Return the front with one more part."""
        profile = self._profile(figure)
        at = profile.first + round((y_mm - self._low_y) / self._step)
        low, high = max(0, -at), min(len(profile.ends), LINES - at)
        ends, covered = front.ends.copy(), front.covered.copy()
        if low < high:
            rows = slice(at + low, at + high)
            far = profile.ends[low:high] + self._side * x_mm
            ends[rows] = np.maximum(ends[rows], far)
            covered[rows] += profile.covered[low:high]
        return Front(ends, covered)

    def lost_mm2(self, front: Front) -> float:
        """Return the area of free wood behind a front that no part covers."""
        cells = np.clip((front.ends - self._low_x) / self._cell, 0, 1024).astype(np.int64)
        behind = self._before[np.arange(LINES), cells]
        return float((behind - front.covered).sum() * self._step)

    def _profile(self, figure: Turned) -> _Profile:
        if figure.number not in self._profiles:
            self._profiles[figure.number] = self._profiled(figure)
        return self._profiles[figure.number]

    def _profiled(self, figure: Turned) -> _Profile:
        first = round(figure.box[1] / self._step)
        count = max(1, round(figure.box[3] / self._step) - first)
        rings = [r[:, ::-1] for part in polygons_of(figure.shape) for r in rings_of(part)]
        begins, x = crossings(edges_of(rings), self._step * (first + 0.5), self._step, count)
        ends, covered = np.full(count, -np.inf), np.zeros(count)
        for line in range(count):
            cuts = x[begins[line] : begins[line + 1]]
            if len(cuts):
                ends[line] = cuts[-1] if self._side > 0 else -cuts[0]
                covered[line] = (cuts[1::2] - cuts[::2]).sum() + self._gap
        return _Profile(first, ends, covered)
