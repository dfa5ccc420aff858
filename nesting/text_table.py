"""A table of words, whatever shows it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TextTable:
    """A table: a column whose name begins with a # holds figures."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
