"""Which pieces of the last plan may stay where they lie, on the boards as they are now."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from nesting.check import check_nest
from nesting.need import Need
from nesting.nest import At, Nest, Placement
from nesting.rules import Rules
from nesting.stock.board import Board


def still_sound(
    last: Sequence[At],
    boards: Sequence[Board],
    rules: Rules,
    before: Sequence[At] = (),
) -> tuple[At, ...]:
    """Return those that the referee still passes, each beside those kept before it.

    Parameters
    ----------
    before
        What lies there in any case. Of two that are in each other's way the dearer stays.
    """
    board_of = {board.name: board for board in boards}
    lying: dict[str, list[Placement]] = defaultdict(list)
    for at in before:
        lying[at.board].append(at.placement)
    groups: dict[str, list[At]] = defaultdict(list)
    for at in last:
        if at.board in board_of:
            groups[at.board].append(at)
    kept = {
        id(at)
        for name, group in groups.items()
        for at in _sound_on(board_of[name], group, lying[name], rules)
    }
    return tuple(at for at in last if id(at) in kept)


def _sound_on(board: Board, group: Sequence[At], lying: list[Placement], rules: Rules) -> list[At]:
    """Return those of a board's pieces that may stay there."""
    if not check_nest(Nest(board, (*lying, *(at.placement for at in group))), rules):
        return list(group)
    kept = list[At]()
    for at in sorted(group, key=lambda at: -at.placement.need.worth):
        if not check_nest(Nest(board, (*lying, at.placement)), rules):
            lying.append(at.placement)
            kept.append(at)
    return kept


def wanted_still(last: Sequence[At], needs: Sequence[Need]) -> tuple[At, ...]:
    """Return the pieces that are still asked for, each once; all have the need as it is now."""
    quantity = {need.part: need.quantity for need in needs}
    seen: Counter[tuple[str, int]] = Counter()
    found = list[At]()
    for at in last:
        piece = at.piece
        seen[piece] += 1
        if seen[piece] == 1 and 1 <= piece[1] <= quantity.get(piece[0], 0):
            found.append(at)
    return tuple(found)
