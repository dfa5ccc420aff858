"""Whether the sheets of a spreadsheet have a form that can be read, before a library opens them.

The library makes a cell of each that a merged range or a link covers, whatever its size, and of a
cell that is written twice it keeps the second without a word.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from xml.parsers import expat

from nesting.errors import Finding, ProjectFileError
from nesting.table_file.grid import MOST_ROWS

MOST_COVERED = 10 * MOST_ROWS
"""Cells that merged ranges and links of one sheet may cover: ten in each row that is read."""

_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7}):\$?([A-Z]{1,3})\$?(\d{1,7})")


class _UnreadError(Exception):
    """A sheet that cannot be read; the message is a sentence without its end."""


class _OtherError(Exception):
    """A part of the file that is no sheet."""


def check_sheets(path: Path, packed: zipfile.ZipFile) -> None:
    """Raise ProjectFileError if a sheet says a cell twice, covers too much or declares entities."""
    for name in packed.namelist():
        if name.endswith(".xml"):
            try:
                _Sheet().check(packed.read(name))
            except _UnreadError as error:
                message = f"{Path(name).name}: {error}; save it again"
                raise ProjectFileError([Finding(str(path), 1, 1, message)]) from None
            except _OtherError:
                continue


class _Sheet:
    """Looks at the elements of one sheet in turn."""

    def __init__(self) -> None:
        self._cells: set[str] = set()
        self._covered = 0
        self._is_begun = False
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartElementHandler = self._element
        self._parser.EntityDeclHandler = self._entity

    def check(self, content: bytes) -> None:
        try:
            self._parser.Parse(content, True)
        except expat.ExpatError:
            return  # The library says so, of what it reads.

    def _entity(self, *_: object) -> None:
        raise _UnreadError("declares entities, which no list of boards needs")

    def _element(self, name: str, attributes: dict[str, str]) -> None:
        kind = name.rpartition(" ")[2]
        if not self._is_begun and kind != "worksheet":
            raise _OtherError
        self._is_begun = True
        if kind == "c" and (cell := attributes.get("r")):
            if cell in self._cells:
                raise _UnreadError(f"the cell {cell[:20]!r} is written twice")
            self._cells.add(cell)
        elif kind in ("mergeCell", "hyperlink"):
            self._cover(attributes.get("ref", ""))

    def _cover(self, given: str) -> None:
        from openpyxl.utils import column_index_from_string

        found = _RANGE.fullmatch(given)
        if found is None:
            return
        wide = abs(column_index_from_string(found[3]) - column_index_from_string(found[1])) + 1
        self._covered += wide * (abs(int(found[4]) - int(found[2])) + 1)
        if self._covered > MOST_COVERED:
            raise _UnreadError(
                f"merged cells and links down to {given} cover more than {MOST_COVERED:,} cells"
            )
