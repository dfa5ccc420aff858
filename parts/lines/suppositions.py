"""A table as it would read if one line, one label or one station of it were wrong as a whole."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from nesting.errors import Finding, LengthError
from nesting.units import MM_PER_INCH, Unit, parse_length
from parts.lines.notation import slip_in, written_like
from parts.lines.reading import Cell
from parts.lines.rows import SAME_MM
from parts.lines.table import Line, LineKind, Offset, OffsetTable

ABOUT_MM = 1.5
"""So near what a label should be one is believed that differs in a digit, or is round: half a dozen
labels of known hulls, 50 mm off, were found again within 1.3 mm, one of a flat buttock within 3."""


@dataclass(frozen=True, eq=False)
class Supposition:
    """A table as it would read, and what is supposed to be wrong with it as it is.

    Attributes
    ----------
    lines, stations
        Numbers of those in question.
    lost
        How many figures it does without.
    """

    table: OffsetTable
    lines: tuple[int, ...]
    stations: tuple[int, ...]
    place: tuple[int, int]
    text: str
    lost: int = 0

    def itself(self) -> Supposition:
        """Return itself, where others are made only when they are wanted (:data:`Made`)."""
        return self

    def holds(self, cell: Cell) -> bool:
        """Whether a figure is one of those in question."""
        return cell[0] in self.lines or cell[1] in self.stations

    @property
    def runs_aft(self) -> bool:
        """Whether each station stands aft of the one before: a slip may put it where that is."""
        return bool((np.diff(self.table.x) > SAME_MM).all())

    @property
    def finding(self) -> Finding:
        """What is wrong, and its place in the file."""
        return Finding(self.table.file, *self.place, self.text)


Made = Callable[[], Supposition]
"""Makes a supposition."""


def _with_lines(table: OffsetTable, changes: dict[int, Line]) -> OffsetTable:
    lines = (changes.get(n, line) for n, line in enumerate(table.lines))
    return replace(table, lines=tuple(lines))


def line_at(line: Line, mm: float) -> Line:
    """Return a waterline at another height, or a buttock at another half-breadth."""
    origin = (0.0, mm) if line.kind is LineKind.WATERLINE else (mm, 0.0)
    return replace(line, origin=origin)


def _label(line: Line) -> str:
    """Return a line's height or half-breadth as it is written."""
    return line.name.split(maxsplit=1)[1]


def relabelled(table: OffsetTable, number: int, mm: float) -> Supposition:
    """Return a waterline or buttock whose label is wrong: it should read about a length."""
    line = table.lines[number]
    text, at = should_be(_label(line), mm, table.unit)
    return Supposition(
        _with_lines(table, {number: line_at(line, at)}), (number,), (), line.at,
        f"{line.name}: its figures are those of a {line.kind} at about "
        f"{written_like(mm, _label(line), table.unit)}: the label probably should read {text}",
    )  # fmt: skip


def halved(table: OffsetTable, number: int) -> Supposition:
    """Return a line whose figures are full breadths."""
    line = table.lines[number]
    offsets = tuple(one and replace(one, mm=one.mm / 2) for one in line.offsets)
    n, first = next((n, one) for n, one in enumerate(offsets) if one is not None)
    reads = written_like(first.mm, first.written, table.unit)
    return Supposition(
        _with_lines(table, {number: replace(line, offsets=offsets)}), (number,), (), line.at,
        f"{line.title}: its figures are full breadths, twice what a fair line has: each probably "
        f"should read half, {reads} for {first.written} at station {table.stations[n].name}",
    )  # fmt: skip


def rows_exchanged(table: OffsetTable, one: int, other: int) -> Supposition:
    """Return two lines whose rows are exchanged."""
    first, second = table.lines[one], table.lines[other]
    changes = {
        one: replace(first, offsets=second.offsets),
        other: replace(second, offsets=first.offsets),
    }
    return Supposition(
        _with_lines(table, changes), (one, other), (), first.at,
        f"{first.title} and {second.title}: the figures of each are those of the other: exchange "
        "their rows, or their labels",
    )  # fmt: skip


def row_shifted(table: OffsetTable, number: int, step: int) -> Supposition:
    """Return a line whose figures stand a station too far aft (step 1) or forward (-1)."""
    line = table.lines[number]
    offsets = line.offsets
    moved: tuple[Offset | None, ...]
    moved = (*offsets[1:], None) if step > 0 else (None, *offsets[:-1])
    lost = offsets[0] if step > 0 else offsets[-1]
    aft, back = ("aft", "forward") if step > 0 else ("forward", "aft")
    return Supposition(
        _with_lines(table, {number: replace(line, offsets=moved)}), (number,), (), line.at,
        f"{line.title}: its figures stand a station too far {aft}: each probably belongs to the "
        f"next station {back}",
        lost=int(lost is not None),
    )  # fmt: skip


