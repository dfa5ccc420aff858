"""A book that is open: its rows and steps, and one step written at a time, all of it or nothing."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nesting.book.effects import (
    TABLES,
    Effect,
    Row,
    Step,
    balance,
    effects_of,
    effects_text,
    row_of,
    write_effects,
    write_step,
)
from nesting.book.schema import LEDGER
from nesting.book.sqlite_told import told_plainly
from nesting.errors import BookError, OutputError


def now() -> str:
    """Return the time in UTC, to the second, as ISO 8601 writes it."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def time_here(at: str) -> str:
    """Return when a step was, to the minute, by the clock of whoever reads it.

    Books keep UTC; what is no time, in a book that is not sound, is returned as it stands.
    """
    try:
        when = datetime.datetime.fromisoformat(at).astimezone()
    except (ValueError, OverflowError):
        return at
    return when.strftime("%Y-%m-%d %H:%M")


FOR_ALL = ("recorded", "undone")
"""Kinds of steps that need no project in the book before them."""


class Book:
    """An open book; :func:`opened` opens one.

    ``only_to_read`` says why nothing can be written in it, where that is so.
    """

    errors = sqlite3.Error

    def __init__(
        self, path: Path, connection: sqlite3.Connection, clock: Callable[[], str]
    ) -> None:
        self.path, self.connection, self.clock = path, connection, clock
        self.only_to_read = ""

    def row(self, table: str, *key: object) -> Row | None:
        """Return a row by its key, or None."""
        where = " AND ".join(f"{name} = ?" for name in TABLES[table].key)
        found = self.rows(table, where, *key)
        return found[0] if found else None

    def rows(self, table: str, where: str = "1", *given: object) -> list[Row]:
        """Return the rows of a table that a condition holds for, in the order of their keys."""
        names = TABLES[table].all
        order = ", ".join(TABLES[table].key)
        sql = f"SELECT {', '.join(names)} FROM {table} WHERE {where} ORDER BY {order}"
        return [row_of(names, values) for values in self.asked(sql, *given)]

    def asked(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Return what a question to the tables gives."""
        with told_plainly(self.path):
            return self.connection.execute(sql, given).fetchall()

    def steps(self, where: str = "1", *given: object, effects: bool = True) -> Iterator[Step]:
        """Yield steps in their order; without effects where only lines are wanted."""
        held = "effects" if effects else "'[]'"
        names = f"number, at, project, kind, said, why, undoes, {held}, {', '.join(LEDGER)}"
        with told_plainly(self.path):
            for row in self.connection.execute(
                f"SELECT {names} FROM step WHERE {where} ORDER BY number", given
            ):
                number, at, project, kind, said, why, undoes, did, *ledger = row
                yield Step(
                    number, at, project, kind, said, why, undoes, effects_of(did), tuple(ledger)
                )

    @property
    def last_step(self) -> int:
        """Number of the last step; 0 in an empty book."""
        return int(self.asked("SELECT coalesce(max(number), 0) FROM step")[0][0])

    def require_project(self, name: str) -> None:
        """Refuse a project that the book does not know: it may be another one's book.

        Raises
        ------
        BookError
            Names those that it knows.
        """
        known = [found for (found,) in self.asked("SELECT name FROM project ORDER BY name")]
        if name not in known:
            others = f", only {', '.join(known)}" if known else ""
            was = repr(known[0]) if len(known) == 1 else "NAME"
            renamed = f"; if it has a new name: record with --was {was}" if known else ""
            raise BookError(
                f"the book {self.path} knows no project {name}{others}: enter its boards first "
                f"(salvage-nest book record PROJECT.yaml), or name its own book{renamed}"
            )

    @contextmanager
    def writing(
        self, project: str, kind: str, why: str = "", *, at: str | None = None
    ) -> Iterator[Writing]:
        """Write one step: it is there whole when this ends well, and not at all otherwise.

        Raises
        ------
        InUseError
            If another command goes on writing.
        """
        if self.only_to_read:
            raise OutputError(self.only_to_read)
        with told_plainly(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                if kind not in FOR_ALL:
                    self.require_project(project)
                step = Writing(self, project, kind, why, at or self.clock())
                yield step
                step.finish()
                self.connection.execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise

    def close(self) -> None:
        """Let go of the file; its log goes into it."""
        self.connection.close()


@dataclass
class Writing:
    """One step while it is written."""

    book: Book
    project: str
    kind: str
    why: str
    at: str
    said: str = ""
    undoes: int | None = None
    effects: list[Effect] = field(default_factory=list)
    entered: list[float] = field(default_factory=lambda: [0.0, 0.0])
    lost: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def put(self, table: str, row: Row) -> None:
        """Put a row in place of the one with its key, or beside the others."""
        before = self.book.row(table, *(row[name] for name in TABLES[table].key))
        if before != row:
            self._do(Effect(table, before, row))

    def add(self, table: str, *rows: Row) -> None:
        """Put rows that are known to be new beside the others."""
        self._do(*(Effect(table, None, row) for row in rows))

    def take(self, table: str, *key: object) -> None:
        """Take a row away, if it is there."""
        if (before := self.book.row(table, *key)) is not None:
            self._do(Effect(table, before, None))

    def apply(self, effect: Effect) -> None:
        """Do what an effect says, if the row is as it was before it.

        Raises
        ------
        BookError
            If it is not.
        """
        if self.book.row(effect.table, *effect.key) != effect.before:
            name = " ".join(str(part) for part in effect.key)
            raise BookError(f"{effect.table} {name} is not as it was before this step")
        self._do(effect)

    def _do(self, *effects: Effect) -> None:
        write_effects(self.book.connection, effects)
        self.effects += effects

    def enter(self, area_mm2: float, volume_mm3: float) -> None:
        """Count wood that comes into the book, below 0 what a tape found less."""
        self.entered = [self.entered[0] + area_mm2, self.entered[1] + volume_mm3]

    def lose(self, area_mm2: float, volume_mm3: float) -> None:
        """Count wood that is neither in stock nor in parts any more."""
        self.lost = [self.lost[0] + area_mm2, self.lost[1] + volume_mm3]

    def finish(self) -> None:
        """Write the line of the step; where nothing changed there is none."""
        if not self.effects:
            return
        stock, parts = balance(self.effects)
        ledger = (
            self.entered[0], stock[0], parts[0], self.lost[0],
            self.entered[1], stock[1], parts[1], self.lost[1],
        )  # fmt: skip
        step = Step(
            self.book.last_step + 1, self.at, self.project, self.kind, self.said, self.why,
            self.undoes, tuple(self.effects), ledger,
        )  # fmt: skip
        write_step(self.book.connection, step, effects_text(step.effects))
