"""The form of a book: its tables, version by version, and how an older one becomes this one.

A book is one SQLite file. ``step`` is what happened, line by line, and never changed; the other
tables are what follows from it, written in the same transaction. Figures beside a body are
reckoned from it, so that sums need no shapes read.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from functools import cache

APPLICATION_ID = 0x534E626B
"""Stands in the head of the file and tells a book from other SQLite files."""

VERSION = 2
"""Form of the tables: 2 since species, thickness, area and volume stand beside the bodies."""

LEDGER = tuple(
    f"{what}_{unit}" for unit in ("mm2", "mm3") for what in ("entered", "stock", "parts", "lost")
)
"""What a step adds to the wood that ever came into the book, to what is in stock, in parts, lost.
The first is the sum of the other three."""

_STEP = f"""CREATE TABLE step (
 number INTEGER PRIMARY KEY CHECK (number > 0),
 at TEXT NOT NULL,
 project TEXT NOT NULL,
 kind TEXT NOT NULL,
 said TEXT NOT NULL,
 why TEXT NOT NULL,
 undoes INTEGER UNIQUE REFERENCES step (number),
 effects TEXT NOT NULL,
 {", ".join(f"{name} REAL NOT NULL" for name in LEDGER)}
) STRICT"""

_PROJECT = "CREATE TABLE project (name TEXT PRIMARY KEY, body TEXT NOT NULL) STRICT"

_WANT = """CREATE TABLE want (
 project TEXT NOT NULL REFERENCES project (name) DEFERRABLE INITIALLY DEFERRED,
 part TEXT NOT NULL,
 body TEXT NOT NULL,
 PRIMARY KEY (project, part)
) STRICT"""

_PLAN = """CREATE TABLE plan (
 project TEXT PRIMARY KEY REFERENCES project (name) DEFERRABLE INITIALLY DEFERRED,
 body TEXT NOT NULL
) STRICT"""

_BOARD = """CREATE TABLE board (
 name TEXT PRIMARY KEY,
 state TEXT NOT NULL CHECK (state IN ('in stock', 'sawn up', 'gone')),
 parent TEXT REFERENCES board (name) DEFERRABLE INITIALLY DEFERRED,
 held_by TEXT REFERENCES project (name) DEFERRABLE INITIALLY DEFERRED,
 body TEXT NOT NULL{more}
) STRICT"""

_PIECE = """CREATE TABLE piece (
 number INTEGER PRIMARY KEY CHECK (number > 0),
 project TEXT NOT NULL REFERENCES project (name) DEFERRABLE INITIALLY DEFERRED,
 part TEXT NOT NULL,
 copy INTEGER NOT NULL CHECK (copy > 0),
 state TEXT NOT NULL CHECK (state IN ('sound', 'spoiled')),
 board TEXT NOT NULL REFERENCES board (name) DEFERRABLE INITIALLY DEFERRED,
 body TEXT NOT NULL{more}
) STRICT"""

_ONCE = "CREATE UNIQUE INDEX piece_once ON piece (project, part, copy) WHERE state = 'sound'"
"""No piece of a project is there twice, whatever a command believes."""

_FIGURES = {
    "board": (
        ("species", "TEXT NOT NULL DEFAULT ''"),
        ("thickness_mm", "REAL NOT NULL DEFAULT 0"),
        ("area_mm2", "REAL NOT NULL DEFAULT 0"),
        ("volume_mm3", "REAL NOT NULL DEFAULT 0"),
    ),
    "piece": (
        ("area_mm2", "REAL NOT NULL DEFAULT 0"),
        ("volume_mm3", "REAL NOT NULL DEFAULT 0"),
    ),
}

FIGURES: Mapping[str, tuple[str, ...]] = {
    table: tuple(name for name, _ in columns) for table, columns in _FIGURES.items()
}
"""Columns that are reckoned from the body, by table."""


def statements(version: int = VERSION) -> tuple[str, ...]:
    """Return what makes an empty book of a version."""

    def more(table: str) -> str:
        columns = _FIGURES[table] if version >= 2 else ()
        return "".join(f", {name} {kind}" for name, kind in columns)

    return (
        _PROJECT, _WANT, _PLAN,
        _BOARD.replace("{more}", more("board")),
        _PIECE.replace("{more}", more("piece")),
        _ONCE, _STEP,
        f"PRAGMA application_id = {APPLICATION_ID}",
        f"PRAGMA user_version = {version}",
    )  # fmt: skip


def layout_of(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    """Return all that a file holds beside rows: tables, indexes, views, triggers; their text."""
    rows = connection.execute(
        "SELECT type, name, coalesce(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%'"
    )
    return frozenset((str(kind), str(name), " ".join(str(sql).split())) for kind, name, sql in rows)


@cache
def expected_layout(version: int) -> frozenset[tuple[str, str, str]]:
    """Return what a book of a version holds beside rows."""
    connection = sqlite3.connect(":memory:")
    try:
        for statement in statements(version):
            connection.execute(statement)
        return layout_of(connection)
    finally:
        connection.close()


Figures = Callable[[str, str], tuple[object, ...]]
"""Reckons the figures beside a body, by its table."""


def _to_2(connection: sqlite3.Connection, figures: Figures) -> None:
    """Put figures beside the bodies."""
    for table, columns in _FIGURES.items():
        for name, kind in columns:
            connection.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind}")
        names = ", ".join(f"{name} = ?" for name, _ in columns)
        rows = connection.execute(f"SELECT rowid, body FROM {table}").fetchall()
        connection.executemany(
            f"UPDATE {table} SET {names} WHERE rowid = ?",
            [(*figures(table, body), row) for row, body in rows],
        )


MIGRATIONS: Mapping[int, Callable[[sqlite3.Connection, Figures], None]] = {1: _to_2}
"""What makes of a book of a version one of the next."""
