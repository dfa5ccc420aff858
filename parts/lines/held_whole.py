"""How strange the figures of a whole line or station are, held against the surface without them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.fits import Fit, square_off
from parts.lines.judging import Judged
from parts.lines.kriging import Kriging
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable

STEPS = 8
"""Of the search for the stiffness without the figures in question."""


@dataclass(frozen=True, eq=False)
class Held:
    """The surface through some figures, for others to be held against."""

    found: Judged
    functions: tuple[tuple[Fit, Kriging], ...]
    _edges: dict[tuple[int, float], tuple[Points, Points]] = field(default_factory=dict)

    @property
    def edges(self) -> Edges:
        """The edges of the whole hull."""
        return self.found.edges

    def of_line(self, line: Line) -> float:
        """Return how strange the figures of a line are."""
        return self.strange(_points(self.found.reading.table, line))

    def at_station(self, points: Points, x: float) -> float:
        """Return how strange the figures of a station, (n, 2), are at a place."""
        return self.strange(np.column_stack([np.full(len(points), x), points]))

    def strange(self, points: Points) -> float:
        """Return how strange points are, (n, 3), in the logarithm; a gross error counts little."""
        panel = [self._panel(point) for point in points]
        total = 0.0
        for n, (fit, function) in enumerate(self.functions):
            mine = points[[k == n for k in panel]]
            if len(mine):
                off, doubt = square_off(fit, function, mine)
                total += float(np.log(doubt + off**2 / doubt).sum())
        return total

    def _panel(self, point: Points) -> int:
        """Return the number of the panel that a point lies on."""
        x, y, z = (float(part) for part in point)
        last = len(self.functions) - 1
        return next((n for n in range(last) if self._holds(n, x, (y, z))), last)

    def _holds(self, number: int, x: float, point: tuple[float, float]) -> bool:
        panel = self.functions[number][0].cloud.panel
        if (number, x) not in self._edges:
            low, high = panel.edges_at(np.array([x]))
            self._edges[number, x] = low[0], high[0]
        return panel.between(*self._edges[number, x], point)


@dataclass(frozen=True, eq=False)
class Others:
    """A judged table, each panel of it by diagonals, which need not know its edges."""

    found: Judged

    def without(self, lines: tuple[int, ...] = (), stations: tuple[int, ...] = ()) -> Held:
        """Return the surface through all figures but those of some lines and stations."""
        made = list[tuple[Fit, Kriging]]()
        for fit in self.found.by_diagonals:
            dropped = np.isin(fit.cloud.lines, lines) & (fit.cloud.lines >= 0)
            dropped |= np.isin(fit.cloud.stations, stations) & (fit.cloud.stations >= 0)
            function = fit.function.without(dropped[fit.used])
            made.append((fit, function.tuned(steps=STEPS)))
        return Held(self.found, tuple(made))


def _points(table: OffsetTable, line: Line) -> Points:
    """Return where the figures of a line put the hull, (n, 3)."""
    given = zip(table.x, line.offsets, strict=True)
    return np.array([(x, *line.point(one)) for x, one in given if one is not None]).reshape(-1, 3)


def points_at(table: OffsetTable, station: int) -> Points:
    """Return where the figures of a station put the section, edges too, (n, 2)."""
    found = list[tuple[float, float]]()
    for line in table.lines:
        offset = line.offsets[station]
        if offset is not None and line.kind not in EDGES:
            found.append(line.point(offset))
    for half, height in _edge_pairs(table):
        y, z = half.offsets[station], height.offsets[station]
        if y is not None and z is not None:
            found.append((y.mm, z.mm))
    return np.array(found).reshape(-1, 2)


def _edge_pairs(table: OffsetTable) -> Iterator[tuple[Line, Line]]:
    for kind in (LineKind.SHEER, LineKind.RABBET):
        half, height = table.row(kind, Measure.HALF_BREADTH), table.row(kind, Measure.HEIGHT)
        if half is not None and height is not None:
            yield half, height
    yield from table.chines
