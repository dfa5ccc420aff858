"""What remains of a board when wood was sawn out of it, with all that the wood inherits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
import shapely.affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.book.wood import Data, board_data, moved_board
from nesting.flat_geometry.overlay import polygons_of, shared, united, without
from nesting.stock.board import ON_BOARD_MM, SMALLEST_MM, Board
from nesting.stock.keep_out import KeepOut

SPECK_MM2 = 1.0
"""What is smaller comes from rounding: a piece of a keep-out, a crumb of wood."""

STEPS_PER_QUARTER = 4
"""Chords that stand for the round about a corner: what is left has 0.1 mm too much there."""

SPECK_MM = 0.1
"""So far a web is grown into the wood that it hangs on."""


@dataclass(frozen=True)
class Rest:
    """A piece of wood that is left: as data in its own frame, and where that lies in the parent's.

    ``wood`` is its outline, openings and all, in the parent's frame.
    """

    data: Data
    at: tuple[float, float]
    wood: Polygon


def sawn_away(pieces: Sequence[Polygon], around_mm: float) -> BaseGeometry:
    """Return what saw and trim take about pieces, the pieces with it.

    Round a corner it is no more than that: a piece planned beside it keeps its own trim.
    """
    return united([piece.buffer(around_mm, quad_segs=STEPS_PER_QUARTER) for piece in pieces])


def left_after(
    wood: Polygon, taken: BaseGeometry, planned: Sequence[Polygon] = ()
) -> list[Polygon]:
    """Return the pieces that wood falls into when some is taken, largest first; no splinters.

    A web too narrow to be a board holds nothing together: it is split off with the piece. One
    with pieces in it that are still ``planned`` stays.
    """
    rest = without(wood, taken)
    stout = shared(_grown(_grown(rest, -SMALLEST_MM / 2), SMALLEST_MM / 2), rest)
    webs = [web for web in polygons_of(without(rest, stout)) if _holds_some(web, planned)]
    # Where a web is cut off the corners are rounded to a grid: they are laid over each other.
    rest = united([stout, *(shared(web.buffer(SPECK_MM), rest) for web in webs)])
    kept = [_clean(part) for part in polygons_of(rest) if _is_board(part)]
    return sorted(kept, key=lambda part: (-part.area, part.bounds))


def _holds_some(web: Polygon, planned: Sequence[Polygon]) -> bool:
    return any(shared(web, piece).area > SPECK_MM2 for piece in planned)


def _grown(shape: BaseGeometry, by_mm: float) -> BaseGeometry:
    """Return a shape grown, or shrunk where the length is below 0, its corners left sharp."""
    return shape.buffer(by_mm, join_style="mitre", mitre_limit=10.0)


def _is_board(shape: Polygon) -> bool:
    low_x, low_y, high_x, high_y = shape.bounds
    return min(high_x - low_x, high_y - low_y) >= SMALLEST_MM


def _clean(shape: Polygon) -> Polygon:
    """Return an outline without openings that come from rounding."""
    inner = [ring for ring in shape.interiors if Polygon(ring).area > SPECK_MM2]
    return Polygon(shape.exterior, inner)


def rest_of(board: Board, wood: Polygon) -> Rest:
    """Return a piece of a board as it goes into the book, its lower left corner at (0, 0).

    It inherits thickness, wood, grain, face and the keep-outs that lie in it.
    """
    low_x, low_y, _, _ = wood.bounds
    inherited = tuple(kept for keep_out in board.keep_outs for kept in kept_in(keep_out, wood))
    bare = replace(board, shape=Polygon(wood.exterior), keep_outs=inherited)
    moved = moved_board(bare, -low_x, -low_y)
    at_zero = shapely.affinity.translate(wood, -low_x, -low_y)
    return Rest(board_data(moved, at_zero), (low_x, low_y), wood)


def kept_in(keep_out: KeepOut, wood: Polygon) -> Iterator[KeepOut]:
    """Yield what a piece of wood has of a keep-out: all of it, or what the saw left of it."""
    if keep_out.is_opening:
        return
    if not shapely.intersects(keep_out.polygon, wood):
        return
    inside = shared(keep_out.polygon, wood)
    # The point of a nail is no larger than a crumb: more than half of it is no crumb of it.
    speck = min(SPECK_MM2, 0.5 * keep_out.polygon.area)
    if inside.area < speck:
        return
    is_whole = inside.area >= keep_out.polygon.area * 0.999
    if is_whole and shapely.distance(wood, keep_out.core) <= ON_BOARD_MM:
        yield keep_out
        return
    for part in getattr(inside, "geoms", [inside]):
        if isinstance(part, Polygon) and part.area >= speck:
            yield replace(keep_out, core=Polygon(part.exterior), reach_mm=0.0)
