"""From a table of offsets to a fair surface, and to the figures that are off it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point
from threadpoolctl import threadpool_limits

from nesting.errors import Finding
from nesting.units import Unit
from parts.curves import Points
from parts.lines.drawn import surface_of
from parts.lines.faired_edges import Edges
from parts.lines.from_aft import from_aft_notes
from parts.lines.judging import Judged
from parts.lines.notation import slip_in, written_like
from parts.lines.odd_ones import EIGHTH_MM
from parts.lines.off_hull import few_stations, unused, unused_notes
from parts.lines.open_sections import open_section_notes
from parts.lines.plane_curve import PlaneCurve
from parts.lines.reading import Cell
from parts.lines.rows import SAME_MM
from parts.lines.stem_points import stem_notes
from parts.lines.suppositions import Supposition
from parts.lines.surface import Surface
from parts.lines.table import Line, Offset, OffsetTable, Station, measured
from parts.lines.transom_place import transom_notes
from parts.lines.unsure_edges import unsure_edges
from parts.lines.wholes import judged_as_a_whole


@dataclass(frozen=True)
class OddOffset:
    """A figure of the table off the fair hull by more than an eighth of an inch.

    ``fair_mm`` is what the fair hull has there: None where the line does not meet it. The hull
    is faired without the figure. ``file_line`` and ``file_column`` are its place, from 1.
    """

    station: str
    line: str
    written: str
    given_mm: float
    fair_mm: float | None
    unit: Unit
    file: str
    file_line: int
    file_column: int

    @property
    def off_mm(self) -> float:
        """How far the figure is off; infinite where the line does not meet the hull."""
        return np.inf if self.fair_mm is None else self.given_mm - self.fair_mm

    @property
    def should_read(self) -> str:
        """What the figure probably should be, written as it is."""
        if self.fair_mm is None:
            return "-"
        slip = slip_in(self.written, self.fair_mm, self.unit)
        return slip or written_like(max(0.0, self.fair_mm), self.written, self.unit)

    @property
    def finding(self) -> Finding:
        """What is odd, and the figure's place in the file."""
        where = f"station {self.station}, {self.line}: {self.written}"
        if self.fair_mm is None:
            text = f"{where} lies off the hull, which the line does not cross there"
        else:
            off = written_like(abs(self.off_mm), self.written, self.unit)
            text = f"{where} is {off} {'more' if self.off_mm > 0 else 'less'} than a fair line has"
        text = f"{text}; it probably should read {self.should_read}"
        return Finding(self.file, self.file_line, self.file_column, text)

    def __str__(self) -> str:
        return str(self.finding) if self.file else self.finding.message


@dataclass(frozen=True, eq=False)
class Fairing:
    """A faired table.

    Attributes
    ----------
    surface
        The face of the planking that the table goes to.
    odd
        Every figure that is off it, by station; none on a fair table.
    tolerance_mm
        What the smoothing let the other figures be off: root of their mean square.
    notes
        What the table lacks at its ends, and what was taken for it; which figure there its line
        does not run on to; which figures are not used; where an edge or a section is left open;
        what is odd of its transom.
    unused
        The figures that are neither odd nor on the hull.
    whole
        The line, label or station that is wrong as a whole, if one is: none of its figures is
        among the odd, and ``edges`` and ``surface`` are of the table as it would read.
    """

    table: OffsetTable
    edges: Edges
    surface: Surface
    odd: tuple[OddOffset, ...]
    tolerance_mm: float
    notes: tuple[Finding, ...] = ()
    unused: frozenset[Cell] = frozenset()
    whole: Supposition | None = None

    @property
    def read(self) -> OffsetTable:
        """The table as it was faired."""
        return self.whole.table if self.whole else self.table


def fair(table: OffsetTable) -> Fairing:
    """Return the fair surface of a table, and what is off it.

    Raises
    ------
    ShapeError
        If the table has too few figures to make a surface of.
    """
    # The matrices are small: threads that share one out wait for each other, on a busy machine
    # a hundred times as long as one thread takes for the whole.
    with threadpool_limits(1, user_api="blas"):
        found, whole = judged_as_a_whole(table)
        surface = surface_of(found)
        compared = _compared(table, found, surface, whole)
        left_open = tuple(open_section_notes(found))
    edges = found.edges
    notes = (
        *few_stations(table), *unused_notes(table, edges, compared.unused), *_carried_on(found),
        *_doubtful(found), *unsure_edges(table, edges), *left_open,
        *transom_notes(table, edges), *stem_notes(table, edges), *from_aft_notes(table, edges),
    )  # fmt: skip
    return Fairing(
        table, edges, surface, compared.odd, compared.scatter_mm, notes, compared.unused, whole
    )


