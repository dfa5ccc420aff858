"""An outline at one angle, one face up: convex pieces ready for no-fit sums."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.geometry.convex import convex_pieces
from nesting.engine.geometry.outward import simplified_outward, without_pockets
from nesting.engine.geometry.tolerances import HULL_MM, POCKET_MM
from nesting.flat_geometry.thinned import KEPT, THIN_MM, thinned, thinned_inward, thinned_outward
from nesting.need import Need
from nesting.nest import Placement
from nesting.outline import SAME_DEG, Outline
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board
from nesting.units import slope_angle

LONG_EDGE = 0.3
"""An edge is worth lying along if it is this share of its figure's length."""

MOST_LEANS = 4
"""Ways of leaning tried for each way of lying true to the grain."""

INSIDE_DEG = 1e-4
"""Figures leaned to the limit stay inside it by this, far above the rounding of angles."""

NEAR_DEG = 0.01
"""An end of the range so near to a way along an edge is not tried beside it."""

STRAIGHT_MM = 0.5
"""A row of corners this close to one line is one edge to lie along."""

SAME_MM = 1e-4
"""Turned figures whose corners agree to this are one figure."""


@dataclass(frozen=True)
class Pieces:
    """Convex pieces packed in two arrays: corners (n, 2), mm, and first (p + 1)."""

    corners: NDArray[np.float64]
    first: NDArray[np.int64]

    @staticmethod
    def of(rings: tuple[NDArray[np.float64], ...]) -> Pieces:
        """Pack rings, each (k, 2), anticlockwise."""
        ends = np.cumsum([0] + [len(ring) for ring in rings])
        corners = np.concatenate(rings) if rings else np.empty((0, 2))
        return Pieces(np.ascontiguousarray(corners), np.asarray(ends, np.int64))

    def __len__(self) -> int:
        return len(self.first) - 1

    def turned(self, angle: float, *, is_over: bool) -> Pieces:
        """Return the pieces turned over or not (y to -y), then by an angle in radians."""
        cosine, sine = math.cos(angle), math.sin(angle)
        x, y = self.corners[:, 0], -self.corners[:, 1] if is_over else self.corners[:, 1]
        corners = np.column_stack([x * cosine - y * sine, x * sine + y * cosine])
        if is_over:
            for start, end in pairwise(self.first):
                corners[start:end] = corners[start:end][::-1]
        return Pieces(np.ascontiguousarray(corners), self.first)

    def rings(self) -> list[NDArray[np.float64]]:
        """Return the corners of each piece."""
        return [self.corners[a:b] for a, b in pairwise(self.first)]


@dataclass(frozen=True, eq=False)
class Turned:
    """One outline at one angle, about its own origin.

    ``pieces`` are those of a slightly larger, simpler figure; ``shape`` and ``box`` (x0, y0,
    x1, y1) are true.
    """

    number: int
    need: Need
    angle_deg: float
    is_turned_over: bool
    shape: Polygon
    pieces: Pieces
    box: tuple[float, float, float, float]

    def at(self, x_mm: float, y_mm: float) -> Placement:
        """Return the placement of this figure with its origin at a point of the board."""
        return Placement(self.need, x_mm, y_mm, self.angle_deg, self.is_turned_over)

    @cached_property
    def inner(self) -> Polygon:
        """The shape, or one with fewer corners within it."""
        return thinned_inward(self.shape)

    @cached_property
    def bung_room(self) -> Polygon:
        """The shape less what bevels take off."""
        outline = self.need.outline
        is_square = outline.bung_room is outline.shape
        return self.shape if is_square else self.placed_zone(outline.bung_room)

    @cached_property
    def sign(self) -> bytes:
        """Equal for turnings that give the same figure with the same bearing zones and bevels."""
        zones = [self.placed_zone(zone.region) for zone in self.need.outline.bearing_zones]
        room = [] if self.bung_room is self.shape else [self.bung_room]
        return figure_key([self.shape, *room, *zones])

    def placed_zone(self, region: Polygon) -> Polygon:
        """Return a region of the outline's frame, turned likewise."""
        return self.at(0.0, 0.0).placed(region)


def turned(number: int, need: Need, pieces: Pieces, angle_deg: float, is_over: bool) -> Turned:
    """Return a need's outline at an angle; ``pieces`` are those of the unturned outline."""
    shape = Placement(need, 0.0, 0.0, angle_deg, is_over).polygon
    lying_pieces = pieces.turned(math.radians(angle_deg), is_over=is_over)
    return Turned(number, need, angle_deg, is_over, shape, lying_pieces, shape.bounds)


def search_pieces(outline: Outline) -> Pieces:
    """Return the convex pieces that stand for an outline in the search."""
    thin = thinned_outward(outline.shape)
    tolerance = HULL_MM if thin is outline.shape else HULL_MM - THIN_MM
    closed = without_pockets(thin, POCKET_MM)
    return Pieces.of(convex_pieces(simplified_outward(closed, tolerance)))


