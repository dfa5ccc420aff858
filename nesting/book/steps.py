"""Steps over a book as a whole: taking one back, and what the pile was after each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from nesting.book.effects import TABLES, Effect, Key, Row, Step, Table, row_of
from nesting.book.renamed import called_now, in_names_now, names_of
from nesting.book.rows import SOUND
from nesting.book.schema import FIGURES
from nesting.book.store import Book
from nesting.book.wood import as_json
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


def pile_of(book: Book, made: Pile | None = None) -> Pile:
    """Return the pile as it is: the very rows of ``made`` where a table has them to the letter."""
    pile, made = Pile(), made or Pile()
    for name, table in TABLES.items():
        count = len(table.key)
        for values in book.asked(f"SELECT {', '.join(table.all)} FROM {name}"):
            key = values[:count]
            row = made.row(name, *key)
            if row is None or values != _written(table, row):
                row = row_of(table.all, values)
            pile.tables[name][key] = row
    return pile


def _written(table: Table, row: Row) -> tuple[Any, ...]:
    """Return the values of a row as a book has them."""
    return tuple([as_json(row[name]) if name == "body" else row[name] for name in table.all])


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


def undo(book: Book, project: str | None, why: str = "", number: int | None = None) -> Step:
    """Take back a step and return it; all that it changed is as it was before it.

    Parameters
    ----------
    project
        Whose step it must be, if given: another's is left alone.
    number
        Which step; the last one that stands if not given.

    Raises
    ------
    BookError
        If no such step stands, it is another project's, or a later step goes by what it did.
    """
    with book.writing(project or "", UNDONE, why) as writing:
        step = last_standing(book) if number is None else _standing(book, number)
        if step is None:
            raise BookError(f"{book.path}: no step is left to take back")
        if project is not None and step.project not in names_of(book, project):
            which = f"step {step.number} ({step.said})"
            which = f"the last step, {step.number} ({step.said})," if number is None else which
            raise BookError(
                f"{which} is of the project {step.project}: take it back from there, or name the "
                "book itself"
            )
        effects = in_names_now(book, step)
        _require_as_left(book, step, effects)
        writing.project = called_now(book, step.project)
        writing.undoes = step.number
        writing.said = f"took back step {step.number}: {step.said}"
        for effect in reversed(effects):
            writing.apply(effect.reversed)
        area, volume = step.ledger[:4], step.ledger[4:]
        writing.enter(-area[0], -volume[0])
        writing.lose(-area[3], -volume[3])
    return step


def _standing(book: Book, number: int) -> Step:
    """Return a step that was not taken back."""
    step = next(book.steps("number = ?", number), None)
    if step is None:
        raise BookError(f"{book.path} has no step {number}: its last is {book.last_step}")
    if step.kind == UNDONE:
        raise BookError(f"step {number} took one back: do anew what that one was")
    for (later,) in book.asked("SELECT number FROM step WHERE undoes = ?", number):
        raise BookError(f"step {number} was taken back before, by step {later}")
    return step


def _require_as_left(book: Book, step: Step, effects: Sequence[Effect]) -> None:
    """Refuse to take back a step whose rows a later one changed, or whose pieces were sawn anew.

    ``effects`` are what it did, by the names of now.
    """
    for effect in {(effect.table, effect.key): effect for effect in effects}.values():
        if book.row(effect.table, *effect.key) != effect.after:
            raise BookError(_told_later(book, step, effect))
    own = as_json([effect.key[0] for effect in effects if effect.table == "piece"])
    for effect in effects:
        row = effect.before
        if effect.table != "piece" or row is None or row["state"] != SOUND:
            continue
        for label, board in book.asked(
            "SELECT json_extract(body, '$.label'), board FROM piece WHERE state = 'sound' AND "
            "project = ? AND part = ? AND copy = ? AND number NOT IN "
            "(SELECT value FROM json_each(?))",
            row["project"], row["part"], row["copy"], own,
        ):  # fmt: skip
            raise BookError(
                f"step {step.number} ({step.said}) cannot be taken back: {label} was sawn anew "
                f"since, from {board}; take that back first"
            )


def _told_later(book: Book, step: Step, effect: Effect) -> str:
    """Return which step stands in the way of taking one back."""
    name = " ".join(str(part) for part in effect.key)
    where = (
        f"number > ? AND kind <> '{UNDONE}' AND number NOT IN "
        "(SELECT undoes FROM step WHERE undoes IS NOT NULL)"
    )
    later = [
        other
        for other in book.steps(where, step.number)
        if any((one.table, one.key) == (effect.table, effect.key) for one in other.effects)
    ]
    by = f" by step {later[-1].number} ({later[-1].said}): take that back first" if later else ""
    return (
        f"step {step.number} ({step.said}) cannot be taken back: {effect.table} {name} was changed "
        f"since{by}"
    )
