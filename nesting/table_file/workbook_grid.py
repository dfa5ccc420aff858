"""Reading the sheets of a spreadsheet, and what spreadsheets make of what was typed."""

from __future__ import annotations

import datetime
import warnings
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from nesting.errors import Finding, ProjectFileError
from nesting.table_file.grid import MOST_COLUMNS, MOST_ROWS, REMARK, Cell, Grid
from nesting.table_file.sheet_form import check_sheets

LARGEST_BYTES, LARGEST_UNPACKED = 20_000_000, 200_000_000
"""Of the file, and of what is packed in it: 10,000 boards come to a twentieth."""


FORMULA = "="
"""How the text of a cell begins that is to be reckoned."""


def workbook_grids(path: Path, wanted: str | None = None) -> list[Grid]:
    """Return the cells of every sheet that holds anything, or of the one that is wanted.

    Raises
    ------
    ProjectFileError
        If the file cannot be read, or has no such sheet.
    """
    typed = _opened(path)
    names = [sheet.title for sheet in typed.worksheets]
    if wanted is not None and wanted not in names:
        raise _wrong(path, f"there is no sheet {wanted!r} in it; there are {', '.join(names)}")
    grids = [
        _grid(path, sheet) for sheet in typed.worksheets if wanted is None or sheet.title == wanted
    ]
    if wanted is None:
        _refuse_hidden(grids, typed)
    formulas = [(grid, cell) for grid in grids for row in grid.rows for cell in row
                if cell.text.startswith(FORMULA)]  # fmt: skip
    if formulas:
        _reckon(path, formulas)
    found = [grid for grid in grids if any(grid.rows) or grid.findings]
    if not found:
        raise _wrong(path, "holds nothing: no sheet has anything in it")
    return found


def _opened(path: Path, *, reckoned: bool = False) -> Any:
    try:
        if not path.is_file():
            raise _wrong(path, "there is no such file")
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(one.file_size for one in packed.infolist())
            if path.stat().st_size > LARGEST_BYTES or unpacked > LARGEST_UNPACKED:
                raise _wrong(
                    path, f"is {unpacked / 1e6:.0f} MB unpacked; that is no list of boards"
                )
            check_sheets(path, packed)
        import openpyxl

        with warnings.catch_warnings():
            # Of what else a workbook may hold (menus, colours) nothing is asked.
            warnings.simplefilter("ignore")
            return openpyxl.load_workbook(path, data_only=reckoned)
    except ProjectFileError:
        raise
    except PermissionError:
        raise _wrong(path, "may not be read; check its permissions") from None
    except Exception as error:  # The library raises whatever a broken file makes it stumble on.
        raise _wrong(
            path, f"is no spreadsheet that can be read ({type(error).__name__}); save it as .xlsx"
        ) from None


def _grid(path: Path, sheet: Any) -> Grid:
    grid = Grid(str(path), sheet.title)
    for number, row in enumerate(_rows(sheet), start=1):
        cells = [Cell(_text(grid, cell), number, at, number) for at, cell in enumerate(row, 1)]
        if len(cells) > MOST_COLUMNS or number > MOST_ROWS:
            grid.note(
                Cell("", number, len(cells), number),
                f"more than {MOST_ROWS:,} rows or {MOST_COLUMNS} columns",
            )
            break
        grid.add(cells)
    _note_merged(grid, sheet)
    _note_hidden(grid, sheet)
    _note_struck(grid, sheet)
    return grid


def _note_merged(grid: Grid, sheet: Any) -> None:
    """Note cells that are one over several rows: what they say stands in the first row alone."""
    for merged in sheet.merged_cells.ranges:
        first = sheet.cell(merged.min_row, merged.min_col)
        is_remark = str(sheet.cell(merged.min_row, 1).value or "").lstrip().startswith(REMARK)
        if merged.max_row > merged.min_row and first.value is not None and not is_remark:
            _note(
                grid, first,
                f"the cells {merged.coord} are merged, so that only the first row says it: part "
                "them, and write in each row what holds for it",
            )  # fmt: skip


