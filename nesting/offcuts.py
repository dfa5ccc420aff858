"""Left-over wood big enough to keep: pieces that hold a least useful rectangle, clear of defects.

Rectangles lie along the board's length, since that is how an offcut is used again.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.overlay import shared, united, without
from nesting.rules import LeastOffcut, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import PLUGGABLE, KeepOutKind

GRID_STEPS = 12
"""Window positions tried between the ends of a piece, besides those at its corners."""

MOST_CORNERS = 24
"""Corners of a piece used as window ends; more are thinned out evenly."""

ARC_MM = 0.5
"""Round corners are cut by chords no further off than this before they serve as window ends."""

ROUNDING_MM = 1e-6
"""Lengths and areas smaller than this come from rounding."""

NECK_MM = 0.01
"""A piece of exactly the least width counts as wide enough, and slivers thinner than this are
not in the way."""


@dataclass(frozen=True)
class Offcut:
    """One piece to keep: its outline, and the largest clear rectangle found in it; mm."""

    shape: Polygon
    length_mm: float
    width_mm: float


def offcuts_in(free: BaseGeometry, least: LeastOffcut) -> tuple[Offcut, ...]:
    """Return the pieces of free wood that hold the least rectangle, largest first.

    Necks narrower than the least width are cut through first: a piece is what comes away whole.
    """
    half = least.width_mm / 2 - NECK_MM
    # A mitre between edges that run back on each other is infinite until its limit cuts it.
    with np.errstate(divide="ignore", invalid="ignore"):
        opened = free.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    pieces = [p for p in _polygons(shared(opened, free)) if p.area >= _area(least)]
    found = []
    for piece in pieces:
        size = _largest_rectangle(piece, least)
        if size is not None:
            found.append(Offcut(piece, *size))
    return tuple(sorted(found, key=lambda offcut: -offcut.shape.area))


def sawn_about(parts: list[Polygon], rules: Rules) -> BaseGeometry:
    """Return parts with the kerf and trim about them."""
    return united([part.buffer(rules.kerf_mm + rules.trim_mm) for part in parts])


def offcuts_beside(sawn: BaseGeometry, board: Board, rules: Rules) -> tuple[Offcut, ...]:
    """Return what a board leaves beside what is sawn out of it, largest first."""
    return offcuts_in(without(without(board.shape, sawn), _spoilt(board)), rules.least_offcut)


def _spoilt(board: Board) -> BaseGeometry:
    """Return what no offcut may hold; a clean hole or a stain does not spoil one."""
    kept = PLUGGABLE | {KeepOutKind.STAIN}
    return united([k.polygon for k in board.keep_outs if k.kind not in kept])


def _area(least: LeastOffcut) -> float:
    return least.length_mm * least.width_mm


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [] if geometry.is_empty else [geometry]
    parts = shapely.get_parts(geometry)
    return [part for part in parts if isinstance(part, Polygon)]


def _largest_rectangle(piece: Polygon, least: LeastOffcut) -> tuple[float, float] | None:
    """Return length and width of the largest rectangle of at least the least size, or None."""
    low, low_y, high, high_y = piece.bounds
    corners, grid = _thinned_corners(piece), np.linspace(low, high, GRID_STEPS)
    lefts = _within(np.concatenate([corners, corners - least.length_mm, grid]), low, high)
    windows = [(left, left + least.length_mm) for left in lefts]
    ends = _within(np.concatenate([corners, [low, high]]), low, high)
    windows += [(a, b) for a in ends for b in ends if b - a > least.length_mm]
    best: tuple[float, float] | None = None
    for left, right in sorted(windows, key=lambda window: window[0] - window[1]):
        length, most = right - left, best[0] * best[1] if best else 0.0
        if right > high + ROUNDING_MM or length * (high_y - low_y) <= most:
            continue
        width = _widest_gap(piece, left, min(right, high))
        if width >= least.width_mm - ROUNDING_MM and length * width > most:
            best = (length, width)
    return best


def _thinned_corners(piece: Polygon) -> NDArray[np.float64]:
    corners = np.unique(np.round(shapely.get_coordinates(piece.simplify(ARC_MM))[:, 0], 3))
    if len(corners) > MOST_CORNERS:
        corners = corners[np.linspace(0, len(corners) - 1, MOST_CORNERS).astype(int)]
    return np.asarray(corners, np.float64)


def _within(values: NDArray[np.float64], low: float, high: float) -> list[float]:
    kept = values[(values >= low - ROUNDING_MM) & (values <= high + ROUNDING_MM)]
    return [float(x) for x in np.unique(kept)]


def _widest_gap(piece: Polygon, left: float, right: float) -> float:
    """Return the width of the widest strip that is whole wood from left to right."""
    _, low, _, high = piece.bounds
    blocked = without(box(left, low, right, high), piece)
    boxes = [p.bounds for p in _polygons(blocked)]
    spans = sorted((b[1], b[3]) for b in boxes if min(b[2] - b[0], b[3] - b[1]) > NECK_MM)
    edges, at = [], low
    for start, end in [*spans, (high, high)]:
        edges += [at, max(at, start)]
        at = max(at, end)
    return float(max((b - a for a, b in list(pairwise(edges))[::2]), default=0.0))
