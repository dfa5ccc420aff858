"""What is wished of a plan beyond the rules: which piece from which board, what stays as it lies.

A wish without a price is a must: no plan breaks it, and a part may be left over for it. One with a
price is broken where that saves more wood than the price; it never leaves a part over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

from nesting.need import Need
from nesting.stock.board import Board

Piece = tuple[str, int]
"""One piece: its part's name, and its number among all of them, from 1, sawn ones counted in."""

MORE_THAN = 0.5
"""A board that is kept whole gives only parts longer than this share of its length: two of them
never come out of it end to end, so it is not cut up (common practice, no source)."""

USUAL_MOVING_MM2 = 100_000.0
"""What moving a piece of the last plan has to save where no wish says: 0.1 m2, about a square foot
of wood, for chalking it anew (common practice, no source). At half of that, a nail in one of twelve
boards of the full demo moved a tenth of the pieces on the others, which saved a board."""


class Use(StrEnum):
    """What is wished of a board itself."""

    HELD_BACK = "held back"
    """It is not opened."""
    KEPT_WHOLE = "kept whole"
    """It gives only parts longer than half of it."""
    FIRST = "first"
    """It is used up before other boards are opened: its wood counts for nothing."""


class Matching(StrEnum):
    """How the boards of pieces that are to match hang together."""

    ONE = "one board"
    NEIGHBOURS = "neighbouring boards"
    """As many boards at most as there are pieces, side by side in a group, or leaves of one."""
    MIRRORED = "mirrored"
    """Two pieces over each other on neighbouring leaves of one board, which open like a book."""


@dataclass(frozen=True)
class Wish:
    """What every wish has.

    Attributes
    ----------
    title
        What it is called in messages: ``wish 3``.
    price_mm2
        Wood that breaking it has to save, for each piece or board that breaks it; None: a must.
    """

    title: str
    price_mm2: float | None = field(default=None, kw_only=True)

    @property
    def is_must(self) -> bool:
        """Whether no plan may break it."""
        return self.price_mm2 is None


@dataclass(frozen=True)
class Fixed(Wish):
    """Pieces that stay where the last plan put them."""

    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class FromBoards(Wish):
    """Pieces that are to come from some boards, or, ``is_off``, from none of them."""

    pieces: tuple[Piece, ...]
    boards: tuple[str, ...]
    is_off: bool = False

    def allows(self, board: str) -> bool:
        """Return whether a piece may come from a board by this wish."""
        return (board in self._named) != self.is_off

    @cached_property
    def _named(self) -> frozenset[str]:
        return frozenset(self.boards)


@dataclass(frozen=True)
class Used(Wish):
    """Boards, and what is wished of them."""

    boards: tuple[str, ...]
    use: Use

    def is_of(self, board: str) -> bool:
        """Return whether it is about a board."""
        return board in self._named

    @cached_property
    def _named(self) -> frozenset[str]:
        return frozenset(self.boards)


@dataclass(frozen=True)
class Matched(Wish):
    """Pieces whose grain and colour are to match."""

    pieces: tuple[Piece, ...]
    how: Matching = Matching.ONE


@dataclass(frozen=True)
class Later:
    """Pieces of a stage of the work."""

    title: str
    pieces: tuple[Piece, ...]
    stage: int


AboutT = TypeVar("AboutT")
WishT = TypeVar("WishT", bound=Wish)


def _musts(
    told: Iterable[tuple[WishT, Iterable[AboutT]]],
) -> Mapping[AboutT, tuple[WishT, ...]]:
    """Return those of some wishes that may not be broken, by each thing that they are about."""
    found: dict[AboutT, list[WishT]] = {}
    for wish, about in told:
        for one in about if wish.is_must else ():
            found.setdefault(one, []).append(wish)
    return {one: tuple(own) for one, own in found.items()}


