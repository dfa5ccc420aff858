"""A project as its book has it: now, or as it was when a plan was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from nesting.book.integrity import damage_told
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.renamed import names_of
from nesting.book.steps import Pile, pile_after, pile_of
from nesting.book.store import Book
from nesting.book.wished import wishes_by_book
from nesting.errors import BookError
from nesting.project.project import Project
from nesting.summary.fields import whole
from nesting.words import counted


def by_book(project: Project, step: int | None = None) -> tuple[Project, tuple[str, ...]]:
    """Return a project with what is left of its boards, parts and wishes, and what to know of it.

    Parameters
    ----------
    step
        After which step of the book; after the last one if not given.

    Raises
    ------
    BookError
        If the book cannot be used, or has no such step.
    """
    if project.book is None:
        return project, ()
    if step is None and not project.book.exists():
        return project, (
            f"the book {project.book} is not there yet: nothing is known to be sawn or reserved "
            "(salvage-nest book record begins it)",
        )
    with opened(project.book) as book, damage_told(book):
        last = book.last_step
        if step is not None and step > last:
            raise BookError(
                f"the plan was made after step {step} of a book, {project.book} has {last}: nest "
                "the project again"
            )
        pile = pile_then(book, last if step is None else step)
        _, *former = names_of(book, project.name)
        found = as_offered(project, pile, former)
        wishes, more = wishes_by_book(project.wishes, found, pile)
    done = len(found.sawn)
    sawn = (f"{counted(done, 'piece')} {'is' if done == 1 else 'are'} sawn, by the book",)
    by_now = replace(
        project, stock=found.stock, needs=found.needs, wishes=wishes,
        book_step=last if step is None else step,
    )  # fmt: skip
    return by_now, (*found.notes, *more, *(sawn if done else ()))


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


def pile_then(book: Book, step: int) -> Pile:
    """Return the pile after a step."""
    return pile_of(book) if step == book.last_step else pile_after(book.steps("number <= ?", step))
