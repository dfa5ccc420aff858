"""A lattice of points over an area, on which room for patterns is looked for.

A pattern covers every point that it comes near, so that none lies nearer to another than their gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon

from nesting.nest import Placement
from nesting.sheets.drawing import Point
from nesting.shop.pattern_subject import Pattern

GAP_MM = 4.0
"""Between patterns: scissors go between them."""

Mask = NDArray[np.bool_]

Masks = dict[tuple[int, float], tuple[NDArray[np.float32], NDArray[np.intp]]]
"""What patterns cover of a lattice of one cell, by number and angle, and the first point of it."""


def placed_at(pattern: Pattern, angle_deg: float, low: Point) -> Placement:
    """Return a pattern turned, with the lower left of its extent at a point."""
    turned = affinity.rotate(pattern.outline.shape, angle_deg, origin=(0, 0))
    x, y, _, _ = turned.bounds
    return Placement(pattern.needs[0], low[0] - x, low[1] - y, angle_deg)


@lru_cache(maxsize=4096)
def least_rectangle(shape: Polygon) -> tuple[float, float, float]:
    """Return direction, in degrees from -90 to 90, length and width of the least one around."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    x, y = sides[int(np.argmax(lengths))]
    angle = float(np.degrees(np.arctan2(y, x)))
    return (angle + 90.0) % 180.0 - 90.0, float(lengths.max()), float(lengths.min())


@dataclass
class Lattice:
    """What is taken of an area, point by point; the only changing object of the layout.

    ``joints`` are lines that a small pattern may not lie across.
    """

    area: Polygon
    cell: float
    joints: Sequence[tuple[Point, Point]] = ()
    masks: Masks = field(default_factory=dict)
    taken: Mask = field(init=False)
    crossed: Mask = field(init=False)

    def __post_init__(self) -> None:
        low_x, low_y, high_x, high_y = self.area.bounds
        self.low = np.array([low_x, low_y]) - self.reach - self.cell
        spans = np.array([high_x, high_y]) + self.reach + self.cell - self.low
        shape = tuple(int(n) for n in np.ceil(spans / self.cell) + 1)
        x, y = self._points((0, 0), shape)
        # What covers a point may come to the edge, since it is taken as grown by its reach; the
        # last point that it covers may lie as much as a cell within it.
        grown = self.area.buffer(self.reach - self.cell, join_style="mitre")
        self.taken = np.logical_not(shapely.contains_xy(grown, x, y))
        self.crossed = np.zeros(self.taken.shape, dtype=bool)
        for joint in self.joints:
            # A joint runs upright or level: a box around it has the points beside it.
            low, high = np.min(joint, axis=0), np.max(joint, axis=0)
            first = np.floor((low - self.low) / self.cell).astype(int).clip(0)
            last = np.ceil((high - self.low) / self.cell).astype(int) + 1
            self.crossed[first[0] : last[0], first[1] : last[1]] = True

    @property
    def reach(self) -> float:
        """How far from a pattern a point counts as covered by it."""
        return GAP_MM / 2 + 0.71 * self.cell

    def _points(
        self, start: tuple[int, int], shape: tuple[int, ...]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        xs, ys = (
            self.low[axis] + self.cell * (start[axis] + np.arange(shape[axis])) for axis in (0, 1)
        )
        x, y = np.meshgrid(xs, ys, indexing="ij")
        return x, y

    def _covered(self, shape: Polygon) -> tuple[Mask, tuple[int, int]]:
        """Return the points that a shape covers, and the number of the first of them."""
        grown = shape.buffer(self.reach, quad_segs=4)
        low_x, low_y, high_x, high_y = grown.bounds
        first = np.floor((np.array([low_x, low_y]) - self.low) / self.cell).astype(int)
        last = np.ceil((np.array([high_x, high_y]) - self.low) / self.cell).astype(int)
        start, counts = (int(first[0]), int(first[1])), tuple(int(n) for n in last - first + 1)
        shapely.prepare(grown)
        return shapely.contains_xy(grown, *self._points(start, counts)), start

    def take(self, shape: Polygon) -> None:
        """Mark a shape's place as taken."""
        mask, (i, j) = self._covered(shape)
        rows, columns = self.taken.shape
        low = max(0, -i), max(0, -j)
        high = min(mask.shape[0], rows - i), min(mask.shape[1], columns - j)
        here = slice(i + low[0], i + high[0]), slice(j + low[1], j + high[1])
        self.taken[here] |= mask[low[0] : high[0], low[1] : high[1]]

    def room_for(self, pattern: Pattern, *, is_small: bool) -> Placement | None:
        """Return where a pattern finds room, and take it; None if there is none.

        A small one is tried all ways round, a longer one with its length along the pages.
        """
        along, _, _ = least_rectangle(pattern.outline.shape)
        turns = (0.0, 90.0, 180.0, 270.0) if is_small else (0.0, 180.0, 90.0)
        for turn in turns:
            low = self.first(pattern, turn - along, is_small=is_small)
            if low is not None:
                placement = placed_at(pattern, turn - along, low)
                self.take(placement.polygon)
                return placement
        return None

    def first(self, pattern: Pattern, angle: float, *, is_small: bool) -> Point | None:
        """Return where the lower left of a turned pattern finds room, the leftmost place."""
        from scipy.signal import fftconvolve

        mask, start = self._mask(pattern, angle)
        blocked = self.taken | self.crossed if is_small else self.taken
        if any(m > b for m, b in zip(mask.shape, blocked.shape, strict=True)):
            return None
        if np.count_nonzero(mask) > blocked.size - np.count_nonzero(blocked):
            return None
        met = fftconvolve(blocked.astype(np.float32), mask[::-1, ::-1], mode="valid")
        places = np.argwhere(met < 0.5)
        if not len(places):
            return None
        # The leftmost, and of those the lowest.
        x, y = self.low + self.cell * (places[0] - start)
        return float(x), float(y)

    def _mask(self, pattern: Pattern, angle: float) -> tuple[NDArray[np.float32], NDArray[np.intp]]:
        """Return what a pattern covers with the corner of its extent on a point of the lattice."""
        key = pattern.number, angle
        if key not in self.masks:
            mask, (i, j) = self._covered(placed_at(pattern, angle, tuple(self.low)).polygon)
            self.masks[key] = mask.astype(np.float32), np.array([i, j])
        return self.masks[key]
