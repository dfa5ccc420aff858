"""The history of the pile, or of one board and all that came of it, a line a step."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.book.effects import Step
from nesting.book.rows import near
from nesting.book.store import Book, time_here
from nesting.errors import BookError
from nesting.unseen import short


def history_lines(book: Book, board: str | None = None) -> Iterator[str]:
    """Yield a line for every step, those that were taken back marked.

    Raises
    ------
    BookError
        If the book never had such a board.
    """
    if board is not None and book.row("board", board) is None:
        names = [name for (name,) in book.asked("SELECT name FROM board")]
        raise BookError(f"no board {short(board)} in the book{near(board, names)}")
    undone = {
        number for (number,) in book.asked("SELECT undoes FROM step WHERE undoes IS NOT NULL")
    }
    family = _family(book, board) if board is not None else None
    for step in book.steps(effects=board is not None):
        if family is None or _touches(step, family):
            yield _line(step, is_undone=step.number in undone)


def _family(book: Book, board: str) -> set[str]:
    """Return the names of a board, what it came of, and what came of it."""
    row = book.row("board", board)
    assert row is not None
    up, at = {board}, row
    while at["parent"] is not None and (parent := book.row("board", at["parent"])) is not None:
        up.add(parent["name"])
        at = parent
    down = book.asked(
        "WITH RECURSIVE of (name) AS (SELECT ? UNION SELECT board.name FROM board JOIN of "
        "ON board.parent = of.name) SELECT name FROM of", board,
    )  # fmt: skip
    return up | {name for (name,) in down}


def _touches(step: Step, names: set[str]) -> bool:
    return any(
        (effect.table == "board" and effect.key[0] in names)
        or (effect.table == "piece" and (effect.after or effect.before or {})["board"] in names)
        for effect in step.effects
    )


def _line(step: Step, *, is_undone: bool) -> str:
    when = time_here(step.at)
    mark = " (taken back)" if is_undone else ""
    why = f" - {step.why}" if step.why else ""
    return f"{step.number:4d}  {when}  {step.project}: {step.said}{why}{mark}"
