"""What a project wishes of a plan as its book leaves it.

A board that a wish names stands for all that is left of it, and what was sawn is wished no more.
Of pieces that are to match, those still wanted go by the boards that gave the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from nesting.book.effects import Row
from nesting.book.integrity import damage_told
from nesting.book.offered import Offered
from nesting.book.opening import opened
from nesting.book.steps import Pile
from nesting.wishes import (
    Fixed,
    FromBoards,
    Later,
    Matched,
    Matching,
    Piece,
    Use,
    Used,
    Wishes,
    name_of,
    pieces_of,
)
from nesting.words import first_few

WishT = TypeVar("WishT", Fixed, FromBoards, Later)

MOST_NAMED = 8
"""Boards that one note names."""


def members_in(path: Path) -> dict[str, str]:
    """Return the boards that a book ever had, each with what it was on the old boat.

    None where the book is not begun yet.
    """
    if not path.exists():
        return {}
    with opened(path) as book, damage_told(book):
        return dict(book.asked("SELECT name, json_extract(body, '$.wood.member') FROM board"))


def wishes_by_book(wishes: Wishes, offered: Offered, pile: Pile) -> tuple[Wishes, tuple[str, ...]]:
    """Return wishes as a book leaves them, and what is to be known of that."""
    if wishes.are_none and not wishes.later:
        return wishes, ()
    left = _Left(wishes, offered, pile)
    mates, notes = left.mates()
    found = replace(
        wishes,
        fixed=tuple(left.some(wishes.fixed)),
        from_boards=(*left.from_boards(), *mates),
        used=tuple(left.used()),
        matched=tuple(left.matched()),
        later=tuple(left.some(wishes.later)),
    )
    if left.is_whole:
        return found, notes
    rows = (*wishes.rows, *wishes.leaves)
    return replace(found, rows=rows, leaves=left.whole_leaves, kin=left.kin), notes


@dataclass(frozen=True)
class _Left:
    """What a book leaves of all that wishes name."""

    wishes: Wishes
    offered: Offered
    pile: Pile

    def _line(self, name: str) -> Iterator[str]:
        """Yield a board, the one that it came of, and so on to the first."""
        row = self.pile.row("board", name)
        yield name
        while row is not None and row["parent"] is not None:
            yield row["parent"]
            row = self.pile.row("board", row["parent"])

    @cached_property
    def _families(self) -> Mapping[str, tuple[str, ...]]:
        """The boards on offer that each board is, or that came of it."""
        found: dict[str, list[str]] = {}
        for board in self.offered.stock:
            for older in self._line(board.name):
                found.setdefault(older, []).append(board.name)
        return {name: tuple(own) for name, own in found.items()}

    def _left_of(self, names: Sequence[str]) -> tuple[str, ...]:
        """Return the boards on offer that are some boards, or came of them."""
        return tuple(dict.fromkeys(own for name in names for own in self._families.get(name, ())))

    @property
    def kin(self) -> Mapping[str, tuple[str, ...]]:
        """What is left of each board that has a neighbour."""
        rows = (*self.wishes.rows, *self.wishes.leaves)
        return {name: self._families.get(name, ()) for row in rows for name in row}

    @cached_property
    def is_whole(self) -> bool:
        """Whether every board that has a neighbour is there, and none came of it."""
        are_there = all(own == (name,) for name, own in self.kin.items())
        return are_there and self.whole_leaves == self.wishes.leaves

    @cached_property
    def whole_leaves(self) -> tuple[tuple[str, ...], ...]:
        """Rows of leaves of which nothing was cut: only they lie over each other as they did."""
        runs = list[list[str]]()
        for row in self.wishes.leaves:
            runs.append([])
            for name in row:
                if self._is_as_it_was(name):
                    runs[-1].append(name)
                else:
                    runs.append([])
        return tuple(tuple(run) for run in runs if len(run) > 1)

    def _is_as_it_was(self, name: str) -> bool:
        if name not in self._families.get(name, ()):
            return False
        row = self.pile.row("board", name)
        return row is None or not (row["body"]["frames"] or row["body"]["taped"])

    @cached_property
    def _wanted(self) -> frozenset[Piece]:
        return frozenset(piece for need in self.offered.needs for piece in pieces_of(need))

    def _still(self, pieces: Sequence[Piece]) -> tuple[Piece, ...]:
        """Return those of some pieces that are not sawn yet."""
        return tuple(piece for piece in pieces if piece in self._wanted)

    @cached_property
    def _gave(self) -> Mapping[Piece, Row]:
        """The rows of the pieces that were sawn and count."""
        return {(row["part"], row["copy"]): row for row in self.offered.sawn}

    def some(self, wishes: Sequence[WishT]) -> Iterator[WishT]:
        """Yield wishes of the pieces that are still wanted."""
        for wish in wishes:
            if still := self._still(wish.pieces):
                yield replace(wish, pieces=still)

    def from_boards(self) -> Iterator[FromBoards]:
        """Yield the wishes about where pieces come from, of the boards that are there."""
        for wish in self.some(self.wishes.from_boards):
            yield replace(wish, boards=self._left_of(wish.boards))

    def used(self) -> Iterator[Used]:
        """Yield what is wished of boards; one that is named itself goes by that alone.

        One that is to be kept whole is so until it is cut: what came off it is not meant.
        """
        named = {name for wish in self.wishes.used for name in wish.boards}
        nearest = {
            board.name: next((older for older in self._line(board.name) if older in named), None)
            for board in self.offered.stock
        }
        for wish in self.wishes.used:
            boards = [
                name
                for name, older in nearest.items()
                if older in wish.boards and (wish.use is not Use.KEPT_WHOLE or older == name)
            ]
            if boards:
                yield replace(wish, boards=tuple(boards))

    def matched(self) -> Iterator[Matched]:
        """Yield the wishes of pieces that are to match, of those still wanted."""
        for wish in self.wishes.matched:
            still = self._still(wish.pieces)
            is_over = wish.how is Matching.MIRRORED and len(still) < len(wish.pieces)
            if len(still) > 1 and not is_over:
                yield replace(wish, pieces=still)

    def mates(self) -> tuple[tuple[FromBoards, ...], tuple[str, ...]]:
        """Return where pieces are to come from whose mates are sawn, and that in words."""
        found, notes = list[FromBoards](), list[str]()
        for wish in self.wishes.matched:
            still = self._still(wish.pieces)
            gave = [self._gave[piece] for piece in wish.pieces if piece in self._gave]
            if still and gave:
                boards = self._left_of(self._beside(wish, [row["board"] for row in gave]))
                found.append(FromBoards(wish.title, still, boards, price_mm2=wish.price_mm2))
                notes.append(self._told(found[-1], gave))
        return tuple(found), tuple(notes)

    def _beside(self, wish: Matched, gave: Sequence[str]) -> Sequence[str]:
        """Return the boards, as they were while whole, that match those that gave mates."""
        lines = [list(self._line(name)) for name in gave]
        own = list(dict.fromkeys(line[-1] for line in lines))
        if wish.how is Matching.ONE:
            return own
        windows = [
            window
            for window in self.wishes.neighbours(wish)
            if all(set(window).intersection(line) for line in lines)
        ]
        beside = dict.fromkeys(name for window in windows for name in window)
        if wish.how is Matching.MIRRORED:
            taken = {name for line in lines for name in line}
            return [name for name in beside if name not in taken]
        return list(beside) or own

    def _told(self, wish: FromBoards, gave: Sequence[Row]) -> str:
        """Return what became of a wish of pieces that are to match."""
        needs = {need.part: need for need in self.offered.needs}
        pieces = " and ".join(name_of(piece, needs) for piece in wish.pieces)
        sawn = " and ".join(f"{row['body']['label']} was sawn from {row['board']}" for row in gave)
        if not wish.boards:
            return f"{wish.title}: {sawn}, and nothing is left that could match it for {pieces}"
        where = first_few(wish.boards, MOST_NAMED)
        return f"{wish.title}: {sawn}; to match it, {where} is to give {pieces}"
