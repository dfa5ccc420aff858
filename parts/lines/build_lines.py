"""From the rows of a table's file to its lines: edges, chines, and all that cross stations."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.errors import LengthError
from nesting.units import Unit, parse_length
from nesting.unseen import short
from nesting.words import counted
from parts.lines.table import (
    Line,
    LineKind,
    Measure,
    Offset,
    buttock,
    diagonal,
    waterline,
)
from parts.lines.table_cells import (
    DIAGONALS,
    HALF_BREADTHS,
    HEIGHTS,
    Cell,
    RawRow,
    RawTable,
    without_end,
)

CHINES = ("chine", "knuckle")
"""What a line along which the planking is broken is called; more words after it tell several
apart."""

EDGES = (*CHINES, LineKind.SHEER, LineKind.RABBET)
"""Lines that bound the planking: without a figure they bound nothing."""

CROSSING = (LineKind.WATERLINE, LineKind.BUTTOCK, LineKind.DIAGONAL)
"""Lines with a place of their own, of which each figure is a point."""

MOST_LINES = 200
"""A large table has some forty."""

SAME_MM = 0.01
"""Nearer than this two lines stand in one place."""

_DIAGONAL = re.compile(r"diagonal\s+(?P<name>\S+)\s+from\s+(?P<top>.+?)\s+through\s+(?P<far>.+)")


def length_in(raw: RawTable, cell: Cell, unit: Unit, what: str) -> float | None:
    """Return a length, mm; None, and a note, for what is none."""
    try:
        return parse_length(cell.text, unit)
    except LengthError as error:
        raw.note(cell, f"{what}: {error}")
        return None


def _same_name(one: str, other: str) -> bool:
    return one.casefold().split() == other.casefold().split()


def _stands_alike(one: Line, other: Line) -> bool:
    """Return whether two lines that cross stations cross them in one place."""
    if one.kind is not other.kind or one.kind not in CROSSING:
        return False
    apart = math.dist((*one.origin, *one.direction), (*other.origin, *other.direction))
    return apart < SAME_MM


@dataclass
class LinesReader:
    """Makes a table's lines of its rows, and notes what is wrong with them."""

    raw: RawTable
    unit: Unit
    stations: int

    def lines(self) -> tuple[Line, ...]:
        """Return the lines."""
        found = list[Line]()
        if not self.raw.rows:
            self.raw.note(Cell("", 1, 1), "there are no lines: give heights and half-breadths")
        if len(self.raw.rows) > MOST_LINES:
            words = f"{len(self.raw.rows)} lines, at most {MOST_LINES}: is this one table?"
            self.raw.note(self.raw.rows[MOST_LINES].name, words)
            return ()
        seen = set[tuple[str, str]]()
        for row in self.raw.rows:
            key = (row.section, " ".join(row.name.text.split()).casefold())
            is_new = key not in seen
            seen.add(key)
            if not is_new:
                self.raw.note(row.name, f"{short(row.name.text)}: said twice; keep one")
            line = self._line(row)
            if line is not None:
                line = replace(line, at=(row.name.line, row.name.column))
                if is_new:
                    self._note_again(line, found)
                found.append(line)
        self._pair_chines(found)
        return tuple(found)

    def _note_again(self, line: Line, before: Sequence[Line]) -> None:
        """Note a waterline, buttock or diagonal that stands where another does, however called."""
        for other in before:
            if _stands_alike(line, other):
                words = f"{short(line.name)} is {short(other.name)} of line {other.at[0]} again"
                self.raw.note(Cell("", *line.at), f"{words}; keep one")
                return

    def _pair_chines(self, lines: list[Line]) -> None:
        """Note every chine that has no heights or no half-breadths."""
        chines = [line for line in lines if line.kind is LineKind.CHINE]
        for line in chines:
            if sum(other.name == line.name for other in chines) < 2:
                lacking = "half-breadths" if line.measure is Measure.HEIGHT else "heights"
                row = next(r for r in self.raw.rows if _same_name(r.name.text, line.name))
                self.raw.note(
                    row.name,
                    f"{short(line.name)}: a chine has heights and half-breadths; its "
                    f"{lacking} are missing",
                )

    def _line(self, row: RawRow) -> Line | None:
        offsets = self._offsets(row)
        name = " ".join(row.name.text.split())
        word = name.split()[0].casefold() if name else ""
        if word in EDGES and not any(offsets):
            self.raw.note(row.name, f"{short(name)}: no figures; give some, or leave the line out")
        if word in CHINES and row.section != DIAGONALS:
            measure = Measure.HEIGHT if row.section == HEIGHTS else Measure.HALF_BREADTH
            return Line(LineKind.CHINE, name.casefold(), measure, offsets)
        if word in (LineKind.SHEER, LineKind.RABBET) and row.section != DIAGONALS:
            measure = Measure.HEIGHT if row.section == HEIGHTS else Measure.HALF_BREADTH
            return Line(LineKind(word), word, measure, offsets)
        if word == LineKind.DIAGONAL and row.section == DIAGONALS:
            return self._diagonal(row, name, offsets)
        wanted = {HEIGHTS: LineKind.BUTTOCK, HALF_BREADTHS: LineKind.WATERLINE}.get(row.section)
        if word != wanted:
            usual = wanted or "diagonal A from 3-6-0 through 3-0-0 1-6-0"
            sheer = ", chine, sheer or rabbet" if wanted else ""
            self.raw.note(
                row.name, f"{short(name)}: no line of {row.section}; those are {usual}{sheer}"
            )
            return None
        place = Cell(name[len(word) :].strip(), row.name.line, row.name.column)
        at = length_in(self.raw, place, self.unit, short(name))
        if at is None:
            return None
        make = buttock if wanted is LineKind.BUTTOCK else waterline
        return make(name, at, offsets)

    def _diagonal(self, row: RawRow, name: str, offsets: tuple[Offset | None, ...]) -> Line | None:
        match = _DIAGONAL.fullmatch(name)
        far = match["far"].split() if match else []
        if match is None or len(far) != 2:
            self.raw.note(
                row.name,
                f"{short(name)}: say where the diagonal leaves the centreline and a point it runs "
                "through, as: diagonal A from 3-6-0 through 3-0-0 1-6-0",
            )
            return None
        texts = [match["top"], *far]
        top, y, z = (
            length_in(self.raw, Cell(text, row.name.line, row.name.column), self.unit, short(name))
            for text in texts
        )
        if top is None or y is None or z is None:
            return None
        if y <= 0 or z > top:
            self.raw.note(row.name, f"{short(name)}: a diagonal runs outward and down")
            return None
        return diagonal(f"diagonal {match['name']}", top, (y, z), offsets)

    def _offsets(self, row: RawRow) -> tuple[Offset | None, ...]:
        stations = self.stations
        cells = [*row.cells[:stations], *without_end(row.cells[stations:])]
        if stations and len(cells) != stations:
            self.raw.note(
                row.name,
                f"{short(row.name.text)}: {counted(len(cells), 'figure')} for "
                f"{counted(stations, 'station')}; put - where "
                "the line does not cross",
            )
        names = [cell.text for cell in self.raw.settings.get("station", ())]
        found = list[Offset | None]()
        for number, cell in enumerate(cells):
            station = names[number] if number < len(names) else str(number + 1)
            found.append(self._offset(cell, f"station {short(station)}, {short(row.name.text)}"))
        return tuple(found)

    def _offset(self, cell: Cell, what: str) -> Offset | None:
        if cell.is_missing:
            return None
        mm = length_in(self.raw, cell, self.unit, what)
        return None if mm is None else Offset(mm, cell.text, cell.line, cell.column)
