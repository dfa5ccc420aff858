"""What no table of offsets can say, noted at its place before anything is faired.

Figures that cannot be would else be left aside by the lines, or bend them, without a word.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.words import counted
from parts.lines.notation import written_like
from parts.lines.table import Line, LineKind, Measure, Offset, OffsetTable
from parts.lines.table_cells import Cell, RawTable

THICKEST = 8.0
"""Planking thicker than this part of the greatest half-breadth is a unit slipped (common practice,
no source)."""

MOST = 0.5
"""Part of the stations at which one edge must lie on the wrong side of the other, for their rows to
be exchanged: at one or two a figure is wrong."""


def note_faults(raw: RawTable, table: OffsetTable) -> None:
    """Note everything in a table that cannot be."""
    _note_inward(raw, table)
    if raw.findings:
        return
    _note_empty_stations(raw, table)
    _note_exchanged(raw, table)
    _note_thick(raw, table)


def _given(line: Line) -> Iterator[tuple[int, Offset]]:
    """Yield the figures of a line, each with the number of its station."""
    yield from ((n, offset) for n, offset in enumerate(line.offsets) if offset is not None)


def _cell(offset: Offset) -> Cell:
    return Cell(offset.written, offset.line, offset.column)


def _note_inward(raw: RawTable, table: OffsetTable) -> None:
    """Note figures below 0 that are measured outward: all together where most are, else by line."""
    outward = [line for line in table.lines if line.measure is not Measure.HEIGHT]
    count = sum(1 for line in outward for _ in _given(line))
    found = [
        (line, below)
        for line in outward
        if (below := [one for one in _given(line) if one[1].mm < 0])
    ]
    many = sum(len(below) for _, below in found)
    if many > count / 2:
        first = found[0][1][0][1]
        raw.note(
            _cell(first),
            f"{first.written}: {many} of {count} half-breadths are below 0; they "
            "are measured outward from the centreline: take the signs off",
        )
        return
    for line, below in found:
        n, first = below[0]
        more = f" ({counted(len(below), 'figure')} of the line)" if len(below) > 1 else ""
        raw.note(
            _cell(first),
            f"station {table.stations[n].name}, {line.title}: {first.written} is below 0{more}; it "
            f"is measured outward from the centreline: if the sign is a slip it should read "
            f"{first.written.lstrip('-')}; put - where the line does not cross",
        )


def _note_empty_stations(raw: RawTable, table: OffsetTable) -> None:
    """Note stations that no line has a figure at."""
    names = raw.settings.get("station", ())
    for n, station in enumerate(table.stations):
        if table.lines and all(line.offsets[n] is None for line in table.lines):
            raw.note(
                names[n],
                f"station {station.name}: no line has a figure there; give some, or leave the "
                "station out",
            )


def _note_exchanged(raw: RawTable, table: OffsetTable) -> None:
    """Note a rabbet that lies above the sheer, or farther out, at most stations."""
    for measure, beyond in ((Measure.HEIGHT, "above"), (Measure.HALF_BREADTH, "outside")):
        sheer = table.row(LineKind.SHEER, measure)
        rabbet = table.row(LineKind.RABBET, measure)
        if sheer is None or rabbet is None:
            continue
        pairs = zip(sheer.offsets, rabbet.offsets, strict=True)
        both = [(top, low) for top, low in pairs if top is not None and low is not None]
        wrong = [low for top, low in both if low.mm > top.mm]
        if len(wrong) > MOST * len(both):
            raw.note(
                _cell(wrong[0]),
                f"{rabbet.title}: it lies {beyond} the sheer at {len(wrong)} of "
                f"{counted(len(both), 'station')}: are the rows of sheer and rabbet exchanged?",
            )


def _note_thick(raw: RawTable, table: OffsetTable) -> None:
    """Note planking that no boat of this breadth has."""
    across = (line for line in table.lines if line.measure is Measure.HALF_BREADTH)
    given = [offset for line in across for _, offset in _given(line)]
    widest = max(given, key=lambda offset: offset.mm, default=None)
    cells = raw.settings.get("planking", ())
    if widest is None or not cells or table.planking_mm <= widest.mm / THICKEST:
        return
    most = written_like(widest.mm / THICKEST, widest.written, table.unit)
    raw.note(
        cells[0],
        f"planking is {cells[0].text}, more than an eighth of her greatest half-breadth, "
        f"{widest.written}; at most {most}: is its unit right?",
    )
