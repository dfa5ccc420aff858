"""Where parts may lie on a board of grown grain, as few small ranges of places and angles.

A grown knee follows the grain only near the crook, so little is left of all places and angles.
They are cut into boxes, and boxes that hold no place where the part could lie are dropped; the
others are halved each way, and so on. What a part covers from everywhere in a box is known: the
points that lie deeper in it than it moves. Every rounding goes the same way, so that no place
where a part may lie is dropped, and no point is called covered that is not.

Named for where a boat lies: room to swing, within limits. That boxes are halved until they can
be dropped is branch and bound; Lawler, Wood 1966, Branch-and-bound methods: a survey. From memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.wood.berths_numba import (
    ANGLE,
    HALF_ANGLE,
    HALF_SIDE,
    covered,
    may_fit,
    may_lie,
)
from nesting.engine.wood.extents import SLACK_DEG
from nesting.grain import GrainPath
from nesting.outline import Outline
from nesting.rules import TOUCH_MM
from nesting.run_out import WAY, spread
from nesting.units import slope_angle

FIRST_MM, FIRST_DEG = 24.0, 6.0
"""Half the first boxes' sides, and half their range of angles."""

HALVINGS = 2
"""Of all boxes, to begin with: 6 mm and 1.5 degrees either way."""

MOST_FIRST = 10_000
"""Boxes of one face of a part to begin with: they are not halved where more would come of it."""

BOARD_MM, PART_MM = 1.0, 0.5
"""Sides of the cells in which distances on boards and depths in parts are kept."""

CELL = math.sqrt(2.0)
"""Cells tell distances to this many sides, rounded both at the point and at what it is far from."""

ROUNDING_RAD = 1e-7
"""Angles are compared to this."""

RIM_MM = 15.0
"""Between the points of a part's rim that have to lie in free wood."""

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Cells:
    """A figure for each cell of a grid: from (x, y) mm on, cells of one side, rows from below."""

    x_mm: float
    y_mm: float
    side_mm: float
    figures: Floats

    @property
    def corner(self) -> Floats:
        """Where the cells begin, (2,) mm."""
        return np.array([self.x_mm, self.y_mm])


@dataclass(frozen=True, eq=False)
class Berths:
    """Where one face of a part may lie: boxes (n, 5) of places and angles.

    Each row is the middle's x and y mm, its angle, radians, and half the sides and half the
    range of angles. The place is that of the middle of the circle round the part.
    """

    wood: GrownWood
    figure: Figure
    region: BaseGeometry
    boxes: Floats

    def covered(self, points: Floats) -> NDArray[np.uint8]:
        """Return for each box and point (m, 2) whether the part covers it from all the box."""
        cells = self.figure.depths
        deep = cells.figures - CELL * cells.side_mm
        found: NDArray[np.uint8] = covered(self.boxes, points, deep, cells.corner, cells.side_mm)
        return found

    def box_of_places(self, angle_deg: float) -> tuple[float, float, float, float] | None:
        """Return the box of the outline's origins at one angle, or None if it cannot lie so."""
        turn = math.radians(angle_deg)
        off = np.abs((self.boxes[:, ANGLE] - turn + math.pi) % (2 * math.pi) - math.pi)
        boxes = self.boxes[off <= self.boxes[:, HALF_ANGLE] + ROUNDING_RAD]
        if not len(boxes):
            return None
        cosine, sine = math.cos(turn), math.sin(turn)
        origin = np.array([[cosine, -sine], [sine, cosine]]) @ self.figure.origin
        low = (boxes[:, :2] - boxes[:, [HALF_SIDE]]).min(axis=0) + origin
        high = (boxes[:, :2] + boxes[:, [HALF_SIDE]]).max(axis=0) + origin
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def halved(self, which: Flags) -> Berths:
        """Return some boxes, each cut in eight, without those in which the part cannot lie."""
        boxes = self.boxes[which]
        signs = np.array(list(product((-0.5, 0.5), repeat=3)))
        halves = boxes[:, None, [HALF_SIDE, HALF_SIDE, HALF_ANGLE]] * signs
        finer = np.repeat(boxes, 8, axis=0) * (1.0, 1.0, 1.0, 0.5, 0.5)
        finer[:, :3] += halves.reshape(-1, 3)
        return replace(self, boxes=self.wood.kept(finer, self.figure, self.region))


