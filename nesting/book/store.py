"""A book as a file: opened with care, written one step at a time, all of a step or nothing.

What a power cut leaves is the last step that was finished: the log is synced at every commit
(SQLite documentation, "Write-Ahead Logging" and PRAGMA synchronous, FULL; from memory).
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nesting.book.schema import (
    APPLICATION_ID,
    FIGURES,
    LEDGER,
    MIGRATIONS,
    VERSION,
    expected_layout,
    layout_of,
    statements,
)
from nesting.book.wood import as_json, figures_of, figures_of_text
from nesting.errors import BookError, InUseError, OutputError

PATIENCE_SECONDS = 3.0
"""How long a command waits for another one that is writing; a step takes some milliseconds."""

LARGEST_TEXT = 200_000_000
"""No entry of a book is longer: the step that records 10,000 boards has some 30 MB."""

MAGIC = b"SQLite format 3\x00"
"""How every SQLite file begins (SQLite documentation, "Database File Format")."""

Row = dict[str, Any]
Key = tuple[Any, ...]


@dataclass(frozen=True)
class Table:
    """Columns of a table of the book that say which row it is, and the others."""

    key: tuple[str, ...]
    columns: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        """All columns but those that are reckoned."""
        return (*self.key, *self.columns)


TABLES: Mapping[str, Table] = {
    "project": Table(("name",), ("body",)),
    "want": Table(("project", "part"), ("body",)),
    "plan": Table(("project",), ("body",)),
    "board": Table(("name",), ("state", "parent", "held_by", "body")),
    "piece": Table(("number",), ("project", "part", "copy", "state", "board", "body")),
}
"""What follows from the steps."""


@dataclass(frozen=True)
class Effect:
    """What a step did to one row: None where there was none before, or is none after."""

    table: str
    before: Row | None
    after: Row | None

    @property
    def key(self) -> Key:
        """Which row it is."""
        row = self.after if self.after is not None else self.before
        assert row is not None
        return tuple(row[name] for name in TABLES[self.table].key)

    @property
    def reversed(self) -> Effect:
        """What takes it back."""
        return Effect(self.table, self.after, self.before)

    @property
    def data(self) -> list[Any]:
        """As plain data."""
        return [self.table, self.before, self.after]


@dataclass(frozen=True)
class Step:
    """One line of the book: what happened, when, in which project, and why."""

    number: int
    at: str
    project: str
    kind: str
    said: str
    why: str
    undoes: int | None
    effects: tuple[Effect, ...] = field(repr=False)
    ledger: tuple[float, ...] = field(repr=False)


def now() -> str:
    """Return the time in UTC, to the second, as ISO 8601 writes it."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Book:
    """An open book; :func:`opened` opens one."""

    errors = sqlite3.Error

    def __init__(
        self, path: Path, connection: sqlite3.Connection, clock: Callable[[], str]
    ) -> None:
        self.path, self.connection, self.clock = path, connection, clock

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
        return [_row(names, values) for values in self.asked(sql, *given)]

    def asked(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Return what a question to the tables gives."""
        with _told(self.path):
            return self.connection.execute(sql, given).fetchall()

    def steps(self, where: str = "1", *given: object, effects: bool = True) -> Iterator[Step]:
        """Yield steps in their order; without effects where only lines are wanted."""
        held = "effects" if effects else "'[]'"
        names = f"number, at, project, kind, said, why, undoes, {held}, {', '.join(LEDGER)}"
        with _told(self.path):
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
        with _told(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
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
            self.apply(Effect(table, before, row))

    def take(self, table: str, *key: object) -> None:
        """Take a row away, if it is there."""
        if (before := self.book.row(table, *key)) is not None:
            self.apply(Effect(table, before, None))

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
        write_effect(self.book.connection, effect)
        self.effects.append(effect)

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
        write_step(self.book.connection, step)


def write_step(connection: sqlite3.Connection, step: Step) -> None:
    """Write the line of a step."""
    effects = as_json([effect.data for effect in step.effects])
    marks = ", ".join("?" * (8 + len(LEDGER)))
    connection.execute(
        f"INSERT INTO step VALUES ({marks})",
        (
            step.number, step.at, step.project, step.kind, step.said, step.why, step.undoes,
            effects, *step.ledger,
        ),
    )  # fmt: skip


def balance(effects: Sequence[Effect]) -> tuple[list[float], list[float]]:
    """Return what effects add to stock and to parts, each as area and volume."""
    stock, parts = [0.0, 0.0], [0.0, 0.0]
    for effect in effects:
        for row, sign in ((effect.after, 1.0), (effect.before, -1.0)):
            if row is None:
                continue
            if effect.table == "board" and row["state"] == "in stock":
                _add(stock, figures_of("board", row["body"])[-2:], sign)
            elif effect.table == "piece" and row["state"] == "sound":
                _add(parts, figures_of("piece", row["body"])[-2:], sign)
    return stock, parts


def _add(to: list[float], figures: Sequence[Any], sign: float) -> None:
    to[0] += sign * float(figures[0])
    to[1] += sign * float(figures[1])


def write_effect(connection: sqlite3.Connection, effect: Effect) -> None:
    """Write what an effect leaves of its row."""
    table = TABLES[effect.table]
    if effect.after is None:
        where = " AND ".join(f"{name} = ?" for name in table.key)
        connection.execute(f"DELETE FROM {effect.table} WHERE {where}", effect.key)
        return
    row = effect.after
    values = [as_json(row[name]) if name == "body" else row[name] for name in table.all]
    figures = FIGURES.get(effect.table, ())
    names = (*table.all, *figures)
    values += figures_of(effect.table, row["body"])
    settled = ", ".join(f"{name} = excluded.{name}" for name in names[len(table.key) :])
    connection.execute(
        f"INSERT INTO {effect.table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))}) "
        f"ON CONFLICT ({', '.join(table.key)}) DO UPDATE SET {settled}",
        values,
    )


def _row(names: Sequence[str], values: Sequence[Any]) -> Row:
    return {
        name: json.loads(value) if name == "body" else value
        for name, value in zip(names, values, strict=True)
    }


def effects_of(text: str) -> tuple[Effect, ...]:
    """Return the effects of a step as they stand in a book.

    Raises
    ------
    BookError
        If they are none.
    """
    try:
        return tuple(_effect(*entry) for entry in json.loads(text))
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise BookError(f"what a step did cannot be read: {error}") from error


def _effect(table: str, before: Row | None, after: Row | None) -> Effect:
    for row in (before, after):
        if row is not None and set(row) != set(TABLES[table].all):
            raise ValueError(f"a row of {table} has the columns {', '.join(row)}")
    if before is None and after is None:
        raise ValueError("an effect has neither before nor after")
    return Effect(table, before, after)


@contextmanager
def opened(path: Path, *, create: bool = False, clock: Callable[[], str] = now) -> Iterator[Book]:
    """Open a book, an older one brought up to this form, and close it again.

    Parameters
    ----------
    create
        Whether one is begun where there is none.

    Raises
    ------
    BookError
        If it is no book, of a newer form, damaged, or holds what a book does not.
    InUseError
        If another command goes on writing.
    """
    is_new = not path.exists()
    if is_new and not create:
        raise BookError(
            f"{path} is not there: begin a book by entering the boards (salvage-nest book record)"
        )
    if not is_new:
        _require_magic(path)
    book = _connected(path, clock)
    try:
        with _told(path):
            if is_new or not book.asked("SELECT 1 FROM sqlite_master LIMIT 1"):
                _begin(book.connection)
            _bring_up(book)
        yield book
    finally:
        book.close()


def _connected(path: Path, clock: Callable[[], str]) -> Book:
    with _told(path):
        connection = sqlite3.connect(path, timeout=PATIENCE_SECONDS, isolation_level=None)
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LARGEST_TEXT)
        # What a file says of its own tables is not believed (SQLite documentation, "Defense
        # Against The Dark Arts").
        for pragma in ("trusted_schema = OFF", "cell_size_check = ON", "mmap_size = 0"):
            connection.execute(f"PRAGMA {pragma}")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = FULL")
    return Book(path, connection, clock)


def _begin(connection: sqlite3.Connection) -> None:
    """Make an empty book of an empty file; of two that begin at once one waits for the other."""
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("BEGIN IMMEDIATE")
    if not connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone():
        for statement in statements():
            connection.execute(statement)
    connection.execute("COMMIT")


def _require_magic(path: Path) -> None:
    """Refuse what is no book by its first bytes, before anything that could write touches it."""
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror or error}") from error
    if not head:
        return
    if not head.startswith(MAGIC):
        raise BookError(f"{path} is no stock book: it is no SQLite file")
    # Where the head has no mark yet the whole of it may still be in the log beside the file.
    mark = int.from_bytes(head[68:72], "big")
    if mark != APPLICATION_ID and not Path(f"{path}-wal").exists():
        raise BookError(f"{path} is no stock book: it is a database of another program")


def _bring_up(book: Book) -> None:
    """Refuse what is no sound book, and bring an older one up to this form."""
    connection, path = book.connection, book.path
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise BookError(f"{path} is no stock book: it is a database of another program")
    if version > VERSION:
        raise BookError(
            f"{path} is a book of form {version}, this salvage-nest knows up to {VERSION}: use the "
            "version that wrote it, or a newer one"
        )
    if version < 1:
        raise BookError(f"{path} is a book of form {version}, which there never was")
    _require_layout(connection, path, version)
    if version < VERSION:
        _migrate(book, version)
    if str(connection.execute("PRAGMA journal_mode").fetchone()[0]) != "wal":
        connection.execute("PRAGMA journal_mode = WAL")


def _require_layout(connection: sqlite3.Connection, path: Path, version: int) -> None:
    """Refuse tables, indexes, views and triggers that a book of a version does not have."""
    found, wanted = layout_of(connection), _settled(expected_layout(version))
    odd = sorted(f"{kind} {name}" for kind, name, _ in _settled(found) ^ wanted)
    if odd:
        raise BookError(
            f"{path} is no sound book: of {', '.join(dict.fromkeys(odd))} it has what a book does "
            "not have, or lacks it; nothing in it is believed. Restore a backup"
        )


def _settled(layout: frozenset[tuple[str, str, str]]) -> frozenset[tuple[str, str, str]]:
    """Return a layout with the blanks about columns that were added later as in new ones."""
    return frozenset(
        (kind, name, sql.replace(" ,", ",").replace(" )", ")").replace("( ", "("))
        for kind, name, sql in layout
    )


def _migrate(book: Book, version: int) -> None:
    """Bring an older book up to this form in one transaction; it is copied first."""
    kept = Path(f"{book.path}.form-{version}")
    if not kept.exists():
        copied(book.connection, kept)
    connection = book.connection
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another command may have done so meanwhile.
        at = int(connection.execute("PRAGMA user_version").fetchone()[0])
        for number in range(at, VERSION):
            MIGRATIONS[number](connection, figures_of_text)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        _require_layout(connection, book.path, VERSION)
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def copied(connection: sqlite3.Connection, path: Path) -> None:
    """Copy a book, as it is at this moment, into a file that takes its place whole."""
    passing = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        passing.unlink(missing_ok=True)
        copy = sqlite3.connect(passing, isolation_level=None)
        try:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        finally:
            copy.close()
        with passing.open("rb") as stream:
            os.fsync(stream.fileno())
        os.replace(passing, path)
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror or error})") from error
    finally:
        with contextlib.suppress(OSError):
            passing.unlink(missing_ok=True)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Say in a sentence what SQLite says of a book."""
    try:
        yield
    except sqlite3.OperationalError as error:
        name = getattr(error, "sqlite_errorname", "")
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise InUseError(
                f"another command is writing in the book {path} and has not ended within "
                f"{PATIENCE_SECONDS:g} s: wait until it is done and say this again; nothing was "
                "changed"
            ) from error
        if name.startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY", "SQLITE_FULL", "SQLITE_IOERR")):
            raise OutputError(f"the book {path} cannot be written: {error}") from error
        raise BookError(f"the book {path} cannot be read: {error}; restore a backup") from error
    except sqlite3.IntegrityError as error:
        raise BookError(f"the book {path} does not take this step: {error}") from error
    except sqlite3.DatabaseError as error:
        raise BookError(f"the book {path} is damaged ({error}): restore a backup") from error
    except (json.JSONDecodeError, RecursionError) as error:
        raise BookError(f"the book {path} holds what cannot be read ({error})") from error
