"""Reading a CSV file; semicolons or tabs serve as commas do, as some spreadsheets save them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path

from nesting.table_file.grid import MOST_COLUMNS, MOST_ROWS, Cell, Grid
from nesting.yaml_file.text import read_text

SEPARATORS = ",;\t"

SAID = re.compile(r"sep=([,;\t])\s*", re.IGNORECASE)
"""First line of a CSV file that says its separator, as some table programs write it (from memory).
"""


def csv_grid(path: Path, first_head: str) -> Grid:
    """Return the cells of a CSV file; rows that begin with # are remarks, and empty.

    ``first_head`` is what the row of heads begins with: it tells the separator.

    Raises
    ------
    ProjectFileError
        If the file cannot be read.
    """
    grid = Grid(str(path))
    lines = lines_of(read_text(path))
    separator = separator_of(lines, first_head)
    if lines and SAID.fullmatch(lines[0]):
        lines[0] = "\n"
    reader = csv.reader(lines, skipinitialspace=True, delimiter=separator, strict=True)
    line = 1
    try:
        for row, fields in enumerate(reader, start=1):
            cells = [Cell(text.strip(), row, i, line) for i, text in enumerate(fields, start=1)]
            if len(cells) > MOST_COLUMNS or row > MOST_ROWS:
                grid.note(cells[0], f"more than {MOST_ROWS:,} rows or {MOST_COLUMNS} columns")
                break
            grid.add(cells)
            line = reader.line_num + 1
    except csv.Error as error:
        grid.note(Cell("", len(grid.rows) + 1, 1, line), what_is_no_csv(error))
    return grid


def lines_of(text: str) -> list[str]:
    """Return the lines of a text with their ends: line breaks alone end one.

    Python's own way takes half a dozen other characters for ends too, which tear a row.
    """
    return list(io.StringIO(text, newline=""))


def what_is_no_csv(error: csv.Error) -> str:
    """Return what is wrong with a CSV file: of quotes, what the library means."""
    if "expected after" in str(error) or "unexpected end" in str(error):
        return (
            "a quote is not closed in this row, or something stands behind the one that closes: a "
            'quote within quotes is written twice, as "5"" wide"'
        )
    return f"this is no CSV: {error}"


def separator_of(lines: Sequence[str], first_head: str) -> str:
    """Return what stands between the cells of a CSV file: as it says, or behind its first head.

    >>> separator_of(["unit; mm", "board; length"], "board"), separator_of([], "board")
    (';', ',')
    """
    if lines and (said := SAID.fullmatch(lines[0])):
        return said[1]
    for line in lines:
        head = line.strip().strip('"').casefold()
        if head.startswith(first_head):
            rest = head.removeprefix(first_head).lstrip('" ')
            if rest[:1] in SEPARATORS:
                return rest[:1] or ","
    return ","
