"""The stock of a project: boards written in the project file and in stock files."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.errors import ProjectFileError
from nesting.project.board_table import TABLES, TableDocument, read_board_tables
from nesting.project.boards import IN_STOCK_FILE, IN_TABLE, boards_of, title_of, with_defaults
from nesting.project.entry import Entry, Names
from nesting.project.project_entry import StockFileEntry, StockHead
from nesting.project.setting import Setting
from nesting.project.unit import unit_of
from nesting.stock.board import Board
from nesting.yaml_file.document import Document, read_document


def read_stock(project: Entry, setting: Setting) -> tuple[tuple[Board, ...], dict[str, Entry]]:
    """Return the boards of a project, and each one's entry by its name.

    Whatever is wrong is noted in the project's findings.
    """
    boards: list[Board] = []
    names = Names("board")
    files: dict[str, Entry] = {}
    for number, data in blocks_in(project.data, "stock"):
        if "file" in data and "board" not in data:
            entry = project.below("stock", number, data=data, title="stock")
            boards.extend(_stock_file(entry, setting, names, files))
        else:
            title = title_of(data, "board", number)
            entry = project.below("stock", number, data=data, title=title)
            boards.extend(_named(entry, setting, names))
    return tuple(boards), names.used


def blocks_in(data: Any, key: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield number and data of the blocks of keys in a list.

    Anything else in the list is passed over: the model of the whole file complains of it.
    """
    given = data.get(key) if isinstance(data, dict) else None
    for number, block in enumerate(given if isinstance(given, list) else ()):
        if isinstance(block, dict):
            yield number, block


def _named(entry: Entry, setting: Setting, names: Names, hint: str = "") -> Iterator[Board]:
    """Yield the boards of an entry, and note a name that is taken."""
    if "count" not in entry.data:
        names.add_written(entry)
    for board in boards_of(entry, setting, hint=hint):
        names.add(board.name, entry)
        yield board


def _stock_file(
    entry: Entry, setting: Setting, names: Names, files: dict[str, Entry]
) -> Iterator[Board]:
    read = entry.validated(StockFileEntry, setting.context)
    if read is None:
        return
    path = setting.folder / read.file
    sheet = f"\n{read.sheet}" if read.sheet else ""
    first = files.setdefault(os.path.realpath(path) + sheet, entry)
    if first is not entry:
        at = first.place("file")
        text = f"file: {read.file} is in the stock already, at {at}; its boards are there once: "
        entry.note(("file",), text + "leave this out")
        return
    if read.sheet and path.suffix.casefold() != ".xlsx":
        entry.note(("sheet",), f"sheet: {read.file} has no sheets, only an .xlsx has")
        return
    for document in _documents(path, read.sheet, entry):
        top = Entry(document, document.data, entry.findings)
        unit = unit_of(document)
        top.validated(StockHead, setting.context)
        if unit is not None:
            folder = Path(document.file).parent
            yield from _boards_in(top, replace(setting, unit=unit, folder=folder), names)


def _documents(path: Path, sheet: str | None, entry: Entry) -> Sequence[Document]:
    """Return what a stock file holds: one document, of a spreadsheet one a sheet."""
    try:
        if path.suffix.casefold() not in TABLES:
            return [read_document(path)]
        tables = read_board_tables(path, sheet)
        for finding in (finding for table in tables for finding in table.grid.findings):
            entry.findings.add(finding)
        return tables
    except ProjectFileError as error:
        if not path.is_file():
            entry.note(("file",), f"{path}: {error.findings[0].message}")
            return []
        for finding in error.findings:
            entry.findings.add(finding)
        return []


def _boards_in(top: Entry, setting: Setting, names: Names) -> Iterator[Board]:
    defaults = top.data.get("defaults")
    hint = IN_TABLE if isinstance(top.document, TableDocument) else IN_STOCK_FILE
    for number, data in blocks_in(top.data, "boards"):
        title = title_of(data, "board", number)
        entry = top.below("boards", number, data=data, title=title)
        if isinstance(defaults, dict):
            entry = with_defaults(entry, defaults)
        yield from _named(entry, setting, names, hint)
