"""Reading a table of offsets from a YAML or a CSV file.

CSV, the way a table stands in a book: settings first, then under a heading of its own each
group of lines, a station to a column::

    name, Example
    unit, ft
    to, outside of planking
    planking, 3/4 in
    station, 1, 2, 3
    from forward, 2-0-0, 4-0-0, 6-0-0
    heights
    sheer, 4-7-2, 4-3-0+, 4-0-3
    rabbet, 1-1-0, 0-10-4, 0-9-2
    buttock 1-0-0, -, 1-2-5, 1-0-1
    half-breadths
    sheer, 1-4-2, 2-7-0, 3-1-6
    waterline 2-0-0, 0-8-1, 1-9-7, 2-7-2
    diagonals
    diagonal A from 3-6-0 through 3-0-0 1-6-0, 1-1-1, 2-2-2, 2-9-3

Semicolons or tabs serve as commas do, as some spreadsheets save them.

YAML, with the same words as keys; a row is a list, or one text with spaces between its figures.
Text after # is a remark. Points of stem, stern and transom are two figures each: from forward
and height.
"""

from __future__ import annotations

import csv
from pathlib import Path

from nesting.errors import Finding, ProjectFileError
from nesting.table_file.csv_grid import SAID, lines_of, separator_of, what_is_no_csv
from nesting.unseen import unseen_in
from nesting.yaml_file.composer import Node
from nesting.yaml_file.document import read_document
from nesting.yaml_file.scalars import as_written
from nesting.yaml_file.text import read_text
from parts.lines.build_table import build_table
from parts.lines.table import OffsetTable
from parts.lines.table_cells import (
    SECTIONS,
    Cell,
    RawRow,
    RawTable,
    split_cells,
    without_end,
)


def read_table(path: Path) -> OffsetTable:
    """Read a table of offsets.

    Raises
    ------
    ProjectFileError
        With everything wrong in the file, each with file, line and column.
    """
    return build_table(read_texts(path))


def read_texts(path: Path) -> RawTable:
    """Read a table's texts as they stand in its file, each with its place.

    Raises
    ------
    ProjectFileError
        If it is no file of such a kind, or cannot be read.
    """
    kinds = {".yaml": _read_yaml, ".yml": _read_yaml, ".csv": _read_csv}
    read = kinds.get(path.suffix.casefold())
    if read is None:
        message = f"a table of offsets is a .csv or a .yaml file, not {path.suffix or path.name!r}"
        raise ProjectFileError([Finding(str(path), 1, 1, message)])
    return read(path)


def _read_csv(path: Path) -> RawTable:
    raw = RawTable(str(path))
    lines = [line.rstrip("\r\n") for line in lines_of(read_text(path))]
    plain = ["" if line.lstrip().startswith("#") else line for line in lines]
    for number, line in enumerate(plain):
        if unseen := unseen_in(line.replace("\t", " ")):
            raw.note(Cell("", number + 1, 1), f"{unseen} stands in this line; take it out")
    section = ""
    separator = separator_of(plain, "station")
    if plain and SAID.fullmatch(plain[0]):
        plain[0] = ""
    reader = csv.reader(plain, skipinitialspace=True, delimiter=separator, strict=True)
    try:
        for fields in reader:
            name, *cells = (
                Cell(text.strip(), reader.line_num, column + 1)
                for column, text in enumerate(fields or [""])
            )
            section = _take(raw, section, name, tuple(cells))
    except csv.Error as error:
        raw.note(Cell("", reader.line_num, 1), what_is_no_csv(error))
    return raw


def _take(raw: RawTable, section: str, name: Cell, cells: tuple[Cell, ...]) -> str:
    """Take up one line of a CSV file and return the section that the next is in."""
    word = name.text.casefold()
    if word in SECTIONS and not without_end(cells):
        return word
    if name.text and section:
        raw.rows.append(RawRow(section, name, cells))
    elif name.text:
        raw.set(name, without_end(cells))
    elif without_end(cells):
        raw.note(name, "figures without a name before them")
    return section


def _read_yaml(path: Path) -> RawTable:
    raw = RawTable(str(path))
    root = read_document(path).root
    if root.keys is None:
        raw.note(Cell("", root.line, root.column), "a table of offsets is a block of keys")
        return raw
    for key, (key_node, node) in root.keys.items():
        name = Cell(key, key_node.line, key_node.column)
        section = key.casefold().replace("_", "-")
        if section in SECTIONS:
            _take_section(raw, section, name, node)
        else:
            is_row = key in ("station", "from forward", "from_forward", "stations")
            raw.set(name, _cells(raw, node, is_row=is_row))
    return raw


def _take_section(raw: RawTable, section: str, name: Cell, node: Node) -> None:
    if node.keys is None:
        raw.note(name, f"{section}: takes a block of lines, each with a figure a station")
        return
    for key, (key_node, row) in node.keys.items():
        cell = Cell(key, key_node.line, key_node.column)
        raw.rows.append(RawRow(section, cell, _cells(raw, row, is_row=True)))


def _cells(raw: RawTable, node: Node, *, is_row: bool) -> tuple[Cell, ...]:
    """Return the texts of a value: a list, or one text that may hold a whole row."""
    if node.keys is not None:
        raw.note(Cell("", node.line, node.column), "takes figures, not a block of keys")
        return ()
    if node.entries is None:
        cell = Cell(_text(node), node.line, node.column)
        return split_cells(cell) if is_row else (cell,)
    found = []
    for entry in node.entries:
        parts = entry.entries
        text = " ".join(_text(part) for part in parts) if parts is not None else _text(entry)
        found.append(Cell(text, entry.line, entry.column))
    return tuple(found)


def _text(node: Node) -> str:
    """Return a plain value as it was written."""
    value = as_written(node.value)
    return "" if value is None else str(value)
