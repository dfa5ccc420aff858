"""A project as its book has it: now, or as it was when a plan was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.steps import Pile, pile_after, pile_of
from nesting.book.store import Book
from nesting.errors import BookError
from nesting.project.project import Project
from nesting.summary.fields import whole
from nesting.words import counted


def by_book(project: Project, step: int | None = None) -> tuple[Project, tuple[str, ...]]:
    """Return a project with what is left of its boards and parts, and what is to be known of it.

    Parameters
    ----------
    step
        After which step of the book; after the last one if not given.

    Raises
    ------
    BookError
        If the book cannot be used, or has no such step.
    """
    if project.book is None or (step is None and not project.book.exists()):
        # A book that is named and not begun holds nothing yet.
        return project, ()
    with opened(project.book) as book:
        last = book.last_step
        if step is not None and step > last:
            raise BookError(
                f"the plan was made after step {step} of a book, {project.book} has {last}: nest "
                "the project again"
            )
        pile = _pile(book, last if step is None else step)
    found = as_offered(project, pile)
    sawn = f"{counted(found.done, 'piece')} {'is' if found.done == 1 else 'are'} sawn, by the book"
    done = (sawn,) if found.done else ()
    notes = (*found.notes, *done)
    at = last if step is None else step
    return replace(project, stock=found.stock, needs=found.needs, book_step=at), notes


def planned_step(project: Project, summary: Mapping[str, Any]) -> int | None:
    """Return the step of the project's book after which a plan was made, or None.

    Raises
    ------
    BookError
        If the plan was made by a book and the project names none.
    """
    if "book" not in summary:
        return None
    try:
        step = whole(summary["book"], "step")
    except (KeyError, TypeError, ValueError) as error:
        raise BookError(f"the summary does not say which step it goes by: {error}") from error
    if project.book is None:
        raise BookError("the plan was made by a stock book, and the project names none: add book:")
    return step


def frame_shifts(project: Project, then: int | None) -> dict[str, tuple[float, float]]:
    """Return by how much places on each board are others in a project than after a step.

    Parameters
    ----------
    project
        As its book leaves it.
    then
        A step of the book; None where there was none yet.

    Returns
    -------
    dict
        (x, y) in mm by board, of those alone that were cut at their left end or lower edge.
    """
    if project.book is None or project.book_step is None or then == project.book_step:
        return {}
    with opened(project.book) as book:
        now = _frames(_pile(book, project.book_step))
        if not any(x or y for x, y in now.values()):
            return {}
        was = _frames(_pile(book, then or 0))
    # Before a board was entered it lay in its own frame.
    then_at = {name: was.get(name, (0.0, 0.0)) for name in now}
    shifts = {name: (then_at[name][0] - x, then_at[name][1] - y) for name, (x, y) in now.items()}
    return {name: shift for name, shift in shifts.items() if any(shift)}


def _frames(pile: Pile) -> dict[str, tuple[float, float]]:
    """Return where the frame of each board lies in that of the board that was once recorded."""
    at = {row["name"]: row["body"]["at"] for row in pile.rows("board")}
    return {name: (x, y) for name, (x, y) in at.items()}


def _pile(book: Book, step: int) -> Pile:
    """Return the pile after a step."""
    return pile_of(book) if step == book.last_step else pile_after(book.steps("number <= ?", step))
