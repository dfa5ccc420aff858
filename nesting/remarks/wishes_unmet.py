"""Wishes that cannot be met, whatever the search finds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from nesting.errors import Finding
from nesting.need import Need
from nesting.project import Project
from nesting.remarks.no_board import Holding
from nesting.stock.board import Board
from nesting.wishes import FromBoards, Matched, Matching, Piece, Use, Used, names_of, refuses


def wishes_unmet(project: Project) -> Iterator[Finding]:
    """Yield each wish that no plan can meet, or that does nothing, and why."""
    looked = _Looked(project)
    for wish in project.wishes.from_boards:
        if wish.is_must:
            yield from looked.from_boards(wish)
    for used in project.wishes.used:
        yield from looked.used(used)
    for matched in project.wishes.matched:
        yield from looked.matched(matched)
    if project.wishes.stage is None:
        for later in project.wishes.later:
            text = "a stage is named, and the project does not say which is nested: write stage: 1"
            yield project.wish_entries[later.title].finding(("stage",), f"{text} at its top")


@dataclass(frozen=True)
class _Looked:
    """What parts, boards and musts have to do with each other."""

    project: Project

    @cached_property
    def _holding(self) -> Holding:
        return Holding(self.project)

    @cached_property
    def _needs(self) -> dict[str, Need]:
        return {need.part: need for need in self.project.needs}

    def _givers(self, need: Need) -> list[Board]:
        """Return the boards that may hold a part, wishes apart."""
        return [board for board in self.project.stock if self._holding.may(board, need)]

    def _is_barred(self, piece: Piece, board: Board, *, but: str = "") -> str:
        """Return the title of a must that keeps a piece off a board; empty if none does."""
        wishes = self.project.wishes
        for wish in wishes.from_boards:
            is_its = wish.title != but and wish.is_must and piece in wish.pieces
            if is_its and not wish.allows(board.name):
                return wish.title
        need = self._needs[piece[0]]
        for used in wishes.used:
            if used.title != but and used.is_must and refuses(used, need, board):
                return used.title
        return ""

    def from_boards(self, wish: FromBoards) -> Iterator[Finding]:
        """Yield the pieces that a wish leaves no board."""
        for part in dict.fromkeys(part for part, _ in wish.pieces):
            own = [piece for piece in wish.pieces if piece[0] == part]
            may = [b for b in self._givers(self._needs[part]) if wish.allows(b.name)]
            named = names_of(own, self._needs)
            key = "not_from" if wish.is_off else "from"
            entry = self.project.wish_entries[wish.title]
            if not may:
                text = f"no board that it allows can hold {named}: {self._why(wish, part)}"
                yield entry.finding((key,), text)
                continue
            bars = {board.name: self._is_barred(own[0], board, but=wish.title) for board in may}
            if all(bars.values()):
                others = ", ".join(f"{name} by {title}" for name, title in bars.items())
                yield entry.finding((key,), f"{named} is kept off every board: {others}")

    def _why(self, wish: FromBoards, part: str) -> str:
        need, rules = self._needs[part], self.project.rules
        named = [board for board in self.project.stock if wish.allows(board.name)]
        if not named:
            return "there is none"
        misfits = {board.name: need.misfit(board, rules) for board in named}
        told = "; ".join(
            f"{name}: {misfit or 'too small, keep-outs taken off'}"
            for name, misfit in list(misfits.items())[:3]
        )
        return told + (f" and {len(named) - 3} more" if len(named) > 3 else "")

    def used(self, used: Used) -> Iterator[Finding]:
        """Yield boards of which something is wished that does nothing."""
        entry, boards = self.project.wish_entries[used.title], _named(used.boards, self.project)
        if used.use is Use.HELD_BACK or (used.use is Use.KEPT_WHOLE and not used.is_must):
            return
        for board in boards:
            holds = [n for n in self.project.needs if self._holding.may(board, n)]
            if used.use is Use.KEPT_WHOLE:
                holds = [need for need in holds if not refuses(used, need, board)]
            if not holds:
                what = "can hold no part longer than half of it"
                what = what if used.use is Use.KEPT_WHOLE else "can hold no part"
                yield entry.finding(("board",), f"{board.name} {what}, so it is never opened")

    def matched(self, wish: Matched) -> Iterator[Finding]:
        """Yield groups that cannot all come from boards as is wished."""
        entry = self.project.wish_entries[wish.title]
        own: Sequence[tuple[str, ...]] = [(board.name,) for board in self.project.stock]
        if wish.how is not Matching.ONE:
            windows = list(self.project.wishes.windows(wish))
            own = windows if wish.how is Matching.MIRRORED else [*own, *windows]
        needed = sum(self._needs[part].outline.area_mm2 for part, _ in wish.pieces)
        for names in own:
            boards = _named(names, self.project)
            if sum(board.area_mm2 for board in boards) < needed:
                continue
            if all(self._has_giver(piece, boards) for piece in wish.pieces):
                return
        named = names_of(wish.pieces, self._needs)
        yield entry.finding(("match",), f"{wish.how}: none can hold all of {named}")

    def _has_giver(self, piece: Piece, boards: Sequence[Board]) -> bool:
        need = self._needs[piece[0]]
        return any(
            self._holding.may(board, need) and not self._is_barred(piece, board) for board in boards
        )


def _named(names: Sequence[str], project: Project) -> list[Board]:
    return [board for board in project.stock if board.name in names]
