"""Figures that the lines do not use: above the sheer, below the rabbet, past the hull's ends.

One above the sheer is odd, whatever the surface would say that runs on to it; the others are told
as not used, unless the finished hull lies elsewhere, and they are odd as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Set

import numpy as np

from nesting.errors import Finding
from nesting.words import counted
from parts.lines.faired_edges import Edges, number_of
from parts.lines.fits import Fit
from parts.lines.parted_battens import FEWEST
from parts.lines.reading import Cell, Reading
from parts.lines.rows import SAME_MM
from parts.lines.table import EDGES, Line, LineKind, Measure, Offset, OffsetTable

BEYOND_MM = 10.0
"""A figure higher above the sheer by less may be of the sheer itself, rounded or measured over its
edge."""

SURE = 3.0
"""Standard deviations that the sheer's own line may lie higher than it is foretold."""


def above_sheer(reading: Reading, edges: Edges) -> frozenset[Cell]:
    """Return the figures that lie above the sheer: above its own, and above what its others say."""
    table = reading.table
    if table.row(LineKind.SHEER, Measure.HEIGHT) is None:
        return frozenset()
    tops = [_top(edges, n, float(x)) for n, x in enumerate(table.x)]
    return frozenset(
        (number, n)
        for number, line in enumerate(table.lines)
        if line.kind not in EDGES
        for n, offset in enumerate(line.offsets)
        if offset is not None and line.point(offset)[1] > tops[n] + BEYOND_MM
    )


def _top(edges: Edges, station: int, x: float) -> float:
    """Return the height above which nothing lies at a station, mm; infinite if nobody can tell."""
    first, last = edges.ends
    if not first - SAME_MM <= x <= last + SAME_MM:
        return np.inf
    height = float(edges.sheer.profile.at(x))
    if station not in edges.sheer.height.stations:
        return height
    off, doubt = edges.sheer.height.judged_at(station)
    return max(height, height - off + SURE * doubt)


def unused(table: OffsetTable, edges: Edges, fits: tuple[Fit, ...]) -> frozenset[Cell]:
    """Return the figures that neither an edge nor a surface was drawn by."""
    used = set[Cell]()
    for edge in edges.each():
        for row in edge.rows():
            number = number_of(table, row.line)
            if number is not None:
                used.update((number, int(station)) for station in row.stations if station >= 0)
    for fit in fits:
        cloud = fit.cloud
        cells = zip(cloud.lines[fit.used], cloud.stations[fit.used], strict=True)
        used.update((int(line), int(station)) for line, station in cells)
    given = {
        (number, n)
        for number, line in enumerate(table.lines)
        for n, offset in enumerate(line.offsets)
        if offset is not None
    }
    return frozenset(given - used)


def unused_notes(table: OffsetTable, edges: Edges, cells: Set[Cell]) -> Iterator[Finding]:
    """Yield what is not used, a line at a time, and stations past the ends of the hull."""
    first, last = edges.ends
    past = [n for n, x in enumerate(table.x) if not first - SAME_MM <= x <= last + SAME_MM]
    for n in past:
        station = table.stations[n]
        yield Finding(
            table.file, station.line, station.column,
            f"station {station.name}: it stands past the end of the hull, which runs from "
            f"{first:.0f} to {last:.0f} mm from forward; its figures are not used: put right its "
            "place or that of stem and stern, or leave the station out",
        )  # fmt: skip
    for number, line in enumerate(table.lines):
        stations = sorted(n for row, n in cells if row == number and n not in past)
        if stations:
            yield _note(table, line, stations)


def _note(table: OffsetTable, line: Line, stations: list[int]) -> Finding:
    """Return which figures of one line are not used."""
    offset = _offset(line, stations[0])
    names = ", ".join(table.stations[n].name for n in stations)
    return Finding(
        table.file, offset.line, offset.column,
        f"{line.title}: not used at station{'s' * (len(stations) > 1)} {names} ({offset.written}): "
        "off the planking, below the rabbet or past an end; put - where the line does not cross",
    )  # fmt: skip


def _offset(line: Line, station: int) -> Offset:
    offset = line.offsets[station]
    assert offset is not None
    return offset


def few_stations(table: OffsetTable) -> Iterator[Finding]:
    """Yield that a table has too few stations for its figures to be held against each other."""
    count = len(table.stations)
    if count < FEWEST:
        first = table.stations[0]
        yield Finding(
            table.file, first.line, first.column,
            f"{counted(count, 'station')}: with fewer than {FEWEST} no figure of sheer or "
            "rabbet can be told to be odd, and between them she is known but roughly: give more",
        )  # fmt: skip
