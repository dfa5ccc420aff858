"""A board as the search sees it: where a turned outline may not lie because of the wood itself.

Board edges, and keep-outs the part does not tolerate, forbid positions as obstacles do. A hole
that may be plugged forbids only the positions in which it would be neither wholly outside the
part nor wholly inside by its edge distance and clear of bearing zones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from enum import Enum
from functools import cached_property, partial
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.memory_budget import Store
from nesting.engine.geometry.no_fit import (
    EMPTY,
    ORIGIN,
    Region,
    convex_region,
    forbidden,
    joined,
    joined_moved,
    legal_spots,
    tiled,
)
from nesting.engine.geometry.outward import simplified_outward
from nesting.engine.geometry.tolerances import HULL_MM
from nesting.engine.geometry.turned import Pieces, Turned
from nesting.flat_geometry.overlay import polygons_of
from nesting.flat_geometry.thinned import thinned_inward
from nesting.need import Holes, Need
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut

ARC_SLACK_MM = 0.02
"""Insets have their arcs cut by chords; this keeps the chords on the safe side."""

FLAT_MM2, MOST_SIDES = 1e-6, 12
"""A shape is convex if its hull has so little more; with no more sides each is looked at alone,
and a bung may come exactly as near to it as the rules say."""

MANY = 200
"""A board with more keep-outs is crowded: what is in the way is gathered cell by cell. 400 nails
on 6 m: no other way ends within seconds."""

CELL_MM = 150.0
"""Side of such a cell: few figures are much smaller, and a hundred nails lie in few."""

ROUND_EXCESS, NEAR_MM = 0.03, 1.0
"""Share by which a rounded corner of a sum may stand out, and more than all other excess."""

Box = tuple[float, float, float, float]

ROUNDING_MM = 1e-9
"""A part exactly as large as the board fits in spite of this much rounding."""


class _Handling(Enum):
    IGNORED = "ignored"
    PLUGGED = "plugged"
    CLEAR_OF = "clear of"


def cells_of(window: Box) -> list[Box]:
    """Return the cells, none larger than it need be, that a window falls into."""
    x0, y0, x1, y1 = window
    columns = np.linspace(x0, x1, max(1, math.ceil((x1 - x0) / CELL_MM)) + 1).tolist()
    rows = np.linspace(y0, y1, max(1, math.ceil((y1 - y0) / CELL_MM)) + 1).tolist()
    return [(a, c, b, d) for a, b in pairwise(columns) for c, d in pairwise(rows)]


class Ground:
    """One board with its forbidden regions, computed when first asked for.

    ``store`` keeps them for all boards together.
    """

    def __init__(
        self, board: Board, rules: Rules, local: LocalRegions, store: Store[Region]
    ) -> None:
        self.board = board
        self.rules = rules
        self._local = local
        self._store = store
        self._handlings: dict[Holes, list[_Handling]] = {}

    def limit(self, turned: Turned) -> Box | None:
        """Return the box of positions that keep the figure's box on the board, or None."""
        x0, y0, x1, y1 = self.board.shape.bounds
        trim = self.rules.trim_mm
        a0, b0, a1, b1 = turned.box
        low_x, high_x = x0 + trim - a0, x1 - trim - a1
        low_y, high_y = y0 + trim - b0, y1 - trim - b1
        if low_x > high_x + ROUNDING_MM or low_y > high_y + ROUNDING_MM:
            return None
        return min(low_x, high_x), min(low_y, high_y), max(low_x, high_x), max(low_y, high_y)

    @property
    def is_crowded(self) -> bool:
        """Whether there are so many keep-outs that regions are made cell by cell."""
        return len(self.board.keep_outs) > MANY

    def has_room(self, turned: Turned) -> bool:
        """Return whether a figure has a legal position on the empty board."""
        limit = self.limit(turned)
        if limit is None:
            return False
        cells = cells_of(limit) if self.is_crowded else [limit]
        weights = (1.0, 0.02)
        return any(len(legal_spots(self.region(turned, c), c, weights)) > 0 for c in cells)

    def region(self, turned: Turned, window: Box | None = None) -> Region:
        """Return where a figure may not lie on the empty board, so far as it matters in a window.

        On a board that is not crowded all of it is returned, and kept.
        """
        if self.is_crowded and window is not None:
            return self._compute(turned, self._near(turned, window))
        every = range(len(self.board.keep_outs))
        return self._store.get((id(self), turned.number), lambda: self._compute(turned, every))

    def _near(self, turned: Turned, window: Box) -> list[int]:
        """Return the keep-outs that a figure can meet with its origin in a window, a few more."""
        boxes, reach = self.board.keep_out_boxes, self._reaches
        x0, y0, x1, y1 = (at + side for at, side in zip(window, turned.box, strict=True))
        near = (boxes[:, 0] <= x1 + reach) & (boxes[:, 2] >= x0 - reach)
        near &= (boxes[:, 1] <= y1 + reach) & (boxes[:, 3] >= y0 - reach)
        return [int(number) for number in np.flatnonzero(near)]

    @cached_property
    def _reaches(self) -> NDArray[np.float64]:
        """How far beyond its box (k,) each keep-out may matter, mm, never too little."""
        sizes = np.array([k.reach_mm for k in self.board.keep_outs])
        clear = np.array([self.rules.kept_off_mm(k) for k in self.board.keep_outs])
        return np.asarray(clear + ROUND_EXCESS * (sizes + clear) + NEAR_MM)

    def _compute(self, turned: Turned, which: Iterable[int]) -> Region:
        gaps = np.full(len(self.outside), self.rules.trim_mm)
        around = [self._around(number, turned) for number in which]
        edge = forbidden(self.outside, gaps, turned.pieces)
        if not around:
            return edge
        regions = [region for region, *_ in around]
        moves = np.array([move for _, *move in around])
        return joined([edge, joined_moved(regions, moves)])

    def _around(self, number: int, turned: Turned) -> tuple[Region, float, float]:
        """Return a region about a keep-out, and by how much it is to be shifted."""
        keep_out, need = self.board.keep_outs[number], turned.need
        handling = self._handling(need, number)
        if handling is _Handling.IGNORED:
            return EMPTY, 0.0, 0.0
        if handling is _Handling.PLUGGED:
            return self._local.pluggable(keep_out, turned)
        gap = keep_out.reach_mm + self.rules.kept_off_mm(keep_out)
        if isinstance(keep_out.core, Point):
            return self._local.around_point(gap, turned), keep_out.core.x, keep_out.core.y
        pieces = core_pieces(keep_out.core)
        make = partial(forbidden, pieces, np.full(len(pieces), gap), turned.pieces)
        if not self.is_crowded:
            return make(), 0.0, 0.0
        return self._store.get((id(self), turned.number, number), make), 0.0, 0.0

    def _handling(self, need: Need, number: int) -> _Handling:
        """Return what a part may do with a keep-out; it depends on what the part tolerates."""
        if need.holes not in self._handlings:
            self._handlings[need.holes] = [self._handled(need, k) for k in self.board.keep_outs]
        return self._handlings[need.holes][number]

    def _handled(self, need: Need, keep_out: KeepOut) -> _Handling:
        if need.ignores(keep_out, self.rules):
            return _Handling.IGNORED
        is_plugged = need.may_plug(keep_out, self.rules)
        return _Handling.PLUGGED if is_plugged else _Handling.CLEAR_OF

    @cached_property
    def outside(self) -> Pieces:
        """Convex pieces of what the board's box holds beside the board."""
        beside = box(*self.board.shape.bounds).difference(self.board.shape)
        rings = [
            ring
            for polygon in polygons_of(beside)
            for ring in convex_pieces(simplified_outward(polygon, HULL_MM))
        ]
        return Pieces.of(tuple(rings))


