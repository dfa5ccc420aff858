"""Break-down cuts: an order of straight cuts that frees a board's parts into pieces to handle.

Every cut runs right across the piece it is made in, from edge to edge, so that a hand-held
circular saw can make it; it touches no part with its trim and nothing that is kept, and stays
clear of metal on both sides of its kerf. Cross-cuts are square to the board's x axis, rips along
it; oblique cuts come where neither parts anything any more.

A cut that is possible stays possible, and parts as much, after any other: cut a piece, and what
could be sawn across it can be sawn across what is left of it. So whatever the order, as long as
cuts are made while there are any, the same parts come free; the order is chosen for the hand.
What straight cuts leave together is for cuts that stop in the wood, where they may
(:mod:`nesting.break_down.stopped_cuts`), and then for the bandsaw or the saber saw.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from nesting.break_down.at_the_saw import (
    BoardAtSaw,
    PieceAtSaw,
    Sawn,
    board_at_saw,
    is_handy,
    items_in,
    left_piece,
    sawn_by,
)
from nesting.break_down.cuts import (
    BreakDown,
    BreakDownCut,
    CutKind,
    runs_across,
)
from nesting.break_down.stopped_cuts import Wood, stopped_cuts
from nesting.break_down.straight_lines import Gap, oblique_gaps, roomiest, square_gaps
from nesting.nest import Nest
from nesting.offcuts import Offcut
from nesting.rules import TOUCH_MM, Rules

WASTE_END_MM = 150.0
"""A shorter end without a part is not sawn off for itself (common practice, no source)."""


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
    board = board_at_saw(nest, offcuts, rules, density_kg_m3)
    whole = PieceAtSaw(nest.board.shape, np.arange(len(board.things.hulls)))
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
    board = board_at_saw(nest, offcuts, rules, density_kg_m3)
    open_ones = [PieceAtSaw(nest.board.shape, np.arange(len(board.things.hulls)))]
    sawn = list[Sawn]()
    for cut in cuts:
        line = LineString([cut.start, cut.end])
        lengths = shapely.length(shapely.intersection([p.shape for p in open_ones], line))
        piece = open_ones.pop(int(np.argmax(lengths)))
        sawn.append(sawn_by(board, piece, cut))
        open_ones += sawn[-1].left
    return _ended(board, sawn, open_ones)


def _broken_down(board: BoardAtSaw, whole: PieceAtSaw, *, may_stop: bool) -> BreakDown:
    """Cut until nothing is to be cut: large pieces first, then as the saw is set, from the left."""
    sawn, done = list[Sawn](), list[PieceAtSaw]()
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
                sawn.append(sawn_by(board, left[0], cut))
                left = sawn[-1].left
            waiting += [(one, _next_cut(board, one)) for one in left]
            continue
        kind, gap = found
        one = sawn_by(board, piece, _laid(board, piece, kind, gap))
        if _windows(one.left) == _windows([piece]) and len(one.left) < 2:
            done.append(piece)  # it took splinters alone, and would again
            continue
        sawn.append(one)
        waiting += [(left, _next_cut(board, left)) for left in one.left]
    return _ended(board, sawn, done)


def _stopped(board: BoardAtSaw, piece: PieceAtSaw) -> tuple[BreakDownCut, ...]:
    """Return stopped cuts that part something in a piece, if there are any."""
    items = items_in(board, piece)
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


def _order(board: BoardAtSaw, piece: PieceAtSaw, found: _Found | None) -> tuple[float, ...]:
    if found is None:
        return (-1.0,)
    turns = piece.turns + (found[0] is not piece.last)
    low_x, low_y, _, _ = piece.shape.bounds
    return float(is_handy(board, piece.shape)), float(turns), low_x, low_y


def _ended(board: BoardAtSaw, sawn: Sequence[Sawn], pieces: Iterable[PieceAtSaw]) -> BreakDown:
    """Return all that was done; pieces in the order of what they hold, however they came about."""
    left = [piece for piece in pieces if items_in(board, piece).size]
    left.sort(key=lambda piece: int(piece.which[0]))
    return BreakDown(
        tuple(one.cut for one in sawn),
        tuple(one.sides for one in sawn),
        tuple(left_piece(board, piece) for piece in left),
    )


def _next_cut(board: BoardAtSaw, piece: PieceAtSaw) -> _Found | None:
    """Return the cut to make in a piece, or None if it is done with.

    The shorter way of the two square ones comes first: cross-cuts on long pieces.
    """
    items = items_in(board, piece)
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


def _handiest(board: BoardAtSaw, piece: PieceAtSaw, gaps: Sequence[Gap], axis: int) -> Gap:
    """Return the gap to saw in first: near the middle of what is too large, else the first."""
    if is_handy(board, piece.shape):
        return min(gaps, key=lambda gap: gap.low)
    low, high = piece.shape.bounds[axis], piece.shape.bounds[axis + 2]
    return min(gaps, key=lambda gap: abs(gap.low + gap.high - low - high))


def _waste_end(board: BoardAtSaw, piece: PieceAtSaw) -> Gap | None:
    """Return where an end that holds nothing is sawn off a piece too large to handle, if any."""
    if is_handy(board, piece.shape):
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


def _best_oblique(board: BoardAtSaw, piece: PieceAtSaw) -> Gap | None:
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


def _laid(board: BoardAtSaw, piece: PieceAtSaw, kind: CutKind, gap: Gap) -> BreakDownCut:
    """Return the cut in a gap: along the edge of what is kept if it can be, else in the middle."""
    half = board.rules.kerf_mm / 2
    at = (gap.low + gap.high) / 2
    if kind is not CutKind.OBLIQUE:
        at = _beside(board, gap, half, at)
    cuts = [BreakDownCut(kind, *run) for run in runs_across(piece.shape, gap.normal, at)]
    return cuts[0] if len(cuts) == 1 else max(cuts, key=lambda cut: _parted(board, piece, cut))


def _parted(board: BoardAtSaw, piece: PieceAtSaw, cut: BreakDownCut) -> tuple[int, int, int]:
    """Return what one of several runs of a line does: pieces with something in them, pieces, and
    then how few windows are left.
    """
    left = sawn_by(board, piece, cut).left
    held = sum(items_in(board, one).size > 0 for one in left)
    return held, len(left), -_windows(left)


def _windows(pieces: Iterable[PieceAtSaw]) -> int:
    """Return how many windows pieces have, where parts were let out of them."""
    return sum(len(piece.shape.interiors) for piece in pieces)


def _beside(board: BoardAtSaw, gap: Gap, half_mm: float, middle: float) -> float:
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
