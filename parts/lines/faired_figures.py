"""What fairing makes of a table: every figure as the fair hull has it, and the table anew."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import numpy as np

from parts.lines.hull import Hull
from parts.lines.notation import written_like
from parts.lines.plane_curve import PlaneCurve
from parts.lines.read_table import read_texts
from parts.lines.rows import SAME_MM
from parts.lines.table import Line, Measure, Offset, Station, measured
from parts.lines.table_cells import SECTIONS, RawTable

SECTION_POINTS = 401
"""Points of a section on which a figure is looked up; chords leave it by less than 0.05 mm."""


@dataclass(frozen=True)
class FairedFigure:
    """One figure of the table and what the fair hull has in its place.

    Attributes
    ----------
    row
        Number of its line in the table.
    fair_mm
        None where the line does not meet the fair hull.
    is_odd
        By itself, or with a line or station that is wrong as a whole.
    """

    row: int
    line: Line
    station: Station
    offset: Offset
    fair_mm: float | None
    is_odd: bool

    @property
    def corrected_mm(self) -> float:
        """How far fairing moves it; 0 where the line does not meet the hull."""
        return 0.0 if self.fair_mm is None else abs(self.fair_mm - self.offset.mm)


@dataclass(frozen=True)
class Corrected:
    """What fairing moves at one station, mm, but for the figures that are odd.

    ``middling_mm`` is the correction that half of the figures stay below.
    """

    station: Station
    count: int
    odd: int
    middling_mm: float
    largest: FairedFigure | None


def faired_figures(hull: Hull) -> tuple[FairedFigure, ...]:
    """Return every figure of a hull's table that lies on the hull, station by station."""
    return tuple(_figures(hull))


def _figures(hull: Hull) -> Iterator[FairedFigure]:
    table, surface = hull.table, hull.fairing.surface
    whole = hull.fairing.whole
    odd = {(one.file_line, one.file_column, one.station, one.line) for one in hull.odd}
    first, last = hull.ends
    for n, station in enumerate(table.stations):
        if not first - SAME_MM <= station.x_mm <= last + SAME_MM:
            continue
        section, _ = surface.section(station.x_mm, surface.across(SECTION_POINTS))
        for row, line in enumerate(table.lines):
            offset = line.offsets[n]
            if offset is None or (row, n) in hull.fairing.unused:
                continue
            curve = _edge_curve(hull, hull.fairing.read.lines[row])
            fair = float(curve.at(station.x_mm)) if curve else measured(section, line)
            if fair is not None and line.measure is not Measure.HEIGHT:
                fair = max(0.0, fair)
            is_odd = (offset.line, offset.column, station.name, line.title) in odd
            is_odd |= whole is not None and whole.holds((row, n))
            yield FairedFigure(row, line, station, offset, fair, is_odd)


def _edge_curve(hull: Hull, line: Line) -> PlaneCurve | None:
    """Return the fair curve of an edge that a line of the table gave, if any."""
    return next(
        (row.curve for edge in hull.edges.each() for row in edge.rows() if row.line is line), None
    )


def corrections(figures: Sequence[FairedFigure]) -> tuple[Corrected, ...]:
    """Return what fairing moves, a row a station."""
    return tuple(
        _corrected(station, tuple(of_one))
        for station, of_one in groupby(figures, key=lambda figure: figure.station)
    )


def _corrected(station: Station, figures: tuple[FairedFigure, ...]) -> Corrected:
    right = [figure for figure in figures if not figure.is_odd]
    moved = [figure.corrected_mm for figure in right]
    return Corrected(
        station,
        len(figures),
        len(figures) - len(right),
        float(np.median(moved)) if moved else 0.0,
        max(right, key=lambda figure: figure.corrected_mm, default=None),
    )


def faired_table(hull: Hull, figures: Sequence[FairedFigure]) -> str:
    """Return a hull's table as CSV with the figures of the fair hull, in the table's own words.

    Where it has no figure there is none; settings, stations and lines are as they were written.
    """
    raw = read_texts(Path(hull.table.file))
    number = {station.name: n for n, station in enumerate(hull.table.stations)}
    fair = {(one.row, number[one.station.name]): _text(one, hull) for one in figures}
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    stream.write("# The figures of the fair hull: a proposal, each to be looked at on the floor.\n")
    for name, cells in raw.settings.items():
        writer.writerow([name, *(cell.text for cell in cells)])
    for row in _rows(raw, fair):
        writer.writerow(row)
    return stream.getvalue()


def _rows(raw: RawTable, fair: dict[tuple[int, int], str]) -> Iterator[list[str]]:
    """Yield headings and lines; each heading once, with all of its lines below it."""
    numbered = list(enumerate(raw.rows))
    for section in SECTIONS:
        rows = [(n, row) for n, row in numbered if row.section == section]
        if rows:
            yield [section]
        for n, row in rows:
            texts = (cell.text or "-" for cell in row.cells)
            yield [row.name.text, *(fair.get((n, k), text) for k, text in enumerate(texts))]


def _text(figure: FairedFigure, hull: Hull) -> str:
    if figure.fair_mm is None:
        return "-"
    return written_like(figure.fair_mm, figure.offset.written, hull.table.unit)
