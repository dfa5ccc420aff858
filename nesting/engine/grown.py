"""What share of a grown crook each part takes at the least, near the bend of its grain.

A part whose grain must follow the board's can only lie astride the bend. All places, a little
apart, at all angles, a little apart, are looked through: where the grain cannot be right, or a
corner comes to lie off the free wood, even with what lies between two places allowed for, no part
lies. From the rest follows how much of each part lies within circles about the bend, at the least.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import signal
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.possible import ARC_STEPS, SLACK_DEG
from nesting.engine.shares import OVER
from nesting.grain import GrainPath
from nesting.outline import Outline
from nesting.units import slope_angle

APART_MM = 6.0
"""Between places."""

TURN_DEG = 3.0
"""Between angles."""

RASTER_MM = 4.0
"""Parts are measured in squares of this size."""

OFFSETS_MM = (-40.0, 0.0, 40.0, 80.0, 120.0)
"""Of circles from the middle of the grain path, toward its hollow side."""

RADII_MM = (80.0, 120.0, 160.0, 200.0, 250.0, 300.0)
"""Of circles."""

CORNERS_MM = 2.0
"""Corners of a part that stand out less are not looked at."""

RADIUS_STEP_MM = 5.0
"""Radii are rounded down to this, so that tables of them serve again."""

ROUNDING_MM2 = 1e-3
"""Given away on the safe side against the rounding of a convolution."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Places:
    """Where a part's middle may be (p, 2) if it lies at one of a range of angles, one face up."""

    is_over: bool
    turn: float
    middles: Floats


class Crook:
    """A board of grown grain, its places numbered."""

    def __init__(self, region: BaseGeometry, grain: GrainPath) -> None:
        self._region, self._grain = region, grain
        low_x, low_y, high_x, high_y = region.bounds
        self._low = np.array([low_x, low_y])
        self._shape = tuple(int(size / APART_MM) + 2 for size in (high_x - low_x, high_y - low_y))
        at = np.indices(self._shape).reshape(2, -1).T
        self._points = self._low + APART_MM * at
        self._away = _distances(self._points, grain)
        self._off = shapely.distance(region, shapely.points(self._points)).reshape(self._shape)

    def places(self, outline: Outline) -> Iterator[Places]:
        """Yield all places of a part, none left out."""
        figure = _Figure(outline)
        half = math.radians(TURN_DEG / 2)
        slack = APART_MM * math.sqrt(2) + figure.radius * half
        near = self._away <= self._away.min(axis=1)[:, None] + 2 * slack
        bits = 1 << np.arange(near.shape[1])
        may = (near @ bits).reshape(self._shape)
        is_wood = self._off <= slack
        board = np.array(self._grain.angles_deg)
        limit = slope_angle(outline.slope_of_grain) + SLACK_DEG + TURN_DEG / 2
        for is_over in (False, True) if outline.may_turn_over else (False,):
            flip = np.array([1.0, -1.0 if is_over else 1.0])
            own = -outline.grain.sample_angles if is_over else outline.grain.sample_angles
            for turn_deg in np.arange(TURN_DEG / 2, 360.0, TURN_DEG):
                apart = np.abs((own[:, None] + turn_deg - board + 90.0) % 180.0 - 90.0)
                suits = (apart <= limit) @ bits
                if (suits == 0).any():
                    continue
                turn = math.radians(turn_deg)
                fits = np.ones(self._shape, np.bool_)
                for point, suit in zip(_turned(figure.samples * flip, turn), suits, strict=True):
                    _keep(fits, (may & suit) > 0, point)
                for corner in _turned(figure.corners * flip, turn):
                    _keep(fits, is_wood, corner)
                if fits.any():
                    yield Places(is_over, turn, self._points[fits.reshape(-1)])

    def circles(self, gap_mm: float) -> list[tuple[Floats, float, float]]:
        """Return circles: centre, radius and the room in them, mm2, for parts and their gaps."""
        grow = max(0.0, gap_mm / 2) / math.cos(math.pi / 4 / ARC_STEPS)
        room = self._region.buffer(grow, quad_segs=ARC_STEPS)
        points = np.asarray(self._grain.points)
        line = shapely.LineString(points)
        middle = np.asarray(line.interpolate(0.5, normalized=True).coords[0])
        hollow = (points[0] + points[-1]) / 2 - middle
        hollow /= max(1e-9, float(np.hypot(*hollow)))
        found = []
        for offset in OFFSETS_MM:
            centre = middle + offset * hollow
            for radius in RADII_MM:
                outside = radius / math.cos(math.pi / 4 / ARC_STEPS)
                circle = Point(*centre).buffer(outside, quad_segs=ARC_STEPS)
                found.append((centre, radius, float(room.intersection(circle).area)))
        return found


