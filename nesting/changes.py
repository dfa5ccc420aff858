"""What differs between two plans of a project, board by board, and which printed sheets hold still.

A piece *stays* that lies at the very same place; it is *moved on* its board, *moved from* another
one, *new* where the earlier plan had it nowhere, or *gone*: to another board, left over, or no
longer asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from nesting.need import Need
from nesting.nest import At, CuttingPlan
from nesting.shop.identity import sheet_identity
from nesting.stock.board import Board
from nesting.wishes import Piece, names_of
from nesting.words import counted


@dataclass(frozen=True)
class LastPlan:
    """What a plan that was written says of its pieces.

    Attributes
    ----------
    pieces
        Where each lies whose part is still asked for.
    labels
        By board, what every piece was called, those of other parts too.
    sheets
        The word of each board's sheet, empty where none is known.
    sawn
        What pieces were called that were sawn since.
    """

    pieces: tuple[At, ...]
    labels: Mapping[str, tuple[str, ...]]
    sheets: Mapping[str, str]
    sawn: frozenset[str] = frozenset()


def plan_as_last(plan: CuttingPlan) -> LastPlan:
    """Return a plan as one that was written."""
    return LastPlan(
        plan.lying,
        {nest.board.name: tuple(p.label for p in nest.placements) for nest in plan.nests},
        {nest.board.name: sheet_identity(nest) for nest in plan.nests},
    )


class Fate(StrEnum):
    """What became of a piece on a board."""

    STAYS = "stays"
    MOVED = "moved on it"
    CAME = "moved from"
    NEW = "new"
    WENT = "moved to"
    GONE = "gone"


HERE_NOW = (Fate.STAYS, Fate.MOVED, Fate.CAME, Fate.NEW)
"""Fates of pieces that lie on the board in the later plan."""


class Sheet(StrEnum):
    """What to do with the printed sheet of a board."""

    TRUE = "stays true"
    ANEW = "throw away and print anew"
    NEW = "print"
    AWAY = "throw away"
    UNKNOWN = "hold against the new one"
    """Its pieces stay; whether the board was recorded anew since is not known."""


@dataclass(frozen=True)
class PieceChange:
    """One piece on one board: its fate, where it lies or lay, and the other board it is about."""

    piece: Piece
    fate: Fate
    now: At | None = None
    was: At | None = None

    @property
    def other(self) -> str:
        """The board that it came from or went to; empty if there is none."""
        if self.fate is Fate.CAME:
            return self.was.board if self.was else ""
        return self.now.board if self.fate is Fate.WENT and self.now else ""


@dataclass(frozen=True)
class BoardChange:
    """What became of one board's pieces and of its sheet.

    ``words`` are the sheet's, before and now; ``lost`` are pieces of parts no longer asked for,
    ``sawn`` those that were sawn between the plans.
    """

    board: str
    pieces: tuple[PieceChange, ...]
    sheet: Sheet
    words: tuple[str, str]
    lost: tuple[str, ...] = ()
    sawn: tuple[str, ...] = ()

    @property
    def is_same(self) -> bool:
        """Whether every piece stays and none came."""
        stays = all(piece.fate is Fate.STAYS for piece in self.pieces)
        return stays and not self.lost and not self.sawn

    def of(self, fate: Fate) -> tuple[PieceChange, ...]:
        """Return the pieces of one fate."""
        return tuple(piece for piece in self.pieces if piece.fate is fate)


@dataclass(frozen=True)
class Changes:
    """What differs between two plans, by the boards of either, in the order of the stock."""

    boards: tuple[BoardChange, ...]

    @property
    def counts(self) -> dict[Fate, int]:
        """How many pieces there are of each fate."""
        fates = [piece.fate for board in self.boards for piece in board.pieces]
        return {fate: fates.count(fate) for fate in Fate}


def changes_between(was: LastPlan, now: LastPlan, boards: Sequence[Board]) -> Changes:
    """Return what differs between two plans of one project."""
    before = {at.piece: at for at in was.pieces}
    after = {at.piece: at for at in now.pieces}
    names = [board.name for board in boards]
    opened = dict.fromkeys([*was.labels, *now.labels])
    order = [name for name in names if name in opened]
    order += [name for name in opened if name not in set(names)]
    return Changes(tuple(_of_board(name, (was, now), before, after) for name in order))


def _of_board(
    name: str, plans: tuple[LastPlan, LastPlan], before: dict[Piece, At], after: dict[Piece, At]
) -> BoardChange:
    was, now = plans
    found = [
        PieceChange(piece, _fate_here(at, before.get(piece)), at, before.get(piece))
        for piece, at in after.items()
        if at.board == name
    ]
    for piece, at in before.items():
        later = after.get(piece)
        if at.board == name and (later is None or later.board != name):
            found.append(PieceChange(piece, Fate.GONE if later is None else Fate.WENT, later, at))
    known = {at.placement.label for at in before.values() if at.board == name}
    left = [label for label in was.labels.get(name, ()) if label not in known]
    lost = tuple(label for label in left if label not in was.sawn)
    sawn = tuple(label for label in left if label in was.sawn)
    is_same = bool(found) and all(one.fate is Fate.STAYS for one in found) and not left
    words = was.sheets.get(name, ""), now.sheets.get(name, "")
    sheet = _sheet(words, is_same, name in was.labels, name in now.labels)
    return BoardChange(name, tuple(found), sheet, words, lost, sawn)


def _fate_here(at: At, was: At | None) -> Fate:
    """Return the fate of a piece that lies on a board now."""
    if was is None:
        return Fate.NEW
    if was.is_at(at.board, at.placement):
        return Fate.STAYS
    return Fate.MOVED if was.board == at.board else Fate.CAME


def _sheet(words: tuple[str, str], is_same: bool, was_there: bool, is_there: bool) -> Sheet:
    """Return what to do with a sheet, by its word where that is known."""
    if not is_there:
        return Sheet.AWAY
    if not was_there:
        return Sheet.NEW
    if all(words):
        return Sheet.TRUE if words[0] == words[1] else Sheet.ANEW
    return Sheet.UNKNOWN if is_same else Sheet.ANEW


def told_changes(changes: Changes, needs: Sequence[Need]) -> Iterator[str]:
    """Yield what differs, in words: all in one line, then a line a board, then the sheets."""
    count = changes.counts
    moved = count[Fate.MOVED] + count[Fate.CAME]
    lost = count[Fate.GONE] + sum(len(board.lost) for board in changes.boards)
    sawn = sum(len(board.sawn) for board in changes.boards)
    yield (
        f"{_stay(count[Fate.STAYS])}, {moved} moved ({count[Fate.CAME]} of them "
        f"to another board), {count[Fate.NEW]} new, {lost} gone{f', {sawn} sawn' if sawn else ''}"
    )
    for board in changes.boards:
        if not board.is_same or board.sheet is Sheet.NEW:
            yield f"board {board.board}: {'; '.join(_told_board(board, needs))}"
    yield from _told_sheets(changes)


def _told_board(board: BoardChange, needs: Sequence[Need]) -> Iterator[str]:
    by_name = {need.part: need for need in needs}
    for fate in Fate:
        pieces = board.of(fate)
        for other in dict.fromkeys(piece.other for piece in pieces):
            own = [piece.piece for piece in pieces if piece.other == other]
            names = names_of(own, by_name)
            if fate is Fate.STAYS:
                yield _stay(len(own))
            else:
                yield f"{fate}{f' {other}' if other else ''}: {names}"
    if board.sawn:
        yield f"sawn: {'; '.join(board.sawn)}"
    if board.lost:
        yield f"no longer asked for: {'; '.join(board.lost)}"


def _stay(count: int) -> str:
    return f"{counted(count, 'piece')} {'stays' if count == 1 else 'stay'}"


def _told_sheets(changes: Changes) -> Iterator[str]:
    for sheet in Sheet:
        own = [board for board in changes.boards if board.sheet is sheet]
        if not own:
            continue
        named = ", ".join(_named(board) for board in own)
        what = f"stay{'s' * (len(own) == 1)} true" if sheet is Sheet.TRUE else f"to {sheet}"
        yield f"{counted(len(own), 'sheet')} {what}: {named}"


def _named(board: BoardChange) -> str:
    """Return a board with the word on its old sheet, by which that is known."""
    is_old = board.sheet in (Sheet.ANEW, Sheet.AWAY) and board.words[0]
    return f"{board.board} (marked {board.words[0]})" if is_old else board.board
