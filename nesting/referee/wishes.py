"""The referee's look at wishes: which of them a plan breaks, measured from where pieces lie.

It uses nothing of the packer, and knows of a plan no more than what stands in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.flat_geometry.overlay import without
from nesting.need import Need
from nesting.nest import At, CuttingPlan, Nest, Placement
from nesting.referee.check import check_nest
from nesting.referee.fault import Fault, require_none
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.wishes import Matched, Matching, Piece, Use, Used, Wish, Wishes, name_of, refuses
from nesting.words import first_few


@dataclass(frozen=True)
class Broken:
    """A wish that a plan breaks: where, how, and what that costs, mm2 (0 where it is a must).

    ``piece`` is the one that was to stay, where one was.
    """

    wish: Wish
    board: str
    measured: str
    cost_mm2: float = 0.0
    piece: Piece | None = None


def check_wishes(plan: CuttingPlan, wishes: Wishes, last: Sequence[At] = ()) -> tuple[Fault, ...]:
    """Return a fault for each wish that may not be broken, and is.

    Parameters
    ----------
    last
        Where pieces that are fixed lay in the last plan.
    """
    faults = [
        Fault(f"{broken.wish.title}", broken.board, broken.measured)
        for broken in broken_wishes(plan, wishes, last)
        if broken.wish.is_must
    ]
    return (*faults, *_check_stage(plan, wishes))


def require_wishes(plan: CuttingPlan, wishes: Wishes, last: Sequence[At] = ()) -> None:
    """Do nothing if a plan breaks no wish that is a must.

    Raises
    ------
    RefereeError
        With every fault, so that nothing is written from the plan.
    """
    require_none(check_wishes(plan, wishes, last))


def broken_wishes(plan: CuttingPlan, wishes: Wishes, last: Sequence[At] = ()) -> tuple[Broken, ...]:
    """Return every wish that a plan breaks, musts among them."""
    placed = {
        placement.piece: (nest.board, placement)
        for nest in plan.nests
        for placement in nest.placements
    }
    return (
        *_fixed(placed, wishes, last),
        *_from_boards(placed, wishes),
        *_used(plan, wishes),
        *_matched(placed, wishes),
    )


Placed = dict[Piece, tuple[Board, Placement]]


def _fixed(placed: Placed, wishes: Wishes, last: Sequence[At]) -> Iterator[Broken]:
    """Yield each fixed piece that does not lie where the last plan had it."""
    was = {at.piece: at for at in last}
    for wish in wishes.fixed:
        for piece in wish.pieces:
            at = was.get(piece)
            if at is None:
                continue
            if piece not in placed:
                left = f"{at.placement.label} is fixed there, and left over"
                yield replace(_broken(wish, at.board, left), piece=piece)
                continue
            board, placement = placed[piece]
            if not at.is_at(board.name, placement):
                here = f"board {board.name}, {_where(placement)}"
                lies = f"{placement.label} is fixed at {_where(at.placement)}, and lies on {here}"
                yield replace(_broken(wish, at.board, lies), piece=piece)


def _where(placement: Placement) -> str:
    return f"({placement.x_mm:.3f}, {placement.y_mm:.3f}) mm"


def _from_boards(placed: Placed, wishes: Wishes) -> Iterator[Broken]:
    """Yield each piece on a board that it is not to come from."""
    for wish in wishes.from_boards:
        for piece in wish.pieces:
            if piece not in placed:
                continue
            board, placement = placed[piece]
            is_named = board.name in wish.boards
            if is_named == wish.is_off:
                kept = "is kept off it" if wish.is_off else f"is to come from {_some(wish.boards)}"
                yield _broken(wish, board.name, f"{placement.label} {kept}")


def _used(plan: CuttingPlan, wishes: Wishes) -> Iterator[Broken]:
    """Yield each board that is not used as is wished."""
    nests = {nest.board.name: nest for nest in plan.nests if nest.placements}
    for wish in wishes.used:
        for name in wish.boards:
            if wish.use is Use.FIRST:
                if name not in nests and not wish.is_must:
                    yield _broken(wish, name, "it is to be used first, and is not opened")
                continue
            if name not in nests:
                continue
            if wish.use is Use.HELD_BACK:
                yield _broken(wish, name, "it is held back, and parts lie on it")
                continue
            for placement in nests[name].placements:
                if _is_cut_up(wish, placement, nests[name].board):
                    long = max(placement.need.outline.length_mm, placement.need.outline.width_mm)
                    yield _broken(
                        wish, name,
                        f"it is kept whole, and {placement.label} is {long:.1f} mm long, not over "
                        f"half of its {nests[name].board.length_mm:.1f} mm",
                    )  # fmt: skip


def _is_cut_up(wish: Used, placement: Placement, board: Board) -> bool:
    """Return whether a piece is too short for a board that is kept whole."""
    return refuses(wish, placement.need, board)


def _matched(placed: Placed, wishes: Wishes) -> Iterator[Broken]:
    """Yield each group of matched pieces that do not come from boards as is wished.

    Pieces that are left over break nothing: what is placed has to match.
    """
    for wish in wishes.matched:
        here = {piece: placed[piece] for piece in wish.pieces if piece in placed}
        if len(here) < 2:
            continue
        if wish.how is Matching.MIRRORED:
            yield from _mirrored(wish, list(here.values()), wishes)
            continue
        boards = [board.name for board, _ in here.values()]
        astray = min(
            (sum(board not in window for board in boards) for window in _within(wish, wishes)),
            default=len(boards),
        )
        astray = min(astray, *(sum(b != own for b in boards) for own in boards))
        if astray:
            names = "; ".join(f"{p.label} on {b.name}" for b, p in here.values())
            measured = f"{names}: {_called(wish)}"
            cost = (wish.price_mm2 or 0.0) * astray
            yield Broken(wish, boards[0], measured, cost)


def _within(wish: Matched, wishes: Wishes) -> Iterator[tuple[str, ...]]:
    return iter(()) if wish.how is Matching.ONE else wishes.windows(wish)


def _mirrored(
    wish: Matched, pair: list[tuple[Board, Placement]], wishes: Wishes
) -> Iterator[Broken]:
    """Yield a pair that does not lie over each other on two neighbouring leaves."""
    (first, one), (second, other) = pair[:2]
    are_leaves = any({first.name, second.name} == set(window) for window in wishes.windows(wish))
    apart = without(one.polygon, other.polygon).area + without(other.polygon, one.polygon).area
    if are_leaves and apart <= float(one.polygon.length) * TOUCH_MM:
        return
    measured = (
        f"{one.label} on {first.name}, {other.label} on {second.name}: {apart:.1f} mm2 of them do "
        "not lie over each other"
        if are_leaves
        else f"{one.label} on {first.name}, {other.label} on {second.name}: these are no "
        "neighbouring leaves of one board"
    )
    yield _broken(wish, first.name, measured)


def _called(wish: Matched) -> str:
    if wish.how is Matching.ONE:
        return "they are to come from one board"
    return "they are to come from neighbouring boards, no more of them than pieces"


def _check_stage(plan: CuttingPlan, wishes: Wishes) -> Iterator[Fault]:
    """Yield each piece that is placed, and not needed yet."""
    later = wishes.not_yet
    for nest in plan.nests:
        for placement in nest.placements:
            wish = later.get(placement.piece)
            if wish is not None:
                yield Fault(
                    wish.title, nest.board.name,
                    f"{placement.label} is of stage {wish.stage}, and stage {wishes.stage} is "
                    "nested",
                )  # fmt: skip


def _broken(wish: Wish, board: str, measured: str) -> Broken:
    return Broken(wish, board, measured, wish.price_mm2 or 0.0)


def _some(boards: Sequence[str]) -> str:
    return first_few(boards, 4)


def unsound_fixed(
    wishes: Wishes,
    stay: Sequence[At],
    boards: Sequence[Board],
    rules: Rules,
    needs: Sequence[Need],
    *,
    where: str,
) -> Iterator[tuple[str, str]]:
    """Yield the title of a wish and why one of its fixed pieces cannot stay where it lies.

    Parameters
    ----------
    stay
        Where fixed pieces lay in the last plan.
    where
        What that plan is called, or the place where there is none.
    """
    was = {at.piece: at for at in stay}
    named = {need.part: need for need in needs}
    for piece, wish in wishes.must_stay.items():
        if piece not in was:
            what = f"{name_of(piece, named)} lies nowhere in {where}"
            yield wish.title, f"fixed: {what}: nest once without this wish"
        elif piece in wishes.not_yet:
            yield wish.title, f"fixed: {name_of(piece, named)} is of a later stage"
    board_of = {board.name: board for board in boards}
    for name in dict.fromkeys(at.board for at in stay):
        own = [at for at in stay if at.board == name]
        if name not in board_of:
            for at in own:
                piece = at.piece
                what = f"fixed: {at.placement.label} lay on {name}, which is no board any more"
                yield wishes.must_stay[piece].title, what
            continue
        for fault in check_nest(Nest(board_of[name], tuple(at.placement for at in own)), rules):
            yield _told_fault(fault, own, wishes)
    lying = [
        Nest(board_of[name], tuple(at.placement for at in stay if at.board == name))
        for name in dict.fromkeys(at.board for at in stay if at.board in board_of)
    ]
    for fault in check_wishes(CuttingPlan(tuple(lying)), wishes):
        yield _told_fault(fault, [at for at in stay if at.board == fault.board], wishes)


CURE = "take the piece out of this wish, or put right what is in its way"


def _told_fault(fault: Fault, own: Sequence[At], wishes: Wishes) -> tuple[str, str]:
    """Return the wish that fixes the piece that a fault names, and what is wrong."""
    named = [at for at in own if at.placement.label in fault.measured] or list(own)
    title = wishes.must_stay[named[0].piece].title
    return title, f"fixed: {fault.board}: {fault.rule}: {fault.measured}: {CURE}"
