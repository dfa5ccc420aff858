"""What a part takes of bands along a board at the least: a high one crosses the middle anyhow.

A part as high as most of the board's width has little choice where it lies across, so most of
its area falls into the middle, where several such parts compete. Areas are those of parts grown
by half the gap to their neighbours: these never overlap.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from nesting.engine.wood.extents import least_extents, turnings_deg
from nesting.engine.wood.room_bounds import ARC_STEPS
from nesting.engine.wood.runs import rings_of
from nesting.outline import Outline
from nesting.rules import TOUCH_MM

OFF_MM = 1.0
"""Ranges of angle are so narrow that no point of a part moves by more from the middle of one."""

LEVEL_MM = 1.0
"""Between levels up to which areas are measured, and between heights at which a part may lie."""

MARGINS = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4)
"""Bands leave so much of the width on either side, as a share of it."""

HIGH, SLIM = 0.6, 0.45
"""Bands are looked at where a part is higher than this share of the width, and its chords, in
the mean, are under that share: stouter ones are seen not to lie side by side without bands."""

LOW = 0.45
"""Parts lower than this share of the width take nothing of a band: they lie beside it."""

ROUGH_MM = 0.3
"""Parts are measured with fewer corners, so much smaller that they are nowhere too large."""

Floats = NDArray[np.float64]


class Heights:
    """A part's area below each level, in the ways that it may lie on straight grain.

    Attributes
    ----------
    lowest, chord
        Its least height and its chord in the mean, mm.
    """

    def __init__(
        self, outline: Outline, grain_deg: float, gap_mm: float, highest_mm: float
    ) -> None:
        self._outline, self._grain_deg, self._highest_mm = outline, grain_deg, highest_mm
        self._half_gap = max(0.0, gap_mm - TOUCH_MM) / 2
        self._radius = float(shapely.minimum_bounding_radius(outline.shape)) + self._half_gap
        self.lowest = least_extents(outline, grain_deg)[1]
        self.chord = outline.area_mm2 / (2 * self._radius)

    @cached_property
    def _ways(self) -> list[tuple[float, float, float, Floats]]:
        """Lowest and highest point of the part, and its area below levels from a bottom on."""
        shape: BaseGeometry = self._outline.shape
        if self._half_gap > ROUGH_MM:
            shape = shape.simplify(ROUGH_MM).buffer(self._half_gap - ROUGH_MM, quad_segs=2)
        assert isinstance(shape, Polygon)
        centre = shapely.minimum_bounding_circle(self._outline.shape).centroid
        middle = np.array([centre.x, centre.y])
        bare = np.asarray(shapely.convex_hull(self._outline.shape).boundary.coords) - middle
        rings = [ring - middle for ring in rings_of(orient(shape))]
        found = []
        for is_over, low_deg, high_deg in turnings_deg(self._outline, self._grain_deg):
            flip = np.array([1.0, -1.0 if is_over else 1.0])
            for turn in self._turns(math.radians(low_deg), math.radians(high_deg)):
                y = (bare * flip) @ _turn(turn)[:, 1]
                if np.ptp(y) - 2 * OFF_MM <= self._highest_mm:
                    edges: list[Floats] = [(ring * flip) @ _turn(turn) for ring in rings]
                    found += _both_ways(edges, float(y.min()), float(y.max()))
        return found

    def _turns(self, low: float, high: float) -> Floats:
        """Return the middles of ranges of angle in which no point moves by more than OFF_MM."""
        count = max(1, math.ceil((high - low) / 2 * self._radius / OFF_MM))
        return np.asarray(low + (high - low) / count * (np.arange(count) + 0.5))

    def least(self, low: float, high: float, bands: Floats) -> Floats:
        """Return the least area, mm2, in bands (b, 2), of a part that lies from low to high."""
        least = np.full(len(bands), np.inf)
        for part_low, part_high, bottom, areas in self._ways:
            begin, end = low - part_low - OFF_MM, high - part_high + OFF_MM
            if begin > end:
                continue
            heights = np.arange(begin, end + LEVEL_MM, LEVEL_MM)[:, None]
            off = OFF_MM + LEVEL_MM
            upper = np.floor((bands[:, 1] - heights - off - bottom) / LEVEL_MM).astype(np.int64)
            lower = np.ceil((bands[:, 0] - heights + off - bottom) / LEVEL_MM).astype(np.int64)
            last = len(areas) - 1
            inside = areas[upper.clip(0, last)] - areas[lower.clip(0, last)]
            least = np.minimum(least, inside.min(axis=0))
        return np.where(np.isfinite(least), least, 0.0).clip(0.0)


def shares_of_bands(parts: Sequence[Heights], region: BaseGeometry, gap_mm: float) -> Floats:
    """Return rows (r, n) of what each part takes of bands of a free region at the least."""
    _, low, _, high = region.bounds
    width = high - low
    is_high = [
        HIGH * width < part.lowest <= width + 2 * OFF_MM and part.chord < SLIM * width
        for part in parts
    ]
    if not any(is_high):
        return np.empty((0, len(parts)))
    bands = np.array([[low + margin * width, high - margin * width] for margin in MARGINS])
    grow = max(0.0, gap_mm / 2) / math.cos(math.pi / 4 / ARC_STEPS)
    room = region.buffer(grow, quad_segs=ARC_STEPS)
    far = room.bounds
    rooms = [room.intersection(box(far[0], at, far[2], to)).area for at, to in bands]
    nothing = np.zeros(len(bands))
    least = np.array(
        [part.least(low, high, bands) if part.lowest > LOW * width else nothing for part in parts]
    )
    return np.asarray((least / np.maximum(np.array(rooms), 1.0)).T)


def _both_ways(
    rings: Sequence[Floats], low: float, high: float
) -> list[tuple[float, float, float, Floats]]:
    """Return a way to lie, and the same half a turn round."""
    bottom = math.floor(min(float(ring[:, 1].min()) for ring in rings)) - 1.0
    top = max(float(ring[:, 1].max()) for ring in rings)
    levels = bottom + LEVEL_MM * np.arange(math.ceil((top - bottom) / LEVEL_MM) + 1)
    areas = np.abs(_below(rings, levels))
    turned = areas[-1] - areas[::-1]
    return [(low, high, bottom, areas), (-high, -low, -float(levels[-1]), turned)]


def _turn(angle: float) -> Floats:
    cosine, sine = math.cos(angle), math.sin(angle)
    return np.array([[cosine, sine], [-sine, cosine]], np.float64)


def _below(rings: Sequence[Floats], levels: NDArray[Any]) -> Floats:
    """Return the area, (l,) mm2, of a polygon below each level; negative if it runs clockwise."""
    areas = np.zeros(len(levels))
    for ring in rings:
        (x0, y0), (x1, y1) = ring[:-1].T, ring[1:].T
        low, high = np.minimum(y0, y1), np.maximum(y0, y1)
        left, right = np.where(y0 <= y1, (x0, x1), (x1, x0))
        up = levels[:, None].clip(low, high) - low
        at = left + (right - left) * up / np.where(high > low, high - low, 1.0)
        areas += ((left + at) / 2 * up * np.sign(y1 - y0)).sum(axis=1)
    return areas
