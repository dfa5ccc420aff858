"""Steps over a book as a whole: taking one back, and what the pile was after each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from nesting.book.effects import TABLES, Effect, Key, Row, Step
from nesting.book.schema import FIGURES
from nesting.book.store import Book
from nesting.errors import BookError

UNDONE = "undone"
"""Kind of a step that takes another one back."""


@dataclass
class Pile:
    """All that follows from the steps of a book: rows by table and key."""

    tables: dict[str, dict[Key, Row]] = field(default_factory=lambda: {name: {} for name in TABLES})

    def rows(self, table: str) -> list[Row]:
        """Return the rows of a table in the order of their keys."""
        found = self.tables[table]
        return [found[key] for key in sorted(found)]

    def row(self, table: str, *key: object) -> Row | None:
        """Return a row by its key, or None."""
        return self.tables[table].get(key)

    def apply(self, effect: Effect) -> None:
        """Do what an effect says, if the row is as it was before it.

        Raises
        ------
        BookError
            If it is not.
        """
        rows = self.tables[effect.table]
        if rows.get(effect.key) != effect.before:
            name = " ".join(str(part) for part in effect.key)
            raise BookError(f"{effect.table} {name} is not as the step before left it")
        if effect.after is None:
            del rows[effect.key]
        else:
            rows[effect.key] = effect.after


def pile_of(book: Book) -> Pile:
    """Return the pile as it is."""
    pile = Pile()
    for name, table in TABLES.items():
        pile.tables[name] = {
            tuple(row[column] for column in table.key): row for row in book.rows(name)
        }
    return pile


def pile_after(steps: Iterable[Step]) -> Pile:
    """Return the pile that steps make out of nothing.

    Raises
    ------
    BookError
        If a step does not follow from those before it.
    """
    pile = Pile()
    for step in steps:
        try:
            for effect in step.effects:
                pile.apply(effect)
        except BookError as error:
            raise BookError(f"step {step.number} ({step.kind}): {error}") from error
    return pile


def outlines(steps: Iterable[Step]) -> Iterator[Mapping[str, Any]]:
    """Yield what holds the outlines that steps left."""
    for step in steps:
        for effect in step.effects:
            if effect.after is not None and effect.table in FIGURES:
                body = effect.after["body"]
                yield body["wood"] if effect.table == "board" else body


def last_standing(book: Book) -> Step | None:
    """Return the last step that was not taken back, or None."""
    where = (
        f"kind <> '{UNDONE}' AND number NOT IN (SELECT undoes FROM step WHERE undoes IS NOT NULL) "
        f"AND number = (SELECT max(number) FROM step WHERE kind <> '{UNDONE}' AND number NOT IN "
        "(SELECT undoes FROM step WHERE undoes IS NOT NULL))"
    )
    return next(book.steps(where), None)


def undo(book: Book, project: str | None, why: str = "") -> Step:
    """Take back the last step that stands and return it; all is as it was before it.

    Parameters
    ----------
    project
        Whose step it must be, if given: another's is left alone.

    Raises
    ------
    BookError
        If no step stands, or the last one is another project's.
    """
    with book.writing(project or "", UNDONE, why) as writing:
        step = last_standing(book)
        if step is None:
            raise BookError(f"{book.path}: no step is left to take back")
        if project is not None and step.project != project:
            raise BookError(
                f"the last step, {step.number} ({step.said}), is of the project "
                f"{step.project}: take it back from there, or name the book itself"
            )
        writing.project = step.project
        writing.undoes = step.number
        writing.said = f"took back step {step.number}: {step.said}"
        for effect in reversed(step.effects):
            writing.apply(effect.reversed)
        area, volume = step.ledger[:4], step.ledger[4:]
        writing.enter(-area[0], -volume[0])
        writing.lose(-area[3], -volume[3])
    return step
