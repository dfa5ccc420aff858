"""Break-down cuts: an order of straight cuts that frees a board's parts into pieces to handle.

Every cut runs right across the piece it is made in, from edge to edge, so that a hand-held
circular saw can make it; it touches no part with its trim and nothing that is kept, and stays
clear of metal on both sides of its kerf. Cross-cuts are square to the board's x axis, rips along
it; oblique cuts come where neither parts anything any more.

A cut that is possible stays possible, and parts as much, after any other: cut a piece, and what
could be sawn across it can be sawn across what is left of it. So whatever the order, as long as
cuts are made while there are any, the same parts come free; the order is chosen for the hand.
What straight cuts leave together is for cuts that stop in the wood, where they may
(:mod:`nesting.stopped_cuts`), and then for the bandsaw or the saber saw.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.break_down_cuts import (
    BreakDown,
    BreakDownCut,
    CutKind,
    Held,
    LeftPiece,
    cut_deep_mm,
    ends_across,
    kerf_of,
    normal_of,
)
from nesting.nest import Nest
from nesting.offcuts import Offcut
from nesting.overlay import without
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.keep_out import KeepOutKind
from nesting.stopped_cuts import Wood, stopped_cuts
from nesting.straight_lines import Gap, Things, oblique_gaps, roomiest, square_gaps

Numbers = NDArray[np.int64]

WASTE_END_MM = 150.0
"""A shorter end without a part is not sawn off for itself (common practice, no source)."""

SPLINTER_MM2 = 1.0
"""Less wood than this beside a cut is dust."""


@dataclass(frozen=True, eq=False)
class _Board:
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
class _Piece:
    """A piece of the board while it is cut; ``turns`` is how often the saw's way was changed."""

    shape: Polygon
    which: Numbers
    turns: int = 0
    last: CutKind = CutKind.CROSS


def broken_down(
    nest: Nest,
    offcuts: Sequence[Offcut],
    rules: Rules,
    *,
    density_kg_m3: float | None = None,
    may_stop: bool = False,
) -> BreakDown:
    """Return the break-down cuts of one board, and what they leave.

    Parameters
    ----------
    offcuts
        What is kept of the board: freed as parts are, and never cut into.
    density_kg_m3
        Of its wood, for the weight of pieces; None if it is not known.
    may_stop
        Whether the saw may be stopped in the wood where no through cut parts anything any more.
    """
    board = _board(nest, offcuts, rules, density_kg_m3)
    whole = _Piece(nest.board.shape, np.arange(len(board.things.hulls)))
    return _broken_down(board, whole, may_stop=may_stop)


def as_cut(
    nest: Nest,
    offcuts: Sequence[Offcut],
    rules: Rules,
    cuts: Iterable[BreakDownCut],
    *,
    density_kg_m3: float | None = None,
) -> BreakDown:
    """Return what cuts that are known already leave of a board."""
    board = _board(nest, offcuts, rules, density_kg_m3)
    open_ones = [_Piece(nest.board.shape, np.arange(len(board.things.hulls)))]
    sawn = list[_Sawn]()
    for cut in cuts:
        line = LineString([cut.start, cut.end])
        lengths = shapely.length(shapely.intersection([p.shape for p in open_ones], line))
        piece = open_ones.pop(int(np.argmax(lengths)))
        sawn.append(_sawn(board, piece, cut))
        open_ones += sawn[-1].left
    return _ended(board, sawn, open_ones)


def _board(
    nest: Nest, offcuts: Sequence[Offcut], rules: Rules, density_kg_m3: float | None
) -> _Board:
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
    return _Board(things, tuple(shapes), run_on, inside, labels, rules, kg_mm2)


def _broken_down(board: _Board, whole: _Piece, *, may_stop: bool) -> BreakDown:
    """Cut until nothing is to be cut: large pieces first, then as the saw is set, from the left."""
    sawn, done = list[_Sawn](), list[_Piece]()
    waiting = [(whole, _next_cut(board, whole))]
    while waiting:
        place = min(range(len(waiting)), key=lambda number: _order(board, *waiting[number]))
        piece, found = waiting.pop(place)
        if found is None:
            cuts = _stopped(board, piece) if may_stop else ()
            if not cuts:
                done.append(piece)
                continue
            left = [piece]
            for cut in cuts:
                sawn.append(_sawn(board, left[0], cut))
                left = sawn[-1].left
            waiting += [(one, _next_cut(board, one)) for one in left]
            continue
        kind, gap = found
        sawn.append(_sawn(board, piece, _laid(board, piece, kind, gap)))
        waiting += [(one, _next_cut(board, one)) for one in sawn[-1].left]
    return _ended(board, sawn, done)