def angles(outline: Outline, board: Board, *, is_leaning: bool) -> Iterator[tuple[float, bool]]:
    """Yield (angle, turned over) with the outline's grain along the board's, either way round.

    On sheet goods square to it as well, if the part may lie so.

    With ``is_leaning`` the ways off the grain but within the limit on its slope: edges of the
    outline laid along long edges of the board, then the ends of the range. A limit on run-out
    may allow neither lying true to the grain nor, on straight grain, lying at all.
    """
    own = outline.middle_grain_deg
    quarters = outline.quarter_turns_deg if is_sheet_goods(board.species) else (0.0,)
    ways = dict.fromkeys(turn + way for turn in quarters for way in board.grain.angles_deg)
    for is_over in (False, True) if outline.may_turn_over else (False,):
        for grain in ways:
            base = grain + own if is_over else grain - own
            for lean in _leans(outline, board, base, is_over, is_leaning=is_leaning):
                yield base + lean, is_over
                yield base + lean + 180.0, is_over


def lean_range(outline: Outline, board: Board, *, is_over: bool) -> tuple[float, float]:
    """Return from where to where a part may turn off the grain, degrees, within its limits.

    Where the board's grain is grown, a limit on run-out is looked at place by place.
    """
    limit = slope_angle(outline.slope_of_grain)
    low, high = outline.leans_deg if board.grain.is_straight else (-limit, limit)
    return (-high, -low) if is_over else (low, high)


def most_lean(outline: Outline) -> float:
    """Return how far a part may turn either way off its truest way on straight grain, degrees.

    0 or less if it may not.
    """
    low, high = outline.leans_deg
    truest = truest_lean(outline)
    return min(high - truest, truest - low)


def truest_lean(outline: Outline) -> float:
    """Return the least that a part must turn off straight grain to keep its limits, degrees."""
    low, high = outline.leans_deg
    return min(max(0.0, low), high)


def _leans(
    outline: Outline, board: Board, base_deg: float, is_over: bool, *, is_leaning: bool
) -> list[float]:
    """Return the way truest to the grain, or small turnings off it worth trying, degrees."""
    low, high = lean_range(outline, board, is_over=is_over)
    if low > high + SAME_DEG:
        return []
    if high - low < 2 * INSIDE_DEG:
        return [(low + high) / 2]
    low, high = low + INSIDE_DEG, high - INSIDE_DEG
    if not is_leaning:
        return [min(max(0.0, low), high)]
    shape = shapely.transform(outline.shape, _turned_over) if is_over else outline.shape
    flush = _flush_leans(shape, board, base_deg)
    # Along an edge a part may lie at the limit itself, as the referee measures it.
    most = INSIDE_DEG + SAME_DEG
    found = {
        lean for lean in flush if abs(lean) > 2 * SAME_DEG and low - most <= lean <= high + most
    }
    found |= {end for end in (low, high) if all(abs(end - lean) > NEAR_DEG for lean in found)}
    return sorted(found, key=lambda lean: (abs(lean), lean))[:MOST_LEANS]


def _flush_leans(shape: Polygon, board: Board, base_deg: float) -> set[float]:
    """Return how far off the grain long edges of a part lie along long edges of a board."""
    own = _edge_directions(shape)
    return {
        round((edge - side - base_deg + 90.0) % 180.0 - 90.0, 6)
        for edge in _edge_directions(board.shape)
        for side in own
    }


def _turned_over(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([points[:, 0], -points[:, 1]])


@lru_cache(maxsize=KEPT)
def _edge_directions(shape: Polygon) -> tuple[float, ...]:
    """Return the directions of the few long straight edges, degrees in [0, 180).

    Corners on a straight edge, as a mark at every frame leaves them, do not break it.
    """
    plain = thinned(shape).simplify(STRAIGHT_MM)
    assert isinstance(plain, Polygon)
    corners = np.asarray(plain.exterior.coords)
    spans = np.diff(corners, axis=0)
    lengths = np.hypot(*spans.T)
    low, _, high, _ = shape.bounds
    long = spans[lengths >= LONG_EDGE * (high - low)]
    return tuple(sorted({round(math.degrees(math.atan2(y, x)) % 180.0, 6) for x, y in long})[:4])


def figure_key(shapes: Sequence[Polygon]) -> bytes:
    """Return a key equal for groups of shapes that are the same but for their position."""
    low = np.array(shapes[0].bounds[:2])
    corners = [np.asarray(shape.exterior.coords)[:-1] for shape in shapes]
    steps = [np.round((ring - low) / SAME_MM).astype(np.int64) for ring in corners]
    return b"|".join(ring[np.lexsort(ring.T)].tobytes() for ring in steps)
