"""How strange the figures of a whole line or station are, held against the surface without them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.fits import Fit, square_off
from parts.lines.judging import Judged
from parts.lines.kriging import Kriging
from parts.lines.likeliest_stiffness import tuned
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable

STEPS = 8
"""Of the search for the stiffness without the figures in question."""


@dataclass(frozen=True, eq=False)
class Held:
    """The surface through some figures, for others to be held against."""

    found: Judged
    functions: tuple[tuple[Fit, Kriging], ...]

    @property
    def edges(self) -> Edges:
        """The edges of the whole hull."""
        return self.found.edges

    def of_line(self, line: Line) -> float:
        """Return how strange the figures of a line are."""
        return float(self.of_lines([line])[0])

    def of_lines(self, lines: Sequence[Line]) -> Points:
        """Return how strange the figures of each of some lines are, (k,)."""
        return self.strange([_points(self.found.reading.table, line) for line in lines])

    def at_stations(self, points: Points, x: Points) -> Points:
        """Return how strange the figures of a station, (n, 2), are at each of (k,) places, (k,)."""
        return self.strange([np.column_stack([np.full(len(points), at), points]) for at in x])

    def strange(self, sets: Sequence[Points]) -> Points:
        """Return how strange sets of points are, (n, 3) each, in the logarithm, (k,).

        A gross error counts little.
        """
        points, of = np.concatenate(sets), np.repeat(np.arange(len(sets)), [len(s) for s in sets])
        panel, total = self._panels(points), np.zeros(len(sets))
        for n, (fit, function) in enumerate(self.functions):
            mine = panel == n
            if mine.any():
                off, doubt = square_off(fit, function, points[mine])
                strange = np.log(doubt + off**2 / doubt)
                total += np.bincount(of[mine], strange, len(sets))
        return total

    def _panels(self, points: Points) -> NDArray[np.int64]:
        """Return the number of the panel that each point lies on, (n,)."""
        last = len(self.functions) - 1
        found = np.full(len(points), last)
        for n in reversed(range(last)):
            panel = self.functions[n][0].cloud.panel
            low, high = panel.edges_at(points[:, 0])
            found[panel.are_between(low, high, points[:, 1:])] = n
        return found


@dataclass(frozen=True, eq=False)
class Others:
    """A judged table, each panel of it by diagonals, which need not know its edges."""

    found: Judged

    def without(
        self,
        lines: tuple[int, ...] = (),
        stations: tuple[int, ...] = (),
        *,
        where_both: bool = False,
        roughly: bool = False,
    ) -> Held:
        """Return the surface through all figures but those of some lines and stations.

        Parameters
        ----------
        where_both
            Without the figures alone that those lines have at those stations.
        roughly
            With the stiffness of all figures, instead of its own.
        """
        made = list[tuple[Fit, Kriging]]()
        for fit in self.found.by_diagonals:
            of_lines = np.isin(fit.cloud.lines, lines) & (fit.cloud.lines >= 0)
            at_stations = np.isin(fit.cloud.stations, stations) & (fit.cloud.stations >= 0)
            dropped = of_lines & at_stations if where_both else of_lines | at_stations
            function = fit.function.without(dropped[fit.used])
            if function.is_large:
                # Of so many a part tells as surely where the surface lies.
                function = function.thinned()
            elif not roughly:
                function = tuned(function, steps=STEPS)
            made.append((fit, function))
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
