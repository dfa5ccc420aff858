"""A board as the search sees it: where a turned outline may not lie because of the wood itself.

Board edges, and keep-outs the part does not tolerate, forbid positions as obstacles do. A hole
that may be plugged forbids only the positions in which it would be neither wholly outside the
part nor wholly inside by its edge distance and clear of bearing zones.
"""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.engine.convex import convex_pieces
from nesting.engine.no_fit import (
    EMPTY,
    ORIGIN,
    Region,
    forbidden,
    joined,
    legal_spots,
    polygons_of,
    tiled,
)
from nesting.engine.outward import simplified_outward
from nesting.engine.store import Store
from nesting.engine.tolerances import HULL_MM
from nesting.engine.turned import Pieces, Turned
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut

ARC_SLACK_MM = 0.02
"""Insets have their arcs cut by chords; this keeps the chords on the safe side."""

ROUNDING_MM = 1e-9
"""A part exactly as large as the board fits in spite of this much rounding."""


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

    def limit(self, turned: Turned) -> tuple[float, float, float, float] | None:
        """Return the box of positions that keep the figure's box on the board, or None."""
        x0, y0, x1, y1 = self.board.shape.bounds
        trim = self.rules.trim_mm
        a0, b0, a1, b1 = turned.box
        low_x, high_x = x0 + trim - a0, x1 - trim - a1
        low_y, high_y = y0 + trim - b0, y1 - trim - b1
        if low_x > high_x + ROUNDING_MM or low_y > high_y + ROUNDING_MM:
            return None
        return min(low_x, high_x), min(low_y, high_y), max(low_x, high_x), max(low_y, high_y)

    def has_room(self, turned: Turned) -> bool:
        """Return whether a figure has a legal position on the empty board."""
        limit = self.limit(turned)
        if limit is None:
            return False
        return len(legal_spots(self.region(turned), limit, (1.0, 0.02))) > 0

    def region(self, turned: Turned) -> Region:
        """Return where a figure may not lie on the empty board."""
        return self._store.get((id(self), turned.number), lambda: self._compute(turned))

    def _compute(self, turned: Turned) -> Region:
        gaps = np.full(len(self.outside), self.rules.trim_mm)
        parts = [forbidden(self.outside, gaps, turned.pieces)]
        for keep_out in self.board.keep_outs:
            parts.append(self._around(keep_out, turned))
        return joined(parts)

    def _around(self, keep_out: KeepOut, turned: Turned) -> Region:
        need = turned.need
        if need.ignores(keep_out, self.rules):
            return EMPTY
        if need.may_plug(keep_out, self.rules):
            return self._local.pluggable(keep_out, turned)
        gap = keep_out.reach_mm + self.rules.clearance_mm(keep_out.kind)
        if isinstance(keep_out.core, Point):
            return self._local.around_point(gap, turned).moved(keep_out.core.x, keep_out.core.y)
        pieces = core_pieces(keep_out.core)
        return forbidden(pieces, np.full(len(pieces), gap), turned.pieces)

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

    def pluggable(self, keep_out: KeepOut, turned: Turned) -> Region:
        """Return where a figure may not lie because of a hole that it may hold, plugged."""
        x, y, radius = keep_out.bounding_circle
        clearance = self._rules.clearance_mm(keep_out.kind)
        plug = self._rules.plug_for(keep_out)
        assert plug is not None
        key = (turned.number, radius, clearance, plug)
        if key not in self._plugs:
            near = forbidden(ORIGIN, np.array([radius + clearance]), turned.pieces)
            island = self._island(turned, plug)
            outer = _area(near)
            self._plugs[key] = near if island.is_empty else tiled(outer.difference(island))
        return self._plugs[key].moved(x, y)

    def _island(self, turned: Turned, plug_mm: float) -> BaseGeometry:
        """Return the positions that hold a bung at the origin wholly inside sound wood."""
        inset = plug_mm / 2 + self._rules.plug_edge_mm + ARC_SLACK_MM
        free: BaseGeometry = turned.shape.buffer(-inset)
        for zone in turned.need.outline.bearing_zones:
            grown = turned.placed_zone(zone.region).buffer(plug_mm / 2 + ARC_SLACK_MM)
            free = free.difference(grown)
        return shapely.transform(free, lambda points: -points)


def _area(region: Region) -> BaseGeometry:
    """Return the area that a region's sums cover."""
    rings = [_corners(region.edges[start:end]) for start, end in pairwise(region.first)]
    return shapely.union_all([Polygon(ring) for ring in rings])


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
