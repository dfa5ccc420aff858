"""All figures of a table as points of the hull, edges' two figures as one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.errors import ShapeError
from nesting.words import counted
from parts.curves import Points
from parts.lines.faired_edges import Edge, number_of
from parts.lines.panels import Panel
from parts.lines.reading import PINNED_MM, Reading
from parts.lines.rows import SAME_MM
from parts.lines.table import EDGES, Line

ON_KEEL_MM = 1.0
"""Points below the rabbet by more are no part of the hull, if they lie near the centreline: zeros
in a table's corner, or the side of the keel. Farther out they are wrong, or the rabbet is."""

KEEL_SIDE_MM = 25.0
"""How far outside the rabbet the side of a keel may stand."""

ON_STEM_MM = 20.0
"""A point of the stem farther off the panel's edge belongs to another panel."""

HIGH, LOW, END = -1, -2, -3
"""Numbers of the lines that stand for points of the edges, and of stem and sternpost."""

FEWEST_POINTS = 9
"""Of which a surface can be made."""


@dataclass(frozen=True, eq=False)
class Cloud:
    """Points of a panel.

    Attributes
    ----------
    stations, lines
        (n,) numbers; a point of an edge has :data:`HIGH` or :data:`LOW` for its line, one of stem
        or sternpost -1 and :data:`END`.
    points
        (n, 3) x, y, z.
    out
        (n, 2) the direction that each figure was measured in; 0 where two make the point.
    nailed
        (n,) which the hull must pass as they stand.
    noise
        Factor on the figures' rounding, as the whole table has it without those.
    """

    panel: Panel
    stations: NDArray[np.int64]
    lines: NDArray[np.int64]
    points: Points
    out: Points
    nailed: NDArray[np.bool_]
    noise: float = 1.0

    @cached_property
    def closed(self) -> NDArray[np.bool_]:
        """Which points stand on the centreline above the rabbet, (n,) bool."""
        x, y, z = self.points.T
        rabbet = self.panel.rabbet_at(x)
        on_line = (self.lines != END) & (y <= rabbet[:, 0] + ON_KEEL_MM)
        return np.asarray(on_line & (z > rabbet[:, 1] + ON_KEEL_MM))


def cloud_of(reading: Reading, panel: Panel) -> Cloud:
    """Return the points of a panel, without what is odd.

    Raises
    ------
    ShapeError
        If there are too few.
    """
    table = reading.table
    found = [*_at_stations(reading, panel), *_at_ends(reading, panel)]
    if sum(line != END for _, line, *_ in found) < FEWEST_POINTS:
        raise ShapeError(
            f"{table.file or table.name}: {counted(len(found), 'figure')} "
            "make no surface: give waterlines, buttocks or diagonals at more stations"
        )
    columns = np.array(found, dtype=float)
    numbers = columns[:, :2].astype(np.int64)
    nailed = np.array([(line, station) in reading.nailed for station, line in numbers])
    stations, lines = numbers.T
    return Cloud(panel, stations, lines, columns[:, 2:5], columns[:, 5:], nailed, reading.noise)


_Row = tuple[float, ...]


def _at_stations(reading: Reading, panel: Panel) -> Iterator[_Row]:
    table, (first, last) = reading.table, panel.ends
    rabbet = panel.rabbet_at(table.x)
    low, high = panel.edges_at(table.x)
    lines = [(n, line) for n, line in enumerate(table.lines) if not _bounds(panel, line)]
    for n, x in enumerate(table.x):
        if not first - SAME_MM <= x <= last + SAME_MM:
            continue
        for code, edge in ((HIGH, panel.high), (LOW, panel.low)):
            point = _edge_point(reading, edge, n)
            if point is not None:
                yield (n, code, x, *point, 0.0, 0.0)
        given = [
            (number, line, line.point(offset), offset.mm != 0.0)
            for number, line in lines
            if (offset := line.offsets[n]) is not None and (number, n) not in reading.put
        ]
        if not given:
            continue
        points = np.array([point for _, _, point, _ in given])
        above = points[:, 1] > rabbet[n, 1] - ON_KEEL_MM
        outside = np.array([one[3] for one in given]) & (points[:, 0] > rabbet[n, 0] + KEEL_SIDE_MM)
        here = (above | outside) & panel.are_between(low[n], high[n], points)
        for (number, line, point, _), is_here in zip(given, here, strict=True):
            if is_here:
                yield (n, number, x, *point, *line.direction)


def _bounds(panel: Panel, line: Line) -> bool:
    rows = (*panel.low.rows(), *panel.high.rows())
    return line.kind in EDGES or any(line is row.line for row in rows)


def _edge_point(reading: Reading, edge: Edge, n: int) -> tuple[float, float] | None:
    """Return the figures of an edge at a station, unless one is missing or odd.

    As the table has them, wherever the edge is moved: what the surface has moved there is no figure
    of its own, and would count what the surface knows already a second time.
    """
    found = []
    for row in edge.rows():
        at = np.flatnonzero(row.stations == n)
        if not len(at) or (row.scatter[at[0]] == 0.0 and row.firm[at[0]] > PINNED_MM):
            return None
        offset = None if row.line is None else row.line.offsets[n]
        is_moved = (number_of(reading.table, row.line), n) in reading.moved
        found.append(offset.mm if is_moved and offset else float(row.values[at[0]]))
    return found[0], found[1]


def _at_ends(reading: Reading, panel: Panel) -> Iterator[_Row]:
    """Yield the points of stem and sternpost along the panel: there the hull has closed."""
    first, last = panel.ends
    for x, z in (*reading.table.stem, *reading.table.stern):
        inside = first - SAME_MM <= x <= last + SAME_MM
        if inside and abs(float(panel.low.profile.at(x)) - z) < ON_STEM_MM:
            yield (-1, END, x, float(panel.low.plan.at(x)), z, 0.0, 0.0)
    for x in panel.ends if panel.whole else ():
        (low,), (high,) = panel.edges_at(np.array([x]))
        if np.hypot(*(high - low)) < ON_STEM_MM:
            yield (-1, END, x, *low, 0.0, 0.0)