@dataclass(frozen=True)
class Wishes:
    """All wishes of a project.

    Attributes
    ----------
    rows
        Boards that are neighbours: in each row those next to each other.
    leaves
        The same for the leaves of boards that are resawn.
    kin
        What is left of boards in rows that were cut, by their names, by the stock book.
    stage
        Pieces of later stages are not cut yet; None: all are.
    """

    fixed: tuple[Fixed, ...] = ()
    from_boards: tuple[FromBoards, ...] = ()
    used: tuple[Used, ...] = ()
    matched: tuple[Matched, ...] = ()
    later: tuple[Later, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    leaves: tuple[tuple[str, ...], ...] = ()
    kin: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    stage: int | None = None

    @property
    def are_none(self) -> bool:
        """Whether nothing is wished."""
        return not (self.fixed or self.from_boards or self.used or self.matched or self.not_yet)

    @property
    def not_yet(self) -> dict[Piece, Later]:
        """The pieces of stages after the one that is nested."""
        if self.stage is None:
            return {}
        return {
            piece: later
            for later in self.later
            if later.stage > self.stage
            for piece in later.pieces
        }

    @property
    def must_stay(self) -> dict[Piece, Fixed]:
        """The pieces that may not be moved at any price."""
        return {piece: wish for wish in self.fixed if wish.is_must for piece in wish.pieces}

    @property
    def may_move(self) -> dict[Piece, float]:
        """What moving a piece has to save, mm2, where a wish says so."""
        return {
            piece: wish.price_mm2
            for wish in self.fixed
            if wish.price_mm2 is not None
            for piece in wish.pieces
        }

    @cached_property
    def musts_of(self) -> Mapping[Piece, tuple[FromBoards, ...]]:
        """Of each piece the wishes about its boards that may not be broken."""
        return _musts((wish, wish.pieces) for wish in self.from_boards)

    @cached_property
    def musts_on(self) -> Mapping[str, tuple[Used, ...]]:
        """Of each board what is wished of it and may not be broken."""
        return _musts((used, used.boards) for used in self.used)

    def barring(self, piece: Piece, need: Need, board: Board, *, but: str = "") -> str:
        """Return the title of a must that keeps a piece off a board; empty if none does.

        ``but`` is the title of a wish that is left out of it.
        """
        for wish in self.musts_of.get(piece, ()):
            if wish.title != but and not wish.allows(board.name):
                return wish.title
        for used in self.musts_on.get(board.name, ()):
            if used.title != but and refuses(used, need, board):
                return used.title
        return ""

    def neighbours(self, wish: Matched) -> Iterator[tuple[str, ...]]:
        """Yield boards side by side, as they were while whole, that a matched group may lie on.

        Each time they are as many as it may lie on at once. Of single boards every one is a group
        of its own; those are not told here.
        """
        count = len(wish.pieces) if wish.how is Matching.NEIGHBOURS else 2
        rows = self.leaves if wish.how is Matching.MIRRORED else (*self.rows, *self.leaves)
        for row in rows:
            for first in range(max(1, len(row) - count + 1)):
                yield row[first : first + count]

    def windows(self, wish: Matched) -> Iterator[tuple[str, ...]]:
        """Yield the same neighbours, of each what there is of it now."""
        for row in self.neighbours(wish):
            yield tuple(own for name in row for own in self.kin.get(name, (name,)))


NO_WISHES = Wishes()


def refuses(wish: Used, need: Need, board: Board) -> bool:
    """Return whether a wish about a board refuses a part of it, whatever its place."""
    if wish.use is Use.FIRST or not wish.is_of(board.name):
        return False
    if wish.use is Use.HELD_BACK:
        return True
    longest = max(need.outline.length_mm, need.outline.width_mm)
    return longest <= MORE_THAN * board.length_mm


def pieces_of(need: Need) -> tuple[Piece, ...]:
    """Return all pieces of a part that are still wanted."""
    return tuple((need.part, need.number_of(copy)) for copy in range(1, need.quantity + 1))


def name_of(piece: Piece, needs: Mapping[str, Need]) -> str:
    """Return what a piece is called on the sheets."""
    part, number = piece
    return needs[part].called(number)


def names_of(pieces: Sequence[Piece], needs: Mapping[str, Need]) -> str:
    """Return what some pieces are called, whole parts by their own name."""
    found = list[str]()
    for part in dict.fromkeys(part for part, _ in pieces):
        copies = [copy for name, copy in pieces if name == part]
        is_whole = len(copies) == needs[part].quantity
        found += [part] if is_whole else [name_of((part, copy), needs) for copy in copies]
    return "; ".join(found)
