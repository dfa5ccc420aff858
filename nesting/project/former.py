"""What the boards of a project were on the old boat, and a name that is none of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from nesting.project.wording import did_you_mean, near_match
from nesting.stock.board import Board
from nesting.unseen import quoted


@dataclass(frozen=True)
class FormerUse:
    """The members that the boards were, for ``not_from`` to name.

    ``is_all`` is False where some boards could not be read: only a near miss is a slip then.
    """

    boards: Sequence[Board]
    is_all: bool = True
    asked: dict[str, str | None] = field(default_factory=dict, compare=False)

    @cached_property
    def members(self) -> tuple[str, ...]:
        """Each member once, in the order of the stock."""
        return tuple(dict.fromkeys(board.member for board in self.boards if board.member))

    def complaint(self, given: str) -> str | None:
        """Return what is wrong with a member that is to give no part, or None.

        Many parts may name the same: it is looked for once.
        """
        if given not in self.asked:
            self.asked[given] = self._looked_for(given)
        return self.asked[given]

    def _looked_for(self, given: str) -> str | None:
        members = self.members
        if given in members:
            return None
        close = near_match(given, members)
        if named := self._board(given, is_exact=close is not None):
            was = f"came from {named.member}" if named.member else "has no member recorded"
            what = f"{quoted(given)} is the name of a board, which {was}"
            return f"{what}; not_from names what boards were"
        if close is None and not self.is_all:
            return None
        if not members:
            return (
                f"no board came from {quoted(given)}; none says what it was: give each its member"
            )
        return f"no board came from {quoted(given)}; {did_you_mean(given, members)}"

    def _board(self, given: str, *, is_exact: bool) -> Board | None:
        """Return the board of a name; else, if wanted, the first leaf of it, or copy."""
        other = re.compile("" if is_exact else re.escape(given) + r"(-\d+)?(/\d+)?")
        exact = (board for board in self.boards if board.name == given)
        alike = (board for board in self.boards if other.fullmatch(board.name))
        return next(exact, None) or next(alike, None)