class LocalRegions:
    """Regions around one hole at the origin, shared by all holes alike on all boards."""

    def __init__(self, rules: Rules) -> None:
        self._rules = rules
        self._points: dict[tuple[int, float], Region] = {}
        self._plugs: dict[tuple[int, float, float, float], Region] = {}

    def around_point(self, gap_mm: float, turned: Turned) -> Region:
        """Return where a figure comes closer than a gap to the origin."""
        key = (turned.number, gap_mm)
        if key not in self._points:
            self._points[key] = forbidden(ORIGIN, np.array([gap_mm]), turned.pieces)
        return self._points[key]

    def pluggable(self, keep_out: KeepOut, turned: Turned) -> tuple[Region, float, float]:
        """Return where a figure may not lie because of a hole that it may hold, and its place."""
        x, y, radius = keep_out.bounding_circle
        clearance = self._rules.kept_off_mm(keep_out)
        plug = self._rules.plug_for(keep_out)
        assert plug is not None
        key = (turned.number, radius, clearance, plug)
        if key not in self._plugs:
            near = forbidden(ORIGIN, np.array([radius + clearance]), turned.pieces)
            self._plugs[key] = self._unsound(near, turned, plug)
        return self._plugs[key], x, y

    def _unsound(self, near: Region, turned: Turned, plug_mm: float) -> Region:
        """Return a region about a hole less the positions that hold its bung soundly."""
        inset, ring = plug_mm / 2 + self._rules.plug_edge_mm, straight_sides(turned.bung_room)
        if ring is None:
            island = self._island(turned, plug_mm)
            return near if island.is_empty else tiled(_area(near).difference(island))
        if turned.bung_room.buffer(ARC_SLACK_MM - inset).is_empty:
            return near
        zones = [turned.placed_zone(zone.region) for zone in turned.need.outline.bearing_zones]
        across = [*_beyond(-ring, inset), *_touching(zones, plug_mm / 2)]
        return convex_region(shapely.intersection(_area(near), across))

    def _island(self, turned: Turned, plug_mm: float) -> BaseGeometry:
        """Return the positions that hold a bung at the origin wholly inside sound wood."""
        inset = plug_mm / 2 + self._rules.plug_edge_mm + ARC_SLACK_MM
        free: BaseGeometry = thinned_inward(turned.bung_room).buffer(-inset)
        for zone in turned.need.outline.bearing_zones:
            grown = turned.placed_zone(zone.region).buffer(plug_mm / 2 + ARC_SLACK_MM)
            free = free.difference(grown)
        return shapely.transform(free, lambda points: -points)


