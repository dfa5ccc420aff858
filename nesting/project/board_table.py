"""Boards in a table: a CSV file or a sheet of a spreadsheet becomes what a YAML stock file is.

Settings come first, one a row: ``unit``, and what holds for every board that says nothing else.
Then a row of heads that begins with ``board``, and a row for each board.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from nesting.errors import Finding, ProjectFileError, ShapeError
from nesting.project.curve_note import CURVES, stations_of
from nesting.stock.keep_out import PLURALS
from nesting.table_file.csv_grid import csv_grid
from nesting.table_file.grid import REMARK, Cell, Grid
from nesting.unseen import quoted, short, unseen_in
from nesting.yaml_file.composer import Node
from nesting.yaml_file.document import Document, Step
from nesting.yaml_file.scalars import scalar

TABLES = (".csv", ".xlsx")
"""Endings of files that hold a table of boards."""

FIRST_HEAD = "board"

COLUMNS = {
    name: name.replace(" ", "_")
    for name in (
        "board", "species", "thickness", "length", "width", "member", "came from", "moisture",
        "heartwood", "note", "grain", "count", "resaw", "leaf", "widths", "string",
    )
} | {key: key for key in PLURALS.values()}  # fmt: skip
"""Heads of columns, and the key of a board that each stands for."""

SETTINGS = ("unit", "version", *(name for name in COLUMNS if name not in ("board", "count")))

DITTO = frozenset(
    ('"', "''", "``", "\u201c", "\u201d", "\u201e", "\u2033", "\u3003", '-"-', "do", "do.",
     "ditto", "ditto.", "idem", "same", "as above")
)  # fmt: skip
"""What people write for what stands in the row above; a cell that a table sorts anew lies then."""

YES, NO = ("yes", "y", "true"), ("no", "n", "false")


@dataclass(frozen=True)
class TableDocument(Document):
    """A table read into the nodes of a stock file; findings name its cells."""

    grid: Grid

    def finding(self, loc: Sequence[Step], message: str, *, at_key: bool = False) -> Finding:
        """Return a finding as any document does, with the name of the cell before it."""
        found = super().finding(loc, message, at_key=at_key)
        rows = (cells[0].row for cells in self.grid.rows if cells and cells[0].line == found.line)
        return self.grid.finding(found.line, next(rows, found.line), found.column, message)


def read_board_tables(path: Path, sheet: str | None = None) -> list[TableDocument]:
    """Return the tables of boards in a file: one, or of a spreadsheet one a sheet.

    A board with a cell that says nothing is not among them: it stands in ``grid.findings``, so
    that all that is wrong with the others can be told with it.

    Raises
    ------
    ProjectFileError
        With everything wrong in settings and heads, each with sheet and cell.
    """
    if path.suffix.casefold() == ".csv":
        grids = [csv_grid(path, FIRST_HEAD)]
    else:
        # The library for spreadsheets is loaded where one is read.
        from nesting.table_file.workbook_grid import workbook_grids

        grids = workbook_grids(path, sheet)
    documents = [TableDocument(grid.file, _root(grid), grid) for grid in grids]
    if any(document.data is None or "boards" not in document.data for document in documents):
        raise ProjectFileError([finding for grid in grids for finding in grid.findings])
    return documents


def _root(grid: Grid) -> Node:
    """Return the node of a whole table, what is wrong with its form noted."""
    root = Node(1, 1, keys={})
    assert root.keys is not None
    for cells in grid.rows:
        for cell in cells:
            if unseen := unseen_in(cell.text.replace("\n", " ").replace("\r", " ")):
                grid.note(cell, f"{quoted(cell.text)} holds {unseen}, which nobody sees")
    rows = [cells for cells in grid.rows if cells]
    at = next((n for n, row in enumerate(rows) if _folded(row[0].text) == FIRST_HEAD), None)
    if at is None:
        grid.note(
            rows[0][0] if rows else Cell("", 1, 1, 1),
            "no row of heads: it begins with board and names the columns, as board, species, "
            "thickness, length, width" + ("; or name the sheet, sheet:" if grid.sheet else ""),
        )
        return root
    defaults = Node(rows[at][0].line, 1, keys={})
    _take_settings(grid, rows[:at], root, defaults)
    heads = _heads(grid, rows[at])
    if "unit" not in root.keys:
        grid.note(rows[0][0], "no unit: give a row above the heads: unit, in (or mm, cm, m, ft)")
    is_sound = not grid.findings
    _note_hidden_boards(grid, rows[at][0].row)
    below = [
        row for row in rows[at + 1 :]
        if not _is_heads_again(grid, heads, row) and not _is_total(grid, row)
    ]  # fmt: skip
    boards = [board for row in below if (board := _board(grid, heads, row)) is not None]
    if is_sound and (boards or not grid.findings):
        _put(root, rows[at][0], "boards", Node(rows[at][0].line, 1, entries=boards))
    if defaults.keys:
        _put(root, rows[at][0], "defaults", defaults)
    return root


def _note_hidden_boards(grid: Grid, heads: int) -> None:
    """Note rows below the heads that are remarks, and might as well be boards called #12.

    They would be missed by nobody: a number is chalked on wood with that sign.
    """
    for first, *others in grid.remarks:
        is_filled = any(not cell.is_empty for cell in others)
        if first.row > heads and is_filled and re.fullmatch(rf"{REMARK}\d.*", first.text):
            grid.note(
                first,
                f"{quoted(first.text)} makes this row a remark, which is not read: call the board "
                f"{short(first.text.lstrip(REMARK))}, or begin a remark with {REMARK} and a space",
            )


TOTALS = frozenset(
    {"total", "totals", "grand total", "subtotal", "sub total", "sum", "sums", "average", "mean"}
)
"""What the last row of a list is called where it holds what the others come to."""


def _folded(text: str) -> str:
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").split())


def _take_settings(grid: Grid, rows: Sequence[list[Cell]], root: Node, defaults: Node) -> None:
    for name, *cells in rows:
        key = _folded(name.text)
        given = [cell for cell in cells if not cell.is_empty]
        to = root if key in ("unit", "version") else defaults
        written = COLUMNS.get(key, key)
        if key not in SETTINGS:
            grid.note(name, f"{quoted(name.text)} is no setting, {_near(key, SETTINGS)}")
        elif len(given) != 1:
            grid.note(name, f"{key}: {len(given)} cells are given beside it, must be one")
        elif to.keys is not None and written in to.keys:
            grid.note(name, f"{key}: said twice; keep one")
        else:
            _put(to, name, written, _value(grid, key, given[0]))


def _near(given: str, allowed: Sequence[str]) -> str:
    near = get_close_matches(given, allowed, n=1)
    return f"did you mean {near[0]}?" if near else f"allowed: {', '.join(allowed)}"


Heads = dict[int, tuple[str, Cell] | None]
"""What each column is called, by its number; None where what its head says is wrong, and noted."""


def _heads(grid: Grid, cells: Sequence[Cell]) -> Heads:
    """Return what each column is called."""
    found: Heads = {}
    names = {**{_folded(name): name for name in COLUMNS}, **_other_numbers()}
    for cell in cells:
        name = names.get(_folded(cell.text))
        if not cell.text:
            continue
        if name is None:
            near = _near(_folded(cell.text), tuple(COLUMNS))
            grid.note(cell, f"{quoted(cell.text)} is no column, {near}")
            found[cell.column] = None
        elif name in (head[0] for head in found.values() if head):
            grid.note(cell, f"the column {name} is there twice; keep one")
            found[cell.column] = None
        else:
            found[cell.column] = (name, cell)
    return found


def _is_heads_again(grid: Grid, heads: Heads, row: Sequence[Cell]) -> bool:
    """Return whether a row repeats the heads, as in two lists put together; that is noted."""
    known = {number: _folded(head[1].text) for number, head in heads.items() if head}
    if len(row) < 2 or any(known.get(cell.column) != _folded(cell.text) for cell in row):
        return False
    grid.note(row[0], "the row of heads stands here again; take it out")
    return True


def _is_total(grid: Grid, row: Sequence[Cell]) -> bool:
    """Return whether a row adds the others up, as people put below a list; that is noted."""
    first = row[0]
    if first.column != 1 or _folded(first.text.rstrip(" :")) not in TOTALS:
        return False
    grid.note(
        first,
        f"{quoted(first.text)} is no board: a row that adds others up; take it out, or begin it "
        f"with {REMARK} and a space",
    )
    return True


def _other_numbers() -> dict[str, str]:
    """Return the singular of each column of tape notes."""
    return {kind.value: key for kind, key in PLURALS.items()}


def _board(grid: Grid, heads: Heads, row: Sequence[Cell]) -> Node | None:
    """Return a board, or None where a cell says nothing; that is noted."""
    node, noted = Node(row[0].line, row[0].column, keys={}), len(grid.findings)
    for cell in row:
        if cell.is_empty:
            continue
        if cell.column not in heads:
            grid.note(cell, f"{quoted(cell.text)} stands in a column without a head")
            continue
        named = heads[cell.column]
        if named is None:
            continue
        name, head = named
        if cell.text.casefold() in DITTO and name not in (FIRST_HEAD, "note"):
            message = f"{quoted(cell.text)} stands for what is above it: write it out"
            grid.note(cell, message)
            continue
        _put(node, head, COLUMNS[name], _value(grid, name, cell))
    return node if len(grid.findings) == noted else None


def _put(node: Node, at: Cell, key: str, value: Node) -> None:
    assert node.keys is not None
    node.keys[key] = (Node(at.line, at.column, key), value)


def _value(grid: Grid, name: str, cell: Cell) -> Node:
    text = cell.text
    if name in CURVES:
        return _curve(grid, name, cell)
    if name == "heartwood" and _folded(text) in (*YES, *NO):
        return Node(cell.line, cell.column, _folded(text) in YES)
    if name == "moisture":
        text = text.removesuffix("%").strip()
    if name in ("came from", "note", "member"):
        text = " ".join(text.split())
    is_text = name in PLURALS.values()
    return Node(cell.line, cell.column, text if is_text else scalar(text))


def _curve(grid: Grid, name: str, cell: Cell) -> Node:
    """Return the figures of a curve: stations, and what was taped at each."""
    node = Node(cell.line, cell.column, keys={})
    try:
        columns = stations_of(name, cell.text)
    except ShapeError as error:
        grid.note(cell, str(error))
        return node
    for key, texts in columns.items():
        entries = [Node(cell.line, cell.column, scalar(text)) for text in texts]
        _put(node, cell, key, Node(cell.line, cell.column, entries=entries))
    return node
