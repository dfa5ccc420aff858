"""Which pieces of the last plan may stay where they lie, on the boards as they are now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from nesting.need import Need
from nesting.nest import At, Nest, Placement
from nesting.referee.check import check_nest
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
    by_part = {need.part: need for need in needs}
    seen = set[tuple[str, int]]()
    found = list[At]()
    for at in last:
        part, number = at.piece
        need = by_part.get(part)
        copy = None if need is None else need.copy_of(number)
        if need is not None and copy is not None and at.piece not in seen:
            placement = replace(at.placement, need=need, copy=copy)
            found.append(replace(at, placement=placement))
        seen.add(at.piece)
    return tuple(found)
