"""The words and figures of a table of offsets, as either kind of file has them, read into one.

A YAML and a CSV file come down to the same thing: settings (a name and its texts) and rows (a
section, a line's name and its cells), each text with its place. Everything wrong in them is
noted before any of it is refused; :mod:`parts.lines.build_table` makes the table of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from difflib import get_close_matches

from nesting.errors import Finding
from nesting.unseen import short

MISSING = frozenset({"", "-", "."})
"""What stands in a cell where the line does not cross the station or nobody measured."""

HEIGHTS, HALF_BREADTHS, DIAGONALS = "heights", "half-breadths", "diagonals"
SECTIONS = (HEIGHTS, HALF_BREADTHS, DIAGONALS)

SETTINGS = (
    "version",
    "name",
    "unit",
    "read to",
    "to",
    "planking",
    "crown span",
    "crown rise",
    "crown curve",
    "station",
    "from forward",
    "stem",
    "stern",
    "knuckle",
    "bilge",
    "odd figures",
    "transom",
)

ROWS = ("name", "station", "from forward", "stem", "stern", "knuckle", "transom")
"""Those that take several cells; of a name a comma makes several."""

FLAT_TRANSOM = (
    "a transom is taken for flat, and stands at the stern; one that is bowed, or stands at the "
    "bow, is not modelled. Give transom, foot and head, where its face is flat; else leave it out, "
    "and the hull ends plumb at its first and last station"
)
"""What is said to whoever asks for another."""


@dataclass(frozen=True)
class Cell:
    """One text of the file and its place, counted from 1."""

    text: str
    line: int
    column: int

    @property
    def is_missing(self) -> bool:
        """Whether nothing is given."""
        return self.text in MISSING


@dataclass(frozen=True)
class RawRow:
    """One line of the table as written."""

    section: str
    name: Cell
    cells: tuple[Cell, ...]


@dataclass
class RawTable:
    """Everything a file says, and what is wrong with it so far."""

    file: str
    settings: dict[str, tuple[Cell, ...]] = field(default_factory=dict)
    rows: list[RawRow] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def note(self, cell: Cell, message: str) -> None:
        """Note what is wrong at a cell."""
        self.findings.append(Finding(self.file, cell.line, cell.column, message))

    def set(self, name: Cell, cells: tuple[Cell, ...]) -> None:
        """Take up a setting; unknown names and ones said twice are noted."""
        key = " ".join(name.text.casefold().replace("_", " ").split())
        if key not in SETTINGS and "transom" in key:
            self.note(name, f"{short(name.text)}: {FLAT_TRANSOM}")
        elif key not in SETTINGS:
            near = get_close_matches(key, SETTINGS, n=1)
            hint = f", did you mean {near[0]}?" if near else f"; known are {', '.join(SETTINGS)}"
            self.note(name, f"{short(name.text)}: no setting of a table of offsets{hint}")
        elif key in self.settings:
            self.note(name, f"{key}: said twice; keep one")
        elif key not in ROWS and len(cells) > 1:
            given = ", ".join(cell.text for cell in cells)
            words = f"{key}: {len(cells)} cells are given, {short(given)}; must be one, and a "
            self.note(cells[1], words + "decimal point in place of a comma")
        else:
            self.settings[key] = cells or (Cell("", name.line, name.column),)


def split_cells(cell: Cell) -> tuple[Cell, ...]:
    """Return the cells of a text that holds a whole row, parted by spaces."""
    return tuple(Cell(match[0], cell.line, cell.column) for match in re.finditer(r"\S+", cell.text))


def without_end(cells: Iterable[Cell]) -> tuple[Cell, ...]:
    """Return cells without the empty ones at their end, as spreadsheets leave them."""
    found = list(cells)
    while found and found[-1].text == "":
        found.pop()
    return tuple(found)