class GrownWood:
    """One or more boards of the same outline and grain, as wood that a part may lie in."""

    def __init__(self, shape: Polygon, grain: GrainPath) -> None:
        self._shape, self._grain = shape, grain
        self._distances: dict[bytes, Cells] = {}

    def berths(
        self,
        outline: Outline,
        region: BaseGeometry,
        gap_mm: float = 0.0,
        *,
        halvings: int = HALVINGS,
    ) -> list[Berths]:
        """Return where a part may lie in a region, which is not smaller than the free wood.

        One for each face that may be up.

        Parameters
        ----------
        gap_mm
            Between parts; the points that parts cover are those of parts grown by half of it.
        halvings
            Of boxes that begin at 24 mm and 6 degrees either way.
        """
        faces = (False, True) if outline.may_turn_over else (False,)
        figures = [Figure(outline, is_over, gap_mm) for is_over in faces]
        return [self._face(figure, region, halvings) for figure in figures]

    def _face(self, figure: Figure, region: BaseGeometry, halvings: int) -> Berths:
        if region.is_empty:
            return Berths(self, figure, region, np.empty((0, 5)))
        turn = math.radians(FIRST_DEG)
        low_x, low_y, high_x, high_y = region.bounds
        xs = np.arange(low_x, high_x + 2 * FIRST_MM, 2 * FIRST_MM)
        ys = np.arange(low_y, high_y + 2 * FIRST_MM, 2 * FIRST_MM)
        turns = np.arange(turn, 2 * math.pi, 2 * turn)
        grid = np.stack(np.meshgrid(xs, ys, turns, [FIRST_MM], [turn]), axis=-1).reshape(-1, 5)
        found = Berths(self, figure, region, self.kept(grid, figure, region))
        for _ in range(halvings):
            if len(found.boxes) <= MOST_FIRST / 4:
                found = found.halved(np.ones(len(found.boxes), np.bool_))
        return found

    def kept(self, boxes: Floats, figure: Figure, region: BaseGeometry) -> Floats:
        """Return the boxes in which the part may lie somewhere, as far as its points tell."""
        line = np.asarray(self._grain.points)
        middles, halves = map(np.radians, self._grain.covered_deg)
        own = np.radians(figure.sample_angles)
        limits = math.radians(figure.limit_deg) + halves
        is_true = may_lie(
            boxes, figure.samples, own, limits, line[:-1], np.diff(line, axis=0), middles
        )
        boxes = boxes[is_true]
        free = self._far_from(region)
        may = may_fit(boxes, figure.rim, free.figures, free.corner, free.side_mm)
        return np.asarray(boxes[may])

    @cached_property
    def _grid(self) -> tuple[float, float, Floats, Floats]:
        """Left and lower end of the cells, and their middles; far enough round the board."""
        low_x, low_y, high_x, high_y = self._shape.buffer(4 * FIRST_MM).bounds
        xs = np.arange(low_x, high_x, BOARD_MM) + BOARD_MM / 2
        ys = np.arange(low_y, high_y, BOARD_MM) + BOARD_MM / 2
        return low_x, low_y, *np.meshgrid(xs, ys)

    def _far_from(self, region: BaseGeometry) -> Cells:
        """Return how far it is to a region, or to cells that it reaches into."""
        key = region.wkb
        if key not in self._distances:
            low_x, low_y, x, y = self._grid
            inside = shapely.contains_xy(region.buffer(CELL / 2 * BOARD_MM), x, y)
            self._distances[key] = Cells(low_x, low_y, BOARD_MM, _away(inside))
        return self._distances[key]


class Figure:
    """One face of a part about its middle, as looking for berths needs it."""

    def __init__(self, outline: Outline, is_over: bool, gap_mm: float) -> None:
        centre = shapely.minimum_bounding_circle(outline.shape).centroid
        self._middle = np.array([centre.x, centre.y])
        self._flip = np.array([1.0, -1.0 if is_over else 1.0])
        self.limit_deg = slope_angle(outline.slope_of_grain) + SLACK_DEG
        few = spread(outline.followed)
        self.samples = self._seen(few[:, :2])
        self.sample_angles = few[:, WAY] * self._flip[1]
        self.rim = self._rim(outline.shape)
        self._half_gap = max(0.0, gap_mm / 2 - TOUCH_MM)
        self._shape = shapely.transform(outline.shape, self._seen)

    @property
    def origin(self) -> Floats:
        """The outline's origin, (2,), from the middle."""
        return self._seen(np.zeros(2))

    def _seen(self, points: Floats) -> Floats:
        return np.asarray((points - self._middle) * self._flip)

    def _rim(self, shape: Polygon) -> Floats:
        """Return points of the outline, the farthest from the middle first."""
        line = shapely.segmentize(shape.exterior.simplify(0.5), RIM_MM)
        points = self._seen(np.asarray(line.coords)[:-1])
        return np.asarray(points[np.argsort(-np.hypot(*points.T), kind="stable")])

    @cached_property
    def depths(self) -> Cells:
        """How deep cells lie in the part grown by half the gap; those not all in it at 0."""
        grown = self._shape.buffer(self._half_gap) if self._half_gap > 0 else self._shape
        low_x, low_y, high_x, high_y = grown.buffer(2 * PART_MM).bounds
        xs = np.arange(low_x, high_x, PART_MM) + PART_MM / 2
        ys = np.arange(low_y, high_y, PART_MM) + PART_MM / 2
        whole = grown.buffer(-CELL / 2 * PART_MM)
        inside = shapely.contains_xy(whole, *np.meshgrid(xs, ys))
        return Cells(low_x, low_y, PART_MM, _away(~inside, PART_MM))


def _away(is_there: Flags, side_mm: float = BOARD_MM) -> Floats:
    """Return how far each cell is from those that are there, mm."""
    if not is_there.any():
        return np.full(is_there.shape, np.inf)
    from scipy import ndimage  # Takes long to load, and only grown wood needs it.

    return np.asarray(ndimage.distance_transform_edt(~is_there)) * side_mm
