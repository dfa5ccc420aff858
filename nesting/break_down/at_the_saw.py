"""A board while it is broken down: its pieces, what each holds, and what a cut leaves of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.break_down.cuts import (
    BreakDownCut,
    CutKind,
    Held,
    LeftPiece,
    cut_deep_mm,
    normal_of,
    sawn_apart,
)
from nesting.break_down.straight_lines import Things
from nesting.nest import Nest
from nesting.offcuts import Offcut
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.keep_out import KeepOutKind

Numbers = NDArray[np.int64]

SPLINTER_MM2 = 1.0
"""Less wood than this beside a cut is dust."""


@dataclass(frozen=True, eq=False)
class BoardAtSaw:
    """What every step needs: things that no cut may touch, parts and offcuts first."""

    things: Things
    shapes: tuple[BaseGeometry, ...]
    run_on_mm: float | None
    inside: NDArray[np.float64]
    labels: tuple[str, ...]
    rules: Rules
    kg_mm2: float | None

    def held(self, which: Numbers) -> Held:
        """Return what things are to whoever reads."""
        count = len(self.labels)
        items = [int(number) for number in which if number < self.things.items]
        return Held(
            tuple(self.labels[number] for number in items if number < count),
            tuple(number - count + 1 for number in items if number >= count),
        )


@dataclass(frozen=True, eq=False)
class PieceAtSaw:
    """A piece of the board while it is cut; ``turns`` is how often the saw's way was changed."""

    shape: Polygon
    which: Numbers
    turns: int = 0
    last: CutKind = CutKind.CROSS


def board_at_saw(
    nest: Nest, offcuts: Sequence[Offcut], rules: Rules, density_kg_m3: float | None
) -> BoardAtSaw:
    """Return a board before the first cut, with all that no cut may touch."""
    parts = [placement.polygon for placement in nest.placements]
    kept = [offcut.shape for offcut in offcuts]
    metal = [k for k in nest.board.keep_outs if k.kind is KeepOutKind.METAL]
    shapes = [*parts, *kept, *(keep_out.core for keep_out in metal)]
    reaches = [
        *[rules.trim_mm] * len(parts),
        *[0.0] * len(kept),
        *(keep_out.reach_mm + rules.blade_clearance_mm for keep_out in metal),
    ]
    items = len(parts) + len(kept)
    inside = shapely.get_coordinates(shapely.point_on_surface(np.array(shapes, dtype=object)))
    labels = tuple(placement.label for placement in nest.placements)
    kg_mm2 = None if density_kg_m3 is None else density_kg_m3 * 1e-9 * nest.board.thickness_mm
    run_on = cut_deep_mm(nest.board.thickness_mm, rules.saw_blade_mm)
    things = Things.of(shapes, reaches, items)
    return BoardAtSaw(things, tuple(shapes), run_on, inside, labels, rules, kg_mm2)


def items_in(board: BoardAtSaw, piece: PieceAtSaw) -> Numbers:
    """Return which of the things to be freed a piece holds."""
    return piece.which[piece.which < board.things.items]


def left_piece(board: BoardAtSaw, piece: PieceAtSaw) -> LeftPiece:
    """Return what is told of a piece that is not cut any more."""
    held = board.held(piece.which)
    length, width = size_of(piece.shape)
    mass = None if board.kg_mm2 is None else board.kg_mm2 * piece.shape.area
    return LeftPiece(held.parts, held.offcuts, length, width, mass, is_handy(board, piece.shape))


def size_of(shape: Polygon) -> tuple[float, float]:
    """Return the length and width of the least rectangle around a piece."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.max()), float(sides.min())


def is_handy(board: BoardAtSaw, shape: Polygon) -> bool:
    """Return whether one person can handle a piece."""
    handy = board.rules.handy
    if size_of(shape)[0] > handy.length_mm + TOUCH_MM:
        return False
    return board.kg_mm2 is None or board.kg_mm2 * shape.area <= handy.weight_kg


@dataclass(frozen=True, eq=False)
class Sawn:
    """A cut that was made: with its room, what lay on either side, and the pieces it leaves."""

    cut: BreakDownCut
    sides: tuple[Held, Held]
    left: list[PieceAtSaw]


def sawn_by(board: BoardAtSaw, piece: PieceAtSaw, cut: BreakDownCut) -> Sawn:
    """Return what a cut leaves of a piece: until it meets another, a stopped one leaves a slot."""
    shapes = [
        shape
        for shape in sawn_apart(piece.shape, cut, board.rules.kerf_mm)
        if shape.area > SPLINTER_MM2
    ]
    nothing = Held((), ())
    if len(shapes) == 1:
        return Sawn(cut, (nothing, nothing), [replace(piece, shape=shapes[0])])
    turns = piece.turns + (not cut.is_stopped and cut.kind is not piece.last)
    left = [PieceAtSaw(one, _those_in(board, piece, one), turns, cut.kind) for one in shapes]
    held = [one for one in left if items_in(board, one).size]
    if cut.is_stopped:
        held.sort(key=lambda one: items_in(board, one).size)
        before, after = held[:1], held[1:]
    else:
        cut = replace(cut, room_mm=_room_mm(board, piece, cut))
        before, after = list[PieceAtSaw](), list[PieceAtSaw]()
        for one in held:
            (after if _is_after(one.shape, cut) else before).append(one)
    return Sawn(cut, (_held_in(board, before), _held_in(board, after)), left)


def _held_in(board: BoardAtSaw, pieces: Sequence[PieceAtSaw]) -> Held:
    """Return what several pieces hold."""
    none = np.zeros(0, dtype=np.int64)
    return board.held(np.sort(np.concatenate([none, *(one.which for one in pieces)])))


def _is_after(shape: Polygon, cut: BreakDownCut) -> bool:
    """Return whether wood beside a cut lies to the right of a cross-cut, or above any other."""
    ends, across = np.array([cut.start, cut.end]), np.asarray(normal_of(cut))
    below, above = (
        shapely.distance(LineString(ends + sign * across), shape) for sign in (-1.0, 1.0)
    )
    return bool(above < below)


def _those_in(board: BoardAtSaw, piece: PieceAtSaw, shape: Polygon) -> Numbers:
    """Return what a piece left of another holds, or comes near to: metal keeps a blade off both."""
    which = piece.which
    is_in, is_item = shapely.contains_xy(shape, board.inside[which]), which < board.things.items
    cores = np.array([board.shapes[number] for number in which], dtype=object)
    near = shapely.distance(cores, shape) <= board.things.reaches[which]
    return which[is_in | (~is_item & near)]


def _room_mm(board: BoardAtSaw, piece: PieceAtSaw, cut: BreakDownCut) -> float:
    """Return how much wider than the kerf the strip is between all that a line parts."""
    across = np.asarray(normal_of(cut))
    edge = shapely.get_coordinates(piece.shape) @ across
    low, high = float(edge.min()), float(edge.max())
    is_after = board.inside[piece.which] @ across > float(across @ np.asarray(cut.start))
    before, after = piece.which[~is_after], piece.which[is_after]
    if before.size:
        low = float(board.things.along(across[None, :], before)[1].max())
    if after.size:
        high = float(board.things.along(across[None, :], after)[0].min())
    return max(0.0, high - low - board.rules.kerf_mm)