def _carried_on(found: Judged) -> Iterator[Finding]:
    """Yield every figure of an edge that the table lacks at an end of the hull."""
    table, ends = found.reading.table, found.edges.ends
    for n, station in enumerate(table.stations):
        if min(abs(station.x_mm - end) for end in ends) > SAME_MM:
            continue
        for edge in found.edges.each():
            for row in edge.rows():
                if row.line is None or row.line.offsets[n] is not None:
                    continue
                given = next(offset for offset in row.line.offsets if offset is not None)
                taken = written_like(float(row.curve.at(station.x_mm)), given.written, table.unit)
                text = (
                    f"station {station.name}, {row.line.title}: not given; the line is carried "
                    f"on to {taken} there: give it, or leave the station out"
                )
                yield Finding(table.file, given.line, given.column, text)


def _doubtful(found: Judged) -> Iterator[Finding]:
    """Yield every figure at an end of an edge that is strange, and not surely wrong."""
    table = found.reading.table
    for verdict in found.doubtful:
        number, station = verdict.cell
        line, offset = table.lines[number], table.lines[number].offsets[station]
        assert offset is not None
        off = written_like(abs(verdict.off_mm), offset.written, table.unit)
        text = (
            f"station {table.stations[station].name}, {line.title}: {offset.written} is {off} "
            f"{'more' if verdict.off_mm > 0 else 'less'} than the line runs on to there, and the "
            "figures beside it leave open which is right: measure it again"
        )
        yield Finding(table.file, offset.line, offset.column, text)


@dataclass(frozen=True)
class _Compared:
    """A table held against its fair hull: the scatter of its figures, odd and unused ones."""

    scatter_mm: float
    odd: tuple[OddOffset, ...]
    unused: frozenset[Cell]


def _compared(
    table: OffsetTable, found: Judged, surface: Surface, whole: Supposition | None
) -> _Compared:
    """Return a table held against its fair hull, but for what is wrong as a whole."""
    read, edges = found.reading.table, found.edges
    odd, squares, aside = list[OddOffset](), list[float](), set[Cell]()
    first, last = edges.ends
    left = unused(read, edges, found.fits)
    left = frozenset(cell for cell in left if not (whole and whole.holds(cell)))
    for n, station in enumerate(table.stations):
        if not first - SAME_MM <= station.x_mm <= last + SAME_MM:
            aside.update(cell for cell in left if cell[1] == n)
            continue
        section, _ = surface.section(station.x_mm, surface.across(401))
        for number, line in enumerate(table.lines):
            offset, cell = line.offsets[n], (number, n)
            if offset is None or (whole and whole.holds(cell)):
                continue
            curve = _edge_curve(edges, read.lines[number])
            fair_mm = float(curve.at(station.x_mm)) if curve else measured(section, line)
            if table.keeps_odd and cell in found.odd:
                # The hull passes it: what it should read is what the others foretell.
                odd.append(_odd(table, station, line, offset, found.odd[cell]))
                continue
            along = None if curve is None or fair_mm is None else abs(offset.mm - fair_mm)
            off_mm = _distance(section, line.point(offset)) if along is None else along
            if cell in found.odd or (cell in left and fair_mm is not None):
                if fair_mm is None or off_mm > EIGHTH_MM:
                    odd.append(_odd(table, station, line, offset, fair_mm))
            elif cell in left and off_mm > EIGHTH_MM:
                aside.add(cell)
            elif fair_mm is not None:
                squares.append(off_mm**2)
    spread = float(np.sqrt(np.mean(squares))) if squares else 0.0
    return _Compared(spread, tuple(odd), frozenset(aside))


def _distance(section: Points, point: tuple[float, float]) -> float:
    """Return how far a point lies from a section."""
    return float(LineString(section).distance(Point(point)))


def _edge_curve(edges: Edges, line: Line) -> PlaneCurve | None:
    """Return the fair curve of an edge that a line of the table gave, if any."""
    return next(
        (row.curve for edge in edges.each() for row in edge.rows() if row.line is line), None
    )


def _odd(
    table: OffsetTable, station: Station, line: Line, offset: Offset, fair_mm: float | None
) -> OddOffset:
    return OddOffset(
        station.name, line.title, offset.written, offset.mm, fair_mm,
        table.unit, table.file, offset.line, offset.column,
    )  # fmt: skip
