"""A board while it is broken down: its pieces, what each holds, and what a cut leaves of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.break_down.cuts import (
    BreakDownCut,
    CutKind,
    Held,
    LeftPiece,
    cut_deep_mm,
    kerf_of,
    normal_of,
)
from nesting.break_down.straight_lines import Things
from nesting.flat_geometry.overlay import without
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


def _stop_sawn(board: BoardAtSaw, piece: PieceAtSaw, cut: BreakDownCut) -> Sawn:
    """Return what a stopped cut leaves: the piece with a slot, or what the last of them parts."""
    wood = without(piece.shape, kerf_of(piece.shape, cut, board.rules.kerf_mm))
    shapes = [shape for shape in shapely.get_parts(wood) if shape.area > SPLINTER_MM2]
    nothing = Held((), ())
    if len(shapes) == 1:
        left = [replace(piece, shape=shapes[0])]
        return Sawn(cut, (nothing, nothing), left)
    places, is_item = board.inside[piece.which], piece.which < board.things.items
    left = []
    for shape in shapes:
        is_in = shapely.contains_xy(shape, places)
        cores = np.array([board.shapes[number] for number in piece.which], dtype=object)
        near = shapely.distance(cores, shape) <= board.things.reaches[piece.which]
        left.append(
            PieceAtSaw(shape, piece.which[is_in | (~is_item & near)], piece.turns, cut.kind)
        )
    left.sort(key=lambda one: len(items_in(board, one)))
    held = [one for one in left if items_in(board, one).size]
    sides = [np.sort(np.concatenate([one.which for one in some])) for some in (held[:1], held[1:])]
    return Sawn(cut, (board.held(sides[0]), board.held(sides[1])), left)


def sawn_by(board: BoardAtSaw, piece: PieceAtSaw, cut: BreakDownCut) -> Sawn:
    """Return what a cut leaves of a piece."""
    if cut.is_stopped:
        return _stop_sawn(board, piece, cut)
    across, kerf = np.asarray(normal_of(cut)), board.rules.kerf_mm
    at = float(across @ np.asarray(cut.start))
    places = board.inside[piece.which]
    is_after = places @ across > at
    is_item = piece.which < board.things.items
    wood = without(piece.shape, kerf_of(piece.shape, cut, kerf))
    turns = piece.turns + (cut.kind is not piece.last)
    left = []
    for shape in shapely.get_parts(wood):
        if shape.area <= SPLINTER_MM2:
            continue
        middle = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
        is_here = is_after == (middle @ across > at)
        # A hollow piece may fall into more than two; metal counts for all on its side.
        is_in = shapely.contains_xy(shape, places) | ~is_item
        left.append(PieceAtSaw(shape, piece.which[is_here & is_in], turns, cut.kind))
    before, after = piece.which[~is_after], piece.which[is_after]
    room = max(0.0, _free_mm(board, piece, across, (before, after)) - kerf)
    sides = board.held(before), board.held(after)
    return Sawn(replace(cut, room_mm=room), sides, left)


def _free_mm(
    board: BoardAtSaw,
    piece: PieceAtSaw,
    across: NDArray[np.float64],
    sides: tuple[Numbers, Numbers],
) -> float:
    """Return how wide the strip is between what lies on either side of a cut."""
    edge = shapely.get_coordinates(piece.shape) @ across
    low, high = float(edge.min()), float(edge.max())
    before, after = sides
    if before.size:
        low = float(board.things.along(across[None, :], before)[1].max())
    if after.size:
        high = float(board.things.along(across[None, :], after)[0].min())
    return high - low
