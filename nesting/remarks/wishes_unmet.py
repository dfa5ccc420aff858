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
from nesting.words import first_few


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


MOST_NAMED = 8
"""Boards that one remark names."""


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

    @cached_property
    def _boards(self) -> dict[str, Board]:
        return {board.name: board for board in self.project.stock}

    @cached_property
    def _order(self) -> dict[str, int]:
        return {name: number for number, name in enumerate(self._boards)}

    def _named(self, names: Sequence[str]) -> list[Board]:
        """Return boards by their names, in the order of the stock."""
        there = [name for name in names if name in self._boards]
        return [self._boards[name] for name in sorted(there, key=self._order.__getitem__)]

    def _is_barred(self, piece: Piece, board: Board, *, but: str = "") -> str:
        """Return the title of a must that keeps a piece off a board; empty if none does."""
        need = self._needs[piece[0]]
        return self.project.wishes.barring(piece, need, board, but=but)

    def from_boards(self, wish: FromBoards) -> Iterator[Finding]:
        """Yield the pieces that a wish leaves no board."""
        for part in dict.fromkeys(part for part, _ in wish.pieces):
            own = [piece for piece in wish.pieces if piece[0] == part]
            allowed = [board for board in self.project.stock if wish.allows(board.name)]
            may = [board for board in allowed if self._holding.may(board, self._needs[part])]
            named = names_of(own, self._needs)
            # Pieces whose mates are sawn have such a wish for their match.
            entry = self.project.wish_entries[wish.title]
            key = next(key for key in ("not_from", "from", "match") if key in entry.data)
            if not may:
                text = f"no board that it allows can hold {named}: {self._why(wish, part)}"
                yield entry.finding((key,), text)
                continue
            bars = dict[str, str]()
            for board in may:
                bars[board.name] = self._is_barred(own[0], board, but=wish.title)
                if not bars[board.name]:
                    break
            else:
                others = first_few([f"{name} by {bar}" for name, bar in bars.items()], MOST_NAMED)
                yield entry.finding((key,), f"{named} is kept off every board: {others}")

    def _why(self, wish: FromBoards, part: str) -> str:
        need, rules = self._needs[part], self.project.rules
        named = [board for board in self.project.stock if wish.allows(board.name)]
        if not named:
            return "there is none"
        told = [
            f"{board.name}: {need.misfit(board, rules) or 'too small, keep-outs taken off'}"
            for board in named
        ]
        return first_few(told, 3, "; ")

    def used(self, used: Used) -> Iterator[Finding]:
        """Yield boards of which something is wished that does nothing."""
        is_whole = used.use is Use.KEPT_WHOLE
        if used.use is Use.HELD_BACK or (is_whole and not used.is_must):
            return
        what = "can hold no part longer than half of it" if is_whole else "can hold no part"
        for board in self._named(used.boards):
            if not any(
                self._holding.may(board, need) and not refuses(used, need, board)
                for need in self.project.needs
            ):
                entry = self.project.wish_entries[used.title]
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
            boards = self._named(names)
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
