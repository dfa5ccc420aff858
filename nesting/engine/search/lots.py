"""Pieces of one part that are wished alike: what a search with wishes has for needs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.need import Need
from nesting.wishes import Piece, Wishes, pieces_of

LATER_SHARE = 0.5
"""All pieces of later stages together are worth so much of the least piece needed now: it always
comes first. They are worth a thousandth of themselves at the least, so that figures stay sound."""

LEAST_LATER = 1e-3


@dataclass(frozen=True)
class Lot:
    """Pieces of one part that are wished alike.

    Attributes
    ----------
    need
        As the search has it: so many of them, worth less if they are of a later stage.
    whole
        As the project wants it.
    is_later
        Whether they are only kept in view.
    """

    need: Need
    whole: Need
    numbers: tuple[int, ...]
    is_later: bool = False

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """What they are called."""
        return tuple((self.whole.part, number) for number in self.numbers)


def lots_of(
    needs: Sequence[Need], wishes: Wishes, apart: frozenset[Piece] = frozenset()
) -> tuple[Lot, ...]:
    """Return the pieces in lots that are wished alike, but for some that are set apart."""
    later = wishes.not_yet
    titles: dict[Piece, list[str]] = defaultdict(list)
    named = [(wish.title, wish.pieces) for wish in wishes.from_boards]
    for title, pieces in (*named, *((wish.title, wish.pieces) for wish in wishes.matched)):
        for piece in pieces:
            titles[piece].append(title)
    found = list[Lot]()
    for need in needs:
        numbers: dict[tuple[bool, tuple[str, ...]], list[int]] = defaultdict(list)
        for piece in pieces_of(need):
            if piece not in apart:
                numbers[piece in later, tuple(titles[piece])].append(piece[1])
        for (is_later, _), own in numbers.items():
            found.append(Lot(need.of_these(own), need, tuple(own), is_later))
    return _with_later_less(found)


def _with_later_less(lots: Sequence[Lot]) -> tuple[Lot, ...]:
    """Return lots with those of later stages worth so little that the others come first."""
    if not any(lot.is_later for lot in lots):
        return tuple(lots)
    now = [lot.need.worth for lot in lots if not lot.is_later and lot.need.worth > 0]
    whole = sum(lot.need.worth * lot.need.quantity for lot in lots if lot.is_later)
    share = max(LEAST_LATER, LATER_SHARE * min(now, default=1.0) / whole) if whole else 1.0
    return tuple(
        replace(lot, need=replace(lot.need, value=lot.need.worth * min(1.0, share)))
        if lot.is_later
        else lot
        for lot in lots
    )
