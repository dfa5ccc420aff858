"""What the boards of a project were on the old boat, and a name that is none of it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from nesting.project.wording import did_you_mean, near_match
from nesting.stock.board import Board
from nesting.unseen import quoted

InBook = Callable[[], Mapping[str, str]]
"""Says which boards a stock book has, each with what it was; it is opened when asked."""


@dataclass(frozen=True)
class FormerUse:
    """The members that the boards were, for ``not_from`` to name.

    ``is_all`` is False where some boards could not be read: only a near miss is a slip then.
    ``in_book`` is None where the project has no stock book. The book is asked only for what no
    board of the stock was.
    """

    boards: Sequence[Board]
    is_all: bool = True
    in_book: InBook | None = None
    asked: dict[str, str | None] = field(default_factory=dict, compare=False)

    @cached_property
    def _own(self) -> dict[str, str]:
        """What each board of the stock was, by its name."""
        return {board.name: board.member for board in self.boards}

    @cached_property
    def _all(self) -> dict[str, str]:
        """What each board was, those of the book after those of the stock."""
        known = self.in_book() if self.in_book else {}
        return {**self._own, **{name: known[name] for name in known if name not in self._own}}

    def complaint(self, given: str) -> str | None:
        """Return what is wrong with a member that is to give no part, or None.

        Many parts may name the same: it is looked for once.
        """
        if given not in self.asked:
            self.asked[given] = self._looked_for(given)
        return self.asked[given]

    def _looked_for(self, given: str) -> str | None:
        if given in self._own.values():
            return None
        members = tuple(dict.fromkeys(filter(None, self._all.values())))
        if given in members:
            return None
        close = near_match(given, members)
        if named := self._board(given, is_exact=close is not None):
            member = self._all[named]
            was = f"came from {member}" if member else "has no member recorded"
            what = f"{quoted(given)} is the name of a board, which {was}"
            return f"{what}; not_from names what boards were"
        if close is None and not self.is_all:
            return None
        if not members:
            return (
                f"no board came from {quoted(given)}; none says what it was: give each its member"
            )
        if self.in_book is None:
            return f"no board came from {quoted(given)}; {did_you_mean(given, members)}"
        return (
            f"no board of the stock or of its book came from {quoted(given)}; "
            f"{did_you_mean(given, members)}; the boards of another project are known once it has "
            "recorded them (salvage-nest book record)"
        )

    def _board(self, given: str, *, is_exact: bool) -> str | None:
        """Return the board of a name; else, if wanted, the first leaf of it, or copy."""
        if given in self._all:
            return given
        other = re.compile("" if is_exact else re.escape(given) + r"(-\d+)?(/\d+)?")
        return next(filter(other.fullmatch, self._all), None)
