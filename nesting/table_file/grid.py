"""Cells of a table with their places, whatever file they come from."""

from __future__ import annotations

from dataclasses import dataclass, field

from nesting.errors import Finding

MOST_ROWS = 12_000
"""A project has at most 10,000 boards."""

REMARK = "#"
"""How a row begins that is a remark."""

MOST_COLUMNS = 100
"""A board takes some twenty."""


@dataclass(frozen=True, slots=True)
class Cell:
    """The text of a cell and its place, rows and columns counted from 1.

    ``line`` is that of the file: in a CSV a cell may run over several.
    """

    text: str
    row: int
    column: int
    line: int

    @property
    def is_empty(self) -> bool:
        """Whether nothing is given."""
        return self.text in ("", "-")


@dataclass
class Grid:
    """The rows of one table, empty cells at their ends left out, and what is wrong so far.

    A row that begins with # is a remark: it is among ``remarks``, and empty among the rows.
    """

    file: str
    sheet: str = ""
    rows: list[list[Cell]] = field(default_factory=list)
    remarks: list[list[Cell]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def add(self, cells: list[Cell]) -> None:
        """Take up the next row."""
        row = without_empty_end(cells)
        is_remark = bool(row) and row[0].text.startswith(REMARK)
        self.remarks += [row] if is_remark else []
        self.rows.append([] if is_remark else row)

    def note(self, cell: Cell, message: str) -> None:
        """Note what is wrong at a cell."""
        self.findings.append(self.finding(cell.line, cell.row, cell.column, message))

    def finding(self, line: int, row: int, column: int, message: str) -> Finding:
        """Return a finding at a cell, which it names as spreadsheets do."""
        sheet = f"sheet {self.sheet}, " if self.sheet else ""
        return Finding(self.file, line, column, f"{sheet}cell {cell_name(row, column)}: {message}")


def cell_name(row: int, column: int) -> str:
    """Return what spreadsheets call a cell.

    >>> cell_name(1, 1), cell_name(12, 28)
    ('A1', 'AB12')
    """
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{row}"


def without_empty_end(cells: list[Cell]) -> list[Cell]:
    """Return a row without the empty cells at its end."""
    while cells and not cells[-1].text:
        cells.pop()
    return cells
