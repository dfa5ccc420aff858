"""A list as the shop uses it: titled columns of one kind each, for paper and for CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from enum import Enum, auto

from nesting.sheets.blocks import Table
from nesting.sheets.drawing import Anchor
from nesting.sheets.figures import exact_figure, figure, taped_figure
from nesting.shop.paging import wrapped_table
from nesting.spreadsheet import guarded
from nesting.units import Unit, board_feet

Value = str | float | None
"""A text, or a figure in mm, mm2, mm3 or plain; None for what is not known."""


class Kind(Enum):
    """What a column holds."""

    TEXT = auto()
    COUNT = auto()
    LENGTH = auto()
    EXACT = auto()
    """A length that somebody has set: a bung."""
    TAPED = auto()
    """One that was measured or reckoned: a board's thickness."""
    AREA = auto()
    VOLUME = auto()
    FIGURE = auto()


SMALL = (Kind.EXACT, Kind.TAPED)
"""Lengths that nobody tells in feet."""


@dataclass(frozen=True)
class Column:
    """One column: its name, what it holds, and how wide a text may be on paper, mm."""

    name: str
    kind: Kind = Kind.TEXT
    wide_mm: float = 48.0


@dataclass(frozen=True)
class ShopList:
    """One list; ``word`` names its file.

    Only the rows ``shown`` are read, if not all of them; paper says so by its ``file``.
    """

    word: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    shown: tuple[tuple[Value, ...], ...] | None = None

    @property
    def on_paper(self) -> tuple[tuple[Value, ...], ...]:
        """The rows that are printed."""
        return self.rows if self.shown is None else self.shown

    @property
    def file(self) -> str:
        """Name of its CSV file."""
        return f"list-{self.word}.csv"

    def table(self, unit: Unit) -> Table:
        """Return the list for paper."""
        columns = tuple(
            (name, _hung(column.kind), column.wide_mm)
            for name, column in zip(self.heads(unit), self.columns, strict=True)
        )
        is_all = len(self.on_paper) == len(self.rows)
        title = self.title if is_all else f"{self.title} (all of them: {self.file})"
        return wrapped_table(title, columns, self.cells(unit))

    def heads(self, unit: Unit) -> list[str]:
        """Return the names of the columns as they are read, with their units."""
        return [f"{c.name}{_behind(c.kind, unit, on_paper=True)}" for c in self.columns]

    def cells(self, unit: Unit) -> list[list[str]]:
        """Return the rows that are read, each value as it is written."""
        return [
            [_on_paper(value, c.kind, unit) for value, c in zip(row, self.columns, strict=True)]
            for row in self.on_paper
        ]

    def csv(self, unit: Unit) -> bytes:
        """Return the list as CSV (RFC 4180): a row of names with units, then figures in the unit.

        UTF-8; every text is in quotes, and one that a table program might take for a formula has
        an apostrophe before it (``guarded``).
        """
        stream = io.StringIO(newline="")
        writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
        writer.writerow([f"{c.name}{_behind(c.kind, unit)}" for c in self.columns])
        for row in self.rows:
            pairs = zip(row, self.columns, strict=True)
            writer.writerow([_in_csv(value, column.kind, unit) for value, column in pairs])
        return stream.getvalue().encode()


DIGITS = {Unit.MM: 2, Unit.CM: 3, Unit.M: 5, Unit.INCH: 4, Unit.FOOT: 5}
"""Decimals of a length in CSV: to 0.005 mm or better."""


def in_unit(mm: float, unit: Unit) -> float:
    """Return a length in a unit, as a plain figure."""
    return round(mm / unit.mm, DIGITS[unit]) + 0.0


def _in_csv(value: Value, kind: Kind, unit: Unit) -> str | float:
    if value is None or isinstance(value, str):
        return guarded(value or "")
    if kind is Kind.COUNT:
        return int(value)
    if kind in (Kind.LENGTH, *SMALL):
        return in_unit(value, _unit_of(kind, unit))
    if kind is Kind.AREA:
        return round(value / Unit.FOOT.mm**2 if unit.is_imperial else value * 1e-6, 6) + 0.0
    if kind is Kind.VOLUME:
        return round(board_feet(value, 1.0) if unit.is_imperial else value * 1e-9, 7) + 0.0
    return round(value, 4) + 0.0


def _unit_of(kind: Kind, unit: Unit) -> Unit:
    """Return what a length is written in."""
    return Unit.INCH if unit is Unit.FOOT and kind in SMALL else unit


def _on_paper(value: Value, kind: Kind, unit: Unit) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if kind is Kind.LENGTH:
        return figure(value, unit)
    if kind is Kind.EXACT:
        return exact_figure(value, unit)
    if kind is Kind.TAPED:
        return taped_figure(value, unit)
    if kind is Kind.COUNT:
        return str(int(value))
    plain = float(_in_csv(value, kind, unit))
    digits = 4 if kind is Kind.VOLUME and not unit.is_imperial else 2
    # What rounds to nothing has no sign.
    return f"{round(plain, digits) + 0.0:.{digits}f}"


def _behind(kind: Kind, unit: Unit, *, on_paper: bool = False) -> str:
    """Return the unit that stands behind a column's name; feet have their marks on paper."""
    if kind in (Kind.LENGTH, *SMALL):
        return "" if on_paper and unit is Unit.FOOT else f" ({_unit_of(kind, unit).value})"
    if kind is Kind.AREA:
        return " (sq ft)" if unit.is_imperial else " (m2)"
    if kind is Kind.VOLUME:
        return " (board feet)" if unit.is_imperial else " (m3)"
    return ""


def _hung(kind: Kind) -> Anchor:
    return Anchor.LEFT if kind is Kind.TEXT else Anchor.RIGHT