def left_out(table: OffsetTable, number: int) -> Supposition:
    """Return a line that fits nothing: the table without it."""
    line = table.lines[number]
    none: tuple[Offset | None, ...] = (None,) * len(line.offsets)
    count = sum(one is not None for one in line.offsets)
    return Supposition(
        _with_lines(table, {number: replace(line, offsets=none)}), (number,), (), line.at,
        f"{line.title}: the line as a whole lies off the hull that all the others make, and no "
        "single slip explains it: look up its label and its row; the hull is faired without it",
        lost=count,
    )  # fmt: skip


def stations_exchanged(table: OffsetTable, one: int, other: int) -> Supposition:
    """Return two stations all of whose figures are exchanged."""
    changes = {}
    for number, line in enumerate(table.lines):
        offsets = list(line.offsets)
        offsets[one], offsets[other] = offsets[other], offsets[one]
        if offsets != list(line.offsets):
            changes[number] = replace(line, offsets=tuple(offsets))
    first, second = table.stations[one], table.stations[other]
    return Supposition(
        _with_lines(table, changes), (), (one, other), (first.line, first.column),
        f"stations {first.name} and {second.name}: the figures of each are those of the other: "
        "exchange their columns",
    )  # fmt: skip


def station_at(table: OffsetTable, number: int, mm: float) -> Supposition:
    """Return a station whose place is wrong: it should read about a length."""
    station = table.stations[number]
    given = station.written or "0"
    text, at = should_be(given, mm, table.unit)
    stations = list(table.stations)
    stations[number] = replace(station, x_mm=at)
    off = written_like(abs(station.x_mm - mm), given, table.unit)
    side = "aft of" if station.x_mm > mm else "forward of"
    return Supposition(
        replace(table, stations=tuple(stations)), (), (number,), (station.line, station.column),
        f"station {station.name}: it stands about {off} {side} where its figures belong: from "
        f"forward probably should read {text}",
    )  # fmt: skip


def column_shifted(table: OffsetTable, station: int, kind: LineKind, step: int) -> Supposition:
    """Return a station whose figures of a kind of lines stand a row too low (step 1) or high."""
    rows = [n for n, line in enumerate(table.lines) if line.kind is kind]
    given = [table.lines[n].offsets[station] for n in rows]
    moved = [*given[1:], None] if step > 0 else [None, *given[:-1]]
    lost = given[0] if step > 0 else given[-1]
    changes = dict[int, Line]()
    for number, offset in zip(rows, moved, strict=True):
        offsets = list(table.lines[number].offsets)
        offsets[station] = offset
        changes[number] = replace(table.lines[number], offsets=tuple(offsets))
    place = table.stations[station]
    down, back = ("down", "above") if step > 0 else ("up", "below")
    return Supposition(
        _with_lines(table, changes), (), (station,), (place.line, place.column),
        f"station {place.name}: the figures of its {kind}s stand a row too far {down}: each "
        f"probably belongs to the {kind} in the row {back}",
        lost=int(lost is not None),
    )  # fmt: skip


def should_be(written: str, mm: float, unit: Unit) -> tuple[str, float]:
    """Return what a label probably should read, and its length, mm.

    That with two digits turned about, or with one other, if it is about the length; else the
    length as it is.

    Examples
    --------
    >>> should_be("4-3-3", 1000.5, Unit.FOOT), should_be("650", 600.3, Unit.MM)
    (('3-3-3', 1000.125), ('600', 600.0))
    """
    text = slip_in(written, mm, unit) or _one_digit_off(written, mm, unit)
    if text is None:
        text = written_like(_round_near(mm, unit), written, unit)
    return text, parse_length(text, unit)


def _round_near(mm: float, unit: Unit) -> float:
    """Return a round length, in whole inches or centimetres, if one is near; else the same."""
    step = MM_PER_INCH if unit.is_imperial else 10.0
    near = round(mm / step) * step
    return near if abs(near - mm) < ABOUT_MM else mm


def _one_digit_off(written: str, mm: float, unit: Unit) -> str | None:
    """Return a text with one digit other that reads about a length; the nearest, or None."""
    found = list[tuple[float, str]]()
    for place, sign in enumerate(written):
        for digit in "0123456789" if sign.isdigit() else "":
            text = written[:place] + digit + written[place + 1 :]
            if re.match(r"0\d", text) and not written.startswith("0"):
                continue
            try:
                found.append((abs(parse_length(text, unit) - mm), text))
            except LengthError:
                continue
    off, text = min(found, default=(ABOUT_MM, ""))
    return text if off < ABOUT_MM else None