def _stopped(board: _Board, piece: _Piece) -> tuple[BreakDownCut, ...]:
    """Return stopped cuts that part something in a piece, if there are any."""
    items = _items(board, piece)
    if board.run_on_mm is None or items.size < 2:
        return ()
    which = piece.which.tolist()
    wood = Wood(
        piece.shape,
        [board.shapes[number] for number in which],
        [float(board.things.reaches[number]) for number in which],
        board.rules.kerf_mm,
        board.run_on_mm,
    )
    found = [which.index(number) for number in items.tolist()]
    parts = [place for place in found if which[place] < len(board.labels)]
    return stopped_cuts(wood, found, parts)


_Found = tuple[CutKind, Gap]


def _order(board: _Board, piece: _Piece, found: _Found | None) -> tuple[float, ...]:
    if found is None:
        return (-1.0,)
    turns = piece.turns + (found[0] is not piece.last)
    low_x, low_y, _, _ = piece.shape.bounds
    return float(_is_handy(board, piece.shape)), float(turns), low_x, low_y


def _ended(board: _Board, sawn: Sequence[_Sawn], pieces: Iterable[_Piece]) -> BreakDown:
    """Return all that was done; pieces in the order of what they hold, however they came about."""
    left = [piece for piece in pieces if _items(board, piece).size]
    left.sort(key=lambda piece: int(piece.which[0]))
    return BreakDown(
        tuple(one.cut for one in sawn),
        tuple(one.sides for one in sawn),
        tuple(_left_piece(board, piece) for piece in left),
    )


def _items(board: _Board, piece: _Piece) -> Numbers:
    return piece.which[piece.which < board.things.items]


def _left_piece(board: _Board, piece: _Piece) -> LeftPiece:
    held = board.held(piece.which)
    length, width = _size(piece.shape)
    mass = None if board.kg_mm2 is None else board.kg_mm2 * piece.shape.area
    return LeftPiece(held.parts, held.offcuts, length, width, mass, _is_handy(board, piece.shape))