class _Figure:
    """An outline about the middle of the least circle around it."""

    def __init__(self, outline: Outline) -> None:
        middle = shapely.minimum_bounding_circle(outline.shape).centroid
        at = np.array([middle.x, middle.y])
        self.middle = at
        self.samples = outline.grain.samples() - at
        simple = outline.shape.simplify(CORNERS_MM)
        assert isinstance(simple, Polygon)
        self.corners = np.asarray(simple.exterior.coords)[:-1] - at
        self.radius = float(np.hypot(*np.vstack([self.corners, self.samples]).T).max())


class Near:
    """How much of a part, grown by half the gap, lies in a circle about any point near it."""

    def __init__(self, outline: Outline, grown: Polygon) -> None:
        figure = _Figure(outline)
        self._half = math.ceil((figure.radius + RADII_MM[-1]) / RASTER_MM) + 2
        moved = shapely.transform(grown, lambda points: points - figure.middle)
        assert isinstance(moved, Polygon)
        self._areas = _rastered(moved, self._half)
        self._tables: dict[float, Floats] = {}

    def least(self, where: Floats, radius: float) -> float:
        """Return the least area, mm2, in a circle about any of the points (p, 2)."""
        cells = np.floor(where / RASTER_MM).astype(np.int64) + self._half
        if radius <= 0 or (cells < 0).any() or (cells >= 2 * self._half).any():
            return 0.0
        if radius not in self._tables:
            count = math.ceil(radius / RASTER_MM)
            away = RASTER_MM * np.hypot(*np.mgrid[-count : count + 1, -count : count + 1])
            disc = (away <= radius - RASTER_MM * math.sqrt(2)).astype(np.float64)
            self._tables[radius] = signal.fftconvolve(self._areas, disc, mode="same")
        return max(0.0, float(self._tables[radius][cells[:, 0], cells[:, 1]].min()) - ROUNDING_MM2)


def shares_of_grown(
    outlines: Sequence[Outline], nears: Sequence[Near], crook: Crook, gap_mm: float
) -> Floats:
    """Return rows (r, n) of what each part takes of a crook at the least."""
    circles = crook.circles(gap_mm)
    least = np.zeros((len(circles), len(outlines)))
    half = math.radians(TURN_DEG / 2)
    for n, (outline, near) in enumerate(zip(outlines, nears, strict=True)):
        found = list(crook.places(outline))
        for c, (centre, radius, _) in enumerate(circles):
            areas = [np.inf]
            for places in found:
                apart = centre - places.middles
                slack = APART_MM * math.sqrt(0.5) + half * float(np.hypot(*apart.T).max())
                own = _turned(apart, -places.turn) * (1.0, -1.0 if places.is_over else 1.0)
                rough = RADIUS_STEP_MM * math.floor((radius - slack) / RADIUS_STEP_MM)
                areas.append(near.least(own, rough))
            least[c, n] = min(areas)
    rooms = np.array([room for _, _, room in circles])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(least > 0, np.minimum(OVER, least / rooms[:, None]), 0.0)


def _turned(points: Floats, turn: float) -> Floats:
    cosine, sine = math.cos(turn), math.sin(turn)
    return points @ np.array([[cosine, sine], [-sine, cosine]])


def _keep(fits: NDArray[np.bool_], may: NDArray[np.bool_], point: Floats) -> None:
    """Keep of the places those from which a point, so far from the middle, comes where it may."""
    dx, dy = (int(step) for step in np.rint(point / APART_MM))
    wide, high = fits.shape
    moved = np.zeros_like(fits)
    to_x, to_y = (slice(max(0, -d), min(size, size - d)) for d, size in ((dx, wide), (dy, high)))
    from_x, from_y = (
        slice(max(0, d), min(size, size + d)) for d, size in ((dx, wide), (dy, high))
    )
    moved[to_x, to_y] = may[from_x, from_y]
    fits &= moved


def _distances(points: Floats, grain: GrainPath) -> Floats:
    """Return how far points (p, 2) lie from each segment of a path, (p, s)."""
    ends = np.asarray(grain.points)
    starts, spans = ends[:-1], np.diff(ends, axis=0)
    away = points[:, None, :] - starts
    along = ((away * spans).sum(axis=2) / (spans**2).sum(axis=1)).clip(0.0, 1.0)
    off = away - along[:, :, None] * spans
    return np.asarray(np.hypot(off[:, :, 0], off[:, :, 1]))


def _rastered(shape: Polygon, half: int) -> Floats:
    """Return the area of a shape in squares, (2 half, 2 half), about the origin."""
    low = RASTER_MM * np.arange(-half, half)
    x, y = (at.reshape(-1) for at in np.meshgrid(low, low, indexing="ij"))
    squares = shapely.box(x, y, x + RASTER_MM, y + RASTER_MM)
    shapely.prepare(shape)
    areas = np.where(shapely.contains(shape, squares), RASTER_MM**2, 0.0)
    edge = np.flatnonzero((areas == 0) & shapely.intersects(shape, squares))
    areas[edge] = shapely.area(shapely.intersection(squares[edge], shape))
    return areas.reshape(2 * half, 2 * half)