def straight_sides(shape: Polygon) -> NDArray[np.float64] | None:
    """Return the corners (k, 2), anticlockwise, of a convex shape with few sides, else None."""
    hull = shape.convex_hull.simplify(0.0)
    if not isinstance(hull, Polygon) or hull.area - shape.area > FLAT_MM2:
        return None
    ring = np.asarray(orient(hull).exterior.coords)[:-1]
    return ring if len(ring) <= MOST_SIDES else None


def _beyond(ring: NDArray[np.float64], inset_mm: float) -> list[Polygon]:
    """Return for each side of a convex ring (k, 2) what lies beyond it, or less inside than so."""
    far = 4 * (float(np.ptp(ring, axis=0).sum()) + inset_mm)
    spans = np.roll(ring, -1, axis=0) - ring
    along = spans / np.hypot(*spans.T)[:, None]
    out = np.column_stack([along[:, 1], -along[:, 0]])
    low, high = ring - inset_mm * out - far * along, ring - inset_mm * out + far * along
    corners = np.stack([low, low + far * out, high + far * out, high], axis=1)
    return [Polygon(each) for each in corners]


def _touching(zones: Sequence[Polygon], radius_mm: float) -> list[Polygon]:
    """Return the positions, a convex piece each, in which a bung at the origin meets a zone."""
    rings = [ring for zone in zones for ring in convex_pieces(zone)]
    if not rings:
        return []
    return _rings_of(forbidden(ORIGIN, np.array([radius_mm]), Pieces.of(tuple(rings))))


def _area(region: Region) -> BaseGeometry:
    """Return the area that a region's sums cover."""
    return shapely.union_all(_rings_of(region))


def _rings_of(region: Region) -> list[Polygon]:
    """Return a region's sums, each as a convex polygon."""
    return [Polygon(_corners(region.edges[start:end])) for start, end in pairwise(region.first)]


def _corners(edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where each edge (nx, ny, c) of a convex sum meets the next."""
    after = np.roll(edges, -1, axis=0)
    cross = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    x = (edges[:, 2] * after[:, 1] - after[:, 2] * edges[:, 1]) / cross
    y = (edges[:, 0] * after[:, 2] - after[:, 0] * edges[:, 2]) / cross
    return np.column_stack([x, y])


def core_pieces(core: Point | LineString | Polygon) -> Pieces:
    """Return the convex pieces of a keep-out's core: points, line segments, polygons."""
    if isinstance(core, Polygon):
        return Pieces.of(convex_pieces(simplified_outward(core, HULL_MM)))
    points = np.asarray(core.coords)
    if len(points) == 1:
        return Pieces.of((points,))
    return Pieces.of(tuple(points[i : i + 2] for i in range(len(points) - 1)))