def _size(shape: Polygon) -> tuple[float, float]:
    """Return the length and width of the least rectangle around a piece."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.max()), float(sides.min())


def _is_handy(board: _Board, shape: Polygon) -> bool:
    """Return whether one person can handle a piece."""
    handy = board.rules.handy
    if _size(shape)[0] > handy.length_mm + TOUCH_MM:
        return False
    return board.kg_mm2 is None or board.kg_mm2 * shape.area <= handy.weight_kg


def _next_cut(board: _Board, piece: _Piece) -> _Found | None:
    """Return the cut to make in a piece, or None if it is done with.

    The shorter way of the two square ones comes first: cross-cuts on long pieces.
    """
    items = _items(board, piece)
    if not items.size:
        return None
    things, kerf = board.things, board.rules.kerf_mm
    low_x, low_y, high_x, high_y = piece.shape.bounds
    ways = [(CutKind.CROSS, 0), (CutKind.RIP, 1)]
    if high_x - low_x < high_y - low_y:
        ways.reverse()
    if items.size > 1:
        for kind, axis in ways:
            gaps = square_gaps(things, piece.which, axis, kerf)
            if gaps:
                return kind, _handiest(board, piece, gaps, axis)
            if axis == 0 and (end := _waste_end(board, piece)):
                return kind, end
        gap = _best_oblique(board, piece)
        if gap is not None:
            return CutKind.OBLIQUE, gap
    end = _waste_end(board, piece)
    return (CutKind.CROSS, end) if end else None


def _handiest(board: _Board, piece: _Piece, gaps: Sequence[Gap], axis: int) -> Gap:
    """Return the gap to saw in first: near the middle of what is too large, else the first."""
    if _is_handy(board, piece.shape):
        return min(gaps, key=lambda gap: gap.low)
    low, high = piece.shape.bounds[axis], piece.shape.bounds[axis + 2]
    return min(gaps, key=lambda gap: abs(gap.low + gap.high - low - high))


def _waste_end(board: _Board, piece: _Piece) -> Gap | None:
    """Return where an end that holds nothing is sawn off a piece too large to handle, if any."""
    if _is_handy(board, piece.shape):
        return None
    things, kerf = board.things, board.rules.kerf_mm
    spans, is_item = things.spans[piece.which], piece.which < things.items
    low, high = float(spans[is_item, 0].min()), float(spans[is_item, 2].max())
    low_x, _, high_x, _ = piece.shape.bounds
    none = np.zeros(0, dtype=np.int64)
    found = list[tuple[float, Gap]]()
    for begin, end in _free_beyond(spans[~is_item], high, high_x - kerf, kerf):
        found.append((high_x - begin, Gap(piece.which, none, begin, end, (1.0, 0.0))))
        break
    for begin, end in reversed(list(_free_beyond(spans[~is_item], low_x + kerf, low, kerf))):
        found.append((end - low_x, Gap(none, piece.which, begin, end, (1.0, 0.0))))
        break
    found = [one for one in found if one[0] >= WASTE_END_MM + kerf]
    return max(found, key=lambda one: one[0])[1] if found else None


def _free_beyond(
    spans: NDArray[np.float64], low: float, high: float, kerf_mm: float
) -> Iterator[tuple[float, float]]:
    """Yield the stretches from low to high that no metal is near, each as wide as the kerf."""
    begin = low
    for row in spans[np.argsort(spans[:, 0])]:
        if min(row[0], high) - begin >= kerf_mm:
            yield begin, float(min(row[0], high))
        begin = max(begin, float(row[2]))
    if high - begin >= kerf_mm:
        yield begin, high


def _best_oblique(board: _Board, piece: _Piece) -> Gap | None:
    """Return the oblique cut after which most square ones follow; of those, the roomiest."""
    things, kerf = board.things, board.rules.kerf_mm
    gaps = [roomiest(things, gap) for gap in oblique_gaps(things, piece.which, kerf)]
    if not gaps:
        return None

    def follow(gap: Gap) -> int:
        return sum(
            len(square_gaps(things, side, axis, kerf))
            for side in (gap.before, gap.after)
            for axis in (0, 1)
        )

    return max(gaps, key=lambda gap: (follow(gap), gap.room_mm))


def _laid(board: _Board, piece: _Piece, kind: CutKind, gap: Gap) -> BreakDownCut:
    """Return the cut in a gap: along the edge of what is kept if it can be, else in the middle."""
    half = board.rules.kerf_mm / 2
    at = (gap.low + gap.high) / 2
    if kind is not CutKind.OBLIQUE:
        at = _beside(board, gap, half, at)
    start, end = ends_across(piece.shape, gap.normal, at)
    return BreakDownCut(kind, start, end)


def _beside(board: _Board, gap: Gap, half_mm: float, middle: float) -> float:
    """Return where a square cut runs: a kept piece's edge, or a waste end's, saves another cut."""
    things, axis = board.things, 0 if gap.normal[0] else 1
    if not gap.after.size or not gap.before.size:
        return gap.low + half_mm if gap.before.size else gap.high - half_mm
    first, count = len(board.labels), things.items
    for side, edge, column, away in (
        (gap.before, gap.low, axis + 2, half_mm),
        (gap.after, gap.high, axis, -half_mm),
    ):
        kept = side[(side >= first) & (side < count)]
        if np.any(np.abs(things.spans[kept, column] - edge) <= TOUCH_MM):
            return edge + away
    return middle


@dataclass(frozen=True, eq=False)
class _Sawn:
    """A cut that was made: with its room, what lay on either side, and the pieces it leaves."""

    cut: BreakDownCut
    sides: tuple[Held, Held]
    left: list[_Piece]


def _stop_sawn(board: _Board, piece: _Piece, cut: BreakDownCut) -> _Sawn:
    """Return what a stopped cut leaves: the piece with a slot, or what the last of them parts."""
    wood = without(piece.shape, kerf_of(piece.shape, cut, board.rules.kerf_mm))
    shapes = [shape for shape in shapely.get_parts(wood) if shape.area > SPLINTER_MM2]
    nothing = Held((), ())
    if len(shapes) == 1:
        left = [replace(piece, shape=shapes[0])]
        return _Sawn(cut, (nothing, nothing), left)
    places, is_item = board.inside[piece.which], piece.which < board.things.items
    left = []
    for shape in shapes:
        is_in = shapely.contains_xy(shape, places)
        cores = np.array([board.shapes[number] for number in piece.which], dtype=object)
        near = shapely.distance(cores, shape) <= board.things.reaches[piece.which]
        left.append(_Piece(shape, piece.which[is_in | (~is_item & near)], piece.turns, cut.kind))
    left.sort(key=lambda one: len(_items(board, one)))
    held = [one for one in left if _items(board, one).size]
    sides = [np.sort(np.concatenate([one.which for one in some])) for some in (held[:1], held[1:])]
    return _Sawn(cut, (board.held(sides[0]), board.held(sides[1])), left)


def _sawn(board: _Board, piece: _Piece, cut: BreakDownCut) -> _Sawn:
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
        left.append(_Piece(shape, piece.which[is_here & is_in], turns, cut.kind))
    before, after = piece.which[~is_after], piece.which[is_after]
    room = max(0.0, _free_mm(board, piece, across, (before, after)) - kerf)
    sides = board.held(before), board.held(after)
    return _Sawn(replace(cut, room_mm=room), sides, left)


def _free_mm(
    board: _Board, piece: _Piece, across: NDArray[np.float64], sides: tuple[Numbers, Numbers]
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
