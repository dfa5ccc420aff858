"""What a step does to the tables of a book: rows before and after, and what they come to."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby
from typing import Any

from nesting.book.schema import FIGURES, LEDGER
from nesting.book.wood import as_json, figures_of
from nesting.errors import BookError

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


def effects_text(effects: Sequence[Effect]) -> str:
    """Return what a step did as it stands in a book."""
    return as_json([effect.data for effect in effects])


def write_step(connection: sqlite3.Connection, step: Step, effects: str) -> None:
    """Write the line of a step; ``effects`` is what it did, as :func:`effects_text` has it."""
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
        if _is_as_much(effect):
            continue
        for row, sign in ((effect.after, 1.0), (effect.before, -1.0)):
            if row is None:
                continue
            if effect.table == "board" and row["state"] == "in stock":
                _add(stock, figures_of("board", row["body"])[-2:], sign)
            elif effect.table == "piece" and row["state"] == "sound":
                _add(parts, figures_of("piece", row["body"])[-2:], sign)
    return stock, parts


def _is_as_much(effect: Effect) -> bool:
    """Return whether a row has the wood that it had, where it was: held, checked, put on a list."""
    before, after = effect.before, effect.after
    if before is None or after is None or effect.table != "board":
        return False
    return bool(
        before["state"] == after["state"] and before["body"]["wood"] == after["body"]["wood"]
    )


def _add(to: list[float], figures: Sequence[Any], sign: float) -> None:
    to[0] += sign * float(figures[0])
    to[1] += sign * float(figures[1])


def write_effects(connection: sqlite3.Connection, effects: Iterable[Effect]) -> None:
    """Write what effects leave of their rows, one after the other."""
    for (name, goes), some in groupby(effects, lambda each: (each.table, each.after is None)):
        if goes:
            connection.executemany(_taking(name), [effect.key for effect in some])
        else:
            connection.executemany(_putting(name), [_values(effect) for effect in some])


def _values(effect: Effect) -> list[Any]:
    """Return what stands in the columns of a row, those that are reckoned too."""
    row = effect.after
    assert row is not None, "rows that go have none"
    values = [
        as_json(row[name]) if name == "body" else row[name] for name in TABLES[effect.table].all
    ]
    return [*values, *figures_of(effect.table, row["body"])]


@cache
def _taking(name: str) -> str:
    """Return the statement that takes a row away."""
    return f"DELETE FROM {name} WHERE {' AND '.join(f'{key} = ?' for key in TABLES[name].key)}"


@cache
def _putting(name: str) -> str:
    """Return the statement that puts a row in place of the one with its key, or beside the rest."""
    table = TABLES[name]
    names = (*table.all, *FIGURES.get(name, ()))
    settled = ", ".join(f"{column} = excluded.{column}" for column in names[len(table.key) :])
    return (
        f"INSERT INTO {name} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))}) "
        f"ON CONFLICT ({', '.join(table.key)}) DO UPDATE SET {settled}"
    )


def row_of(names: Sequence[str], values: Sequence[Any]) -> Row:
    """Return a row of a table as it is read."""
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
        return tuple(_effect(*entry) for entry in _READER.decode(text))
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise BookError(f"what a step did cannot be read: {error}") from error


def _refused(figure: str) -> None:
    raise ValueError(f"{figure} is no figure")


_READER = json.JSONDecoder(parse_constant=_refused)


@cache
def _columns(table: str) -> frozenset[str]:
    return frozenset(TABLES[table].all)


def _effect(table: str, before: Row | None, after: Row | None) -> Effect:
    columns = _columns(table)
    for row in (before, after):
        if row is not None and row.keys() != columns:
            raise ValueError(f"a row of {table} has the columns {', '.join(row)}")
    if before is None and after is None:
        raise ValueError("an effect has neither before nor after")
    return Effect(table, before, after)