def _note_hidden(grid: Grid, sheet: Any) -> None:
    """Note hidden rows and columns that hold anything: nobody sees what they say."""
    rows = {number for number, row in sheet.row_dimensions.items() if row.hidden}
    columns = [
        range(column.min, column.max + 1)
        for column in sheet.column_dimensions.values()
        if column.hidden and column.min and column.max
    ]
    held = [cell for cells in grid.rows for cell in cells if cell.text]
    for number in sorted(rows & {cell.row for cell in held}):
        first = next(cell for cell in held if cell.row == number)
        grid.note(first, "this row is hidden: show it, or delete it")
    for column in sorted({cell.column for cell in held}):
        if any(column in hidden for hidden in columns):
            first = next(cell for cell in held if cell.column == column)
            grid.note(first, "this column is hidden: show it, or delete it")


def _note_struck(grid: Grid, sheet: Any) -> None:
    """Note rows in which anything is struck through: what somebody crossed out is there no more, or
    is wrong.
    """
    struck = {number for number, font in enumerate(sheet.parent._fonts) if font.strike}
    for cells in grid.rows if struck else ():
        for cell in cells:
            if cell.text and sheet.cell(cell.row, cell.column)._style.fontId in struck:
                message = "this is struck through: delete it, or take the line off"
                grid.note(cell, message)
                break


def _refuse_hidden(grids: list[Grid], typed: Any) -> None:
    """Refuse hidden sheets that hold anything: of those that are read because none was named."""
    message = "this sheet is hidden: show it, delete it, or say with sheet: which one is read"
    found = [
        grid.finding(1, 1, 1, message)
        for grid in grids
        if any(grid.rows) and typed[grid.sheet].sheet_state != "visible"
    ]
    if found:
        raise ProjectFileError(found)


def _rows(sheet: Any) -> Iterator[Any]:
    """Yield the rows down to the last cell that holds anything: colours may go on for miles."""
    held = [place for place, cell in sheet._cells.items() if cell.value is not None]
    if held:
        last_row, last_column = (max(numbers) for numbers in zip(*held, strict=True))
        yield from sheet.iter_rows(
            1, min(last_row, MOST_ROWS + 1), 1, min(last_column, MOST_COLUMNS + 1)
        )


def _text(grid: Grid, cell: Any) -> str:
    """Return what a cell says as it would be typed."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str):
        if cell.data_type == "e":
            _note(grid, cell, f"the spreadsheet could not reckon this: {value}")
        return value.strip()
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        _note(
            grid, cell,
            f"the spreadsheet took what was typed for a date or a time, {value}: set the column to "
            "text and type it anew",
        )  # fmt: skip
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return FORMULA  # one for several cells: what it came to stands beside it in the file
    return f"{_figure(value * 100)}%" if "%" in str(cell.number_format) else _figure(value)


def _figure(value: float) -> str:
    """Return a number as it would be typed: what its last digits say more is of no tape."""
    return f"{round(float(value), 9):.9f}".rstrip("0").rstrip(".")


def _note(grid: Grid, cell: Any, message: str) -> None:
    grid.findings.append(grid.finding(cell.row, cell.row, cell.column, message))


def _reckon(path: Path, formulas: list[tuple[Grid, Cell]]) -> None:
    """Put in place of formulas what the spreadsheet reckoned when it was saved."""
    reckoned = _opened(path, reckoned=True)
    for grid, cell in formulas:
        found = reckoned[grid.sheet].cell(cell.row, cell.column)
        if found.value is None:
            message = "this formula was never reckoned; open and save the file, or type its value"
            grid.note(cell, message)
        text = _text(grid, found)
        grid.rows[cell.row - 1][cell.column - 1] = Cell(text, cell.row, cell.column, cell.line)


def _wrong(path: Path, message: str) -> ProjectFileError:
    return ProjectFileError([Finding(str(path), 1, 1, message)])
