"""Puzzles with a known answer: the free wood of an old plank, sawn into parts.

The plank has waving edges and metal that no part may touch; its free wood is cut into parts
that keep the saw's gap, then each is shortened until all together cover a given share. Where
they were cut from is a full packing, and the referee certifies it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle

RULES = Rules(kerf_mm=2.0, trim_mm=0.5, blade_clearance_mm=4.0, cleaning_loss_mm=0.0)

COUNTS, SHARES = (4, 8, 14), (0.75, 0.85, 0.92)

METAL_MM = 5.0

EASE_MM = 1.0
"""Taken off every side of a part: the room that the known answer leaves it to move."""

SMALLEST = 0.25
"""No part is smaller than this share of the mean one."""

STEPS = 4
"""Chords in a quarter of a circle, drawn outside it."""


@dataclass(frozen=True)
class Puzzle:
    """One plank, the parts wanted of it, and the packing they were cut from."""

    needs: tuple[Need, ...]
    board: Board
    answer: CuttingPlan
    share: float


def puzzle(seed: int, count: int, share: float) -> Puzzle:
    """Return the puzzle of a seed: so many parts on so much of the free wood."""
    for attempt in range(200):
        rng = np.random.default_rng([seed, count, round(100 * share), attempt])
        board = _plank(rng)
        free = _free(board)
        pieces = _sawn(free, count, rng)
        parts = _shortened(pieces, share * free.area, rng)
        if parts is not None:
            return _puzzle(parts, board, share, rng)
    raise AssertionError(f"no puzzle of {count} parts on {share:.0%} in 200 attempts")


def _plank(rng: np.random.Generator) -> Board:
    length, width = float(rng.uniform(900, 1500)), float(rng.uniform(130, 220))
    at = np.linspace(0, length, 6)
    shape = widths_outline(
        list(at), list(width + rng.uniform(-6, 6, 6)), list(rng.uniform(0, 5, 6))
    )
    return Board("P", shape, 30.0, "oak", keep_outs=tuple(_metal(rng, length, width)))


def _metal(rng: np.random.Generator, length: float, width: float) -> list[KeepOut]:
    """Return a few screw stubs, no two near each other."""
    found: list[tuple[float, float]] = []
    while len(found) < 4:
        x, y = float(rng.uniform(60, length - 60)), float(rng.uniform(0.1, 0.9)) * width
        if all(math.hypot(x - u, y - v) > 120 for u, v in found):
            found.append((x, y))
    return [circle(KeepOutKind.METAL, x, y, METAL_MM) for x, y in found]


def _free(board: Board) -> Polygon:
    reach = METAL_MM / 2 + RULES.clearance_mm(KeepOutKind.METAL)
    outside = reach / math.cos(math.pi / 4 / STEPS)
    taken = [keep_out.core.buffer(outside, quad_segs=STEPS) for keep_out in board.keep_outs]
    inset = board.shape.buffer(-RULES.trim_mm, join_style="mitre")
    return _largest(inset.difference(shapely.union_all(taken)))


def _sawn(free: Polygon, count: int, rng: np.random.Generator) -> list[Polygon]:
    """Return pieces of the free wood; each cut is as wide as the gap between parts."""
    pieces = [free]
    while len(pieces) < count:
        pieces.sort(key=lambda piece: piece.area)
        pieces += _halves(pieces.pop(), rng)
    return [_eased(_opened(piece)) for piece in pieces]


def _halves(piece: Polygon, rng: np.random.Generator) -> list[Polygon]:
    """Return the two large pieces that one straight cut leaves, through a hole if there is one."""
    x0, y0, x1, y1 = piece.bounds
    x, y = x0 + rng.uniform(0.38, 0.62) * (x1 - x0), y0 + rng.uniform(0.4, 0.6) * (y1 - y0)
    holes = [Polygon(ring).centroid for ring in piece.interiors]
    near = [hole for hole in holes if abs(hole.x - x) < 0.22 * (x1 - x0)]
    if near:
        hole = near[int(rng.integers(len(near)))]
        x, y = hole.x, hole.y
    is_long = x1 - x0 > 1.6 * (y1 - y0)
    turn = rng.normal(math.pi / 2, 0.3) if is_long else rng.normal(0.0, 0.06)
    dx, dy = 3000 * math.cos(turn), 3000 * math.sin(turn)
    cut = LineString([(x - dx, y - dy), (x + dx, y + dy)])
    left = _polygons(piece.difference(cut.buffer(RULES.part_gap_mm / 2, cap_style="flat")))
    return sorted(left, key=lambda polygon: -polygon.area)[:2]


def _opened(piece: Polygon) -> Polygon:
    """Return a piece with a slot from each hole to its edge, so that it can be sawn."""
    for ring in piece.interiors:
        hole = Polygon(ring)
        edge = piece.exterior.interpolate(piece.exterior.project(hole.centroid))
        line = LineString([hole.centroid, edge])
        width = math.sqrt(hole.area / math.pi)
        longer = affinity.scale(line, 1.3, 1.3, origin=hole.centroid)
        piece = _largest(piece.difference(longer.buffer(width, cap_style="flat")))
    return piece


def _eased(piece: Polygon) -> Polygon:
    """Return a piece a little less on every side, as no saw cuts to nothing."""
    return _largest(piece.buffer(-EASE_MM, join_style="mitre"))


def _shortened(
    pieces: list[Polygon], wanted_mm2: float, rng: np.random.Generator
) -> list[Polygon] | None:
    """Return the pieces, each sawn off at one end by the same share, or None if too little."""
    total = sum(piece.area for piece in pieces)
    small = min(piece.area for piece in pieces) < SMALLEST * total / len(pieces)
    if total < wanted_mm2 or small:
        return None
    parts = [_sawn_off(piece, wanted_mm2 / total, bool(rng.random() < 0.5)) for piece in pieces]
    return parts if abs(sum(part.area for part in parts) - wanted_mm2) < 1.0 else None


def _sawn_off(piece: Polygon, share: float, is_left: bool) -> Polygon:
    x0, y0, x1, y1 = piece.bounds
    low, high = 0.0, x1 - x0
    for _ in range(50):
        off = (low + high) / 2
        kept = box(x0 + off, y0, x1, y1) if is_left else box(x0, y0, x1 - off, y1)
        part = piece.intersection(kept)
        low, high = (off, high) if part.area > share * piece.area else (low, off)
    return _largest(part)


def _puzzle(parts: list[Polygon], board: Board, share: float, rng: np.random.Generator) -> Puzzle:
    needs, placements = [], []
    for number, part in enumerate(parts):
        x, y = part.centroid.x, part.centroid.y
        angle = float(rng.choice([0.0, 180.0]))
        shape = affinity.rotate(affinity.translate(part, -x, -y), -angle, origin=(0, 0))
        need = Need(f"part {number + 1}", "puzzle", Outline(shape, 25.0), ("oak",))
        needs.append(need)
        placements.append(Placement(need, x, y, angle))
    return Puzzle(tuple(needs), board, CuttingPlan((Nest(board, tuple(placements)),)), share)


def _largest(geometry: BaseGeometry) -> Polygon:
    return max(_polygons(geometry), key=lambda polygon: polygon.area)


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon)]
