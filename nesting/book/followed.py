"""Where places of an earlier plan lie now: boards lost their ends since, or fell in two.

A piece stays where it is chalked. Its board may begin elsewhere since, and then its place has other
figures; or the saw parted the board, and its place is on what fell off, which has another name.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.by_book import pile_then
from nesting.book.effects import Row
from nesting.book.integrity import damage_told
from nesting.book.opening import opened
from nesting.book.rows import IN_STOCK, in_root
from nesting.book.steps import Pile
from nesting.book.still_given import LINE_MM
from nesting.flat_geometry.overlay import without
from nesting.last_plan import as_it_was
from nesting.nest import At
from nesting.project.project import Project

Follow = Callable[[At], At]


def follower(project: Project, then: int | None) -> Follow:
    """Return what finds a place of an earlier plan on the boards as they are now.

    Parameters
    ----------
    project
        As its book leaves it.
    then
        The step of the book after which the plan was made; None where there was none yet.
    """
    if project.book is None or project.book_step is None or then == project.book_step:
        return as_it_was
    with opened(project.book) as book, damage_told(book):
        now = pile_then(book, project.book_step)
        if not any(row["parent"] or any(row["body"]["at"]) for row in now.rows("board")):
            return as_it_was
        was = pile_then(book, then or 0)
    return _Followed(was, _by_root(now, {board.name for board in project.stock}))


def _by_root(pile: Pile, names: set[str]) -> Mapping[str, Sequence[Row]]:
    """Return the boards of some names by the board that each was cut from at first."""
    found = defaultdict[str, list[Row]](list)
    for row in pile.rows("board"):
        if row["state"] == IN_STOCK and row["name"] in names:
            found[row["body"]["root"]].append(row)
    return found


@dataclass(frozen=True)
class _Followed:
    """Places of an earlier plan, and the boards that there are now by their roots."""

    was: Pile
    now: Mapping[str, Sequence[Row]]

    def __call__(self, at: At) -> At:
        """Return where a place lies: on its own board if that has it still."""
        row = self.was.row("board", at.board)
        boards = self._boards(at.board, row)
        own = boards[0] if boards and boards[0]["name"] == at.board else None
        if own is not None and row is not None and _is_untouched(row, own):
            return at
        # Before a board was entered it lay in its own frame.
        x, y = (0.0, 0.0) if row is None else _frame(row)
        there = shapely.affinity.translate(at.placement.polygon, x, y)
        found = next((one for one in boards if _has(one, there)), own)
        if found is None:
            return at
        now_x, now_y = _frame(found)
        lies = at.placement
        moved = replace(lies, x_mm=lies.x_mm + (x - now_x), y_mm=lies.y_mm + (y - now_y))
        return At(found["name"], moved)

    def _boards(self, name: str, row: Row | None) -> list[Row]:
        """Return what there is of a board's root now, the board itself first."""
        root = name if row is None else row["body"]["root"]
        return sorted(self.now.get(root, ()), key=lambda one: one["name"] != name)


def _frame(row: Row) -> tuple[float, float]:
    """Return where the frame of a board lies in its root's."""
    x, y = row["body"]["at"]
    return x, y


def _is_untouched(was: Row, now: Row) -> bool:
    """Return whether a board is in its old frame the wood that it was."""
    return bool(_frame(was) == _frame(now) and was["body"]["wood"] == now["body"]["wood"])


def _has(row: Row, there: Polygon) -> bool:
    """Return whether a board has all the wood of a place in its root's frame."""
    return bool(without(there, in_root(row)).area <= LINE_MM * there.length)
