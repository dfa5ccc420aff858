"""From the texts of a file to a table of offsets, or to everything that is wrong with them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

from nesting.errors import ProjectFileError
from nesting.units import Unit
from nesting.unseen import quoted, short
from nesting.words import counted
from parts.curves import Crown, CrownShape
from parts.lines.build_lines import LinesReader, length_in
from parts.lines.table import (
    Bilge,
    Face,
    OddFigures,
    OffsetTable,
    Station,
)
from parts.lines.table_cells import (
    FLAT_TRANSOM,
    Cell,
    RawTable,
)
from parts.lines.table_faults import note_faults

ChoiceT = TypeVar("ChoiceT", Unit, Face, CrownShape, Bilge, OddFigures)

MOST_STATIONS = 200

FINEST_MM = 0.01
"""No figure is read more finely from a drawing or a floor."""


def build_table(raw: RawTable) -> OffsetTable:
    """Return the table that a file's texts make.

    Raises
    ------
    ProjectFileError
        With everything that is wrong, each with its place.
    """
    reader = _Reader(raw)
    table = reader.table()
    if not raw.findings:
        note_faults(raw, table)
    if raw.findings:
        raise ProjectFileError(raw.findings)
    return table


@dataclass
class _Reader:
    raw: RawTable

    @property
    def top(self) -> Cell:
        return Cell("", 1, 1)

    def table(self) -> OffsetTable:
        version = self._cell("version")
        if version is not None and version.text != "1":
            self.raw.note(version, f"version is {short(version.text)}, must be 1")
        unit = self._unit()
        stations = self._stations(unit)
        lines = LinesReader(self.raw, unit, len(stations)).lines()
        return OffsetTable(
            name=", ".join(cell.text for cell in self.raw.settings.get("name", ())),
            stations=stations,
            lines=lines,
            face=self._choice("to", Face, Face.OUTSIDE),
            planking_mm=self._length("planking", unit, least=0.0) or 0.0,
            stem=self._points("stem", unit),
            stern=self._points("stern", unit),
            knuckles=self._points("knuckle", unit),
            transom=self._points("transom", unit, count=2),
            transom_at=self._place("transom"),
            stem_at=self._place("stem"),
            stern_at=self._place("stern"),
            crown=self._crown(unit),
            file=self.raw.file,
            unit=unit,
            keeps_odd=self._choice("odd figures", OddFigures, OddFigures.LEFT_OUT)
            is OddFigures.KEPT,
            is_round=self._choice("bilge", Bilge, Bilge.UNSAID) is Bilge.ROUND,
            read_to_mm=self._length("read to", unit, least=FINEST_MM),
        )

    def _cell(self, key: str) -> Cell | None:
        cells = self.raw.settings.get(key)
        return cells[0] if cells else None

    def _place(self, key: str) -> tuple[int, int]:
        cell = self._cell(key)
        return (cell.line, cell.column) if cell else (1, 1)

    def _unit(self) -> Unit:
        cell = self._cell("unit")
        if cell is None:
            self.raw.note(self.top, "unit: missing; say what a bare number is: ft, in, mm or m")
            return Unit.MM
        return self._choice("unit", Unit, Unit.MM)

    def _choice(self, key: str, kind: type[ChoiceT], default: ChoiceT) -> ChoiceT:
        cell = self._cell(key)
        if cell is None:
            return default
        try:
            return kind(cell.text)
        except ValueError:
            words = " or ".join(word for word in kind if word)
            self.raw.note(cell, f"{key} is {quoted(cell.text)}, must be {words}")
            return default

    def _length(self, key: str, unit: Unit, *, least: float) -> float | None:
        cell = self._cell(key)
        if cell is None:
            return None
        mm = length_in(self.raw, cell, unit, key)
        if mm is not None and mm < least:
            self.raw.note(cell, f"{key} is {short(cell.text)}, must be {least:g} mm or more")
        return mm

    def _crown(self, unit: Unit) -> Crown | None:
        span = self._length("crown span", unit, least=1.0)
        rise = self._length("crown rise", unit, least=0.0)
        shape = self._choice("crown curve", CrownShape, CrownShape.ARC)
        cell = self._cell("crown span") or self._cell("crown rise")
        if span is None or rise is None:
            if cell is not None and not self.raw.findings:
                self.raw.note(cell, "a crown has a span and a rise: give both")
            return None
        if rise > span / 4:
            assert cell is not None
            self.raw.note(cell, f"crown rise is {rise:g} mm over {span:g} mm: no deck is so round")
        return Crown(span, rise, shape)

    def _points(
        self, key: str, unit: Unit, *, count: int | None = None
    ) -> tuple[tuple[float, float], ...]:
        """Return the points of a setting, each of two figures with a space between."""
        found = []
        cells = [cell for cell in self.raw.settings.get(key, ()) if not cell.is_missing]
        for cell in cells:
            pair = cell.text.split()
            if len(pair) != 2:
                self.raw.note(
                    cell,
                    f"{key}: {quoted(cell.text)} is no point; write from forward, a space, height",
                )
                continue
            x, z = (
                length_in(self.raw, Cell(part, cell.line, cell.column), unit, key) for part in pair
            )
            if x is not None and z is not None:
                found.append((x, z))
        if count is not None and cells and len(cells) != count:
            self.raw.note(
                cells[0],
                f"{key}: {counted(len(cells), 'point')}, must be {count}, foot and "
                f"head: {FLAT_TRANSOM}",
            )
        if count is not None:
            # A transom may stand plumb, or lean forward.
            if any(b[1] <= a[1] for a, b in pairwise(found)):
                self.raw.note(
                    cells[0], f"{key}: its head must lie above its foot, which comes first"
                )
        elif any(b[0] <= a[0] for a, b in pairwise(found)):
            self.raw.note(cells[0], f"{key}: its points must run aft, each further than the last")
        return tuple(found)

    def _stations(self, unit: Unit) -> tuple[Station, ...]:
        names = self.raw.settings.get("station", ())
        places = self.raw.settings.get("from forward", ())
        if not names or not places:
            missing = "station" if not names else "from forward"
            self.raw.note(self.top, f"{missing}: missing; name the stations and say where each is")
            return ()
        if len(names) != len(places):
            self.raw.note(
                places[0],
                f"from forward: {counted(len(places), 'figure')} for "
                f"{counted(len(names), 'station')}; give one for each",
            )
        if len(names) > MOST_STATIONS:
            self.raw.note(names[0], f"station: {len(names)} of them, at most {MOST_STATIONS}")
        found = list[Station]()
        for number, (name, place) in enumerate(zip(names, places, strict=False), 1):
            x = length_in(self.raw, place, unit, f"station {short(name.text)}, from forward")
            if x is None:
                continue
            if found and x <= found[-1].x_mm:
                self.raw.note(
                    place,
                    f"station {short(name.text)} stands at {short(place.text)}, not aft of station "
                    f"{short(found[-1].name)}: list them from forward",
                )
            if name.text in {station.name for station in found}:
                self.raw.note(name, f"station {short(name.text)}: there are two of that name")
            if name.is_missing:
                self.raw.note(
                    name,
                    f"station: {name.text!r} is no name; number {number} of them needs one, as "
                    f"{number}",
                )
            found.append(Station(name.text, x, place.text, place.line, place.column))
        return tuple(found)
