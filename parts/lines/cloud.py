"""All figures of a table as points of one fair function, and which of them are off it.

Whatever line of the table a figure stands in, it is one value of the function d(x, s) of
:mod:`parts.lines.diagonals`: so waterlines, buttocks, diagonals, sheer and rabbet are faired
against each other in one go, as a loftsman does by going round the three views.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from nesting.errors import ShapeError
from nesting.words import counted
from parts.curves import Points
from parts.lines.diagonals import Diagonals, diagonals_of
from parts.lines.edges import ROUNDING_MM, Edge, Edges
from parts.lines.kriging import Kriging, Mask, Stiffness
from parts.lines.odd_ones import EIGHTH_MM, odd_ones
from parts.lines.table import Line, LineKind, OffsetTable

FLAT = 0.2
"""A line that lies so flat on the hull that its figure moves more than five times as far as the
hull itself is judged as if it crossed at one in five: no figure is as exact as it would be."""

LEAST_SCATTER_MM = 0.25
"""A hull is not drawn more exactly than a pencil line, square to itself."""

USUAL = Stiffness((0.5, 4.0), 0.4)
"""Stiffness of a round hull: what boats and ships alike come to, within a factor of two."""

REACH_MM = 1000.0
"""A figure is not put right by more than this."""

ON_KEEL_MM = 1.0
"""Points below the rabbet by more are no part of the hull: zeros in a table's corner."""


SHEER, RABBET = -1, -2
"""Numbers of the lines that stand for points of the edges."""


class CloudPoint(NamedTuple):
    """One figure as a point of the hull.

    ``line`` counts the lines of the table; a point of an edge, of two figures, has
    :data:`SHEER` or :data:`RABBET`, and no direction that it was measured in.
    """

    station: int
    line: int
    y: float
    z: float
    out: float = 0.0
    up: float = 0.0


@dataclass(frozen=True, eq=False)
class Cloud:
    """All figures of a table as points, and what is made of them."""

    table: OffsetTable
    edges: Edges

    @cached_property
    def diagonals(self) -> Diagonals:
        """The coordinates that the figures are faired in."""
        return diagonals_of(self.edges)

    @cached_property
    def points(self) -> list[CloudPoint]:
        """Every figure of the table as a point; an edge's two are one."""
        found = [point for n in range(len(self.table.stations)) for point in self._of_station(n)]
        if len(found) < 9:
            raise ShapeError(
                f"{self.table.file or self.table.name}: {counted(len(found), 'figure')} "
                "make no surface: "
                "give waterlines, buttocks or diagonals at more stations"
            )
        return found

    def _of_station(self, n: int) -> list[CloudPoint]:
        x = float(self.table.x[n])
        low, high = self.edges.ends
        if not low - 1e-6 <= x <= high + 1e-6:
            return []
        found = []
        for code, edge in ((SHEER, self.edges.sheer), (RABBET, self.edges.rabbet)):
            point = self._edge_point(edge, n)
            if point is not None:
                found.append(CloudPoint(n, code, *point))
        keel = float(self.edges.rabbet.profile.at(x))
        for number, line in enumerate(self.table.lines):
            offset = line.offsets[n]
            if offset is None or line.kind in (LineKind.SHEER, LineKind.RABBET):
                continue
            y, z = line.point(offset)
            if z > keel - ON_KEEL_MM and not self._bounds(line):
                found.append(CloudPoint(n, number, y, z, *line.direction))
        return found

    def _bounds(self, line: Line) -> bool:
        return any(
            line is row.line
            for edge in (self.edges.sheer, self.edges.rabbet)
            for row in edge.rows()
        )

    def _edge_point(self, edge: Edge, n: int) -> tuple[float, float] | None:
        """Return the figures of an edge at a station, unless one is missing or odd."""
        found = []
        for row in edge.rows():
            at = np.flatnonzero((row.stations == n) & ~row.odd)
            if not len(at):
                return None
            found.append(float(row.values[at[0]]))
        return found[0], found[1]

    @cached_property
    def _columns(self) -> tuple[Points, Points, Points, Points]:
        """Return x, y, z (n,) and the directions of measure (n, 2)."""
        rows = np.array(self.points, dtype=float)
        return self.table.x[rows[:, 0].astype(int)], rows[:, 2], rows[:, 3], rows[:, 4:]

    def _function(self, slope: Points) -> tuple[Kriging, Points]:
        """Return the function for a slope of d over s at each point, and mm in its unit."""
        x, y, z, out = self._columns
        s, d = self.diagonals.place(y, z)
        rise = np.column_stack(
            [(-1.0 - slope) / self.diagonals.half_breadth, (1.0 - slope) / self.diagonals.depth]
        )
        steep = np.hypot(*rise.T)
        along = np.abs((rise * out).sum(axis=1))
        along = np.where(out.any(axis=1), np.maximum(along, FLAT * steep), steep)
        scatter = np.maximum(ROUNDING_MM * along, LEAST_SCATTER_MM * steep)
        places = np.column_stack([self.diagonals.along(x), s - 1.0])
        return Kriging(places, d, scatter, USUAL), 1.0 / along

    @cached_property
    def rough(self) -> tuple[Kriging, Points]:
        """The function of all points as they are, and mm in its unit."""
        first, _ = self._function(np.zeros(len(self.points)))
        step = np.array([0.0, 0.02])
        slope = (first.at(first.places + step) - first.at(first.places - step)) / 0.04
        return self._function(np.clip(slope, -0.98, 0.98))

    @cached_property
    def past_end(self) -> Mask:
        """Which points stand on the centreline where the hull has closed already, (n,) bool.

        At an end station a table has 0 for a waterline that ends there, and for one that has
        ended before. Faired without them, the hull goes past the centreline at the latter.
        """
        x, y, z, _ = self._columns
        keel = self.edges.rabbet.profile.at(x)
        closed = (y <= self.edges.rabbet.plan.at(x) + ON_KEEL_MM) & (z > keel + ON_KEEL_MM)
        if not closed.any():
            return closed
        function, mm = self.rough
        without = function.without(closed)
        past = function.figures - without.at(function.places) < -EIGHTH_MM / mm
        found = closed & past
        # With a waterline that has ended, the rabbet below it lies past the end too.
        rows = np.array(self.points, dtype=float)[:, :2]
        below = (rows[:, 1] == RABBET) & np.isin(rows[:, 0], rows[found, 0])
        return np.asarray(found | below)

    @cached_property
    def judged(self) -> tuple[Mask, Kriging]:
        """Which points are odd, (n,) bool, and the fair function through the others."""
        function, mm = self.rough
        kept = ~self.past_end
        odd = np.zeros(len(mm), dtype=bool)
        odd[kept], fair_function = odd_ones(function.without(self.past_end), mm[kept])
        return odd, fair_function

    @cached_property
    def edges_judged(self) -> Edges:
        """The edges, with what does not suit the surface beside them put where it would."""
        found = {SHEER: self.edges.sheer, RABBET: self.edges.rabbet}
        odd, function = self.judged
        for (station, code, y, z, *_), is_odd in zip(self.points, odd, strict=True):
            if is_odd and code < 0:
                x = float(self.table.x[station])
                found[code] = self._put_right(function, found[code], station, (x, y, z))
        return replace(self.edges, sheer=found[SHEER], rabbet=found[RABBET])

    def _put_right(
        self, function: Kriging, edge: Edge, station: int, place: tuple[float, float, float]
    ) -> Edge:
        """Return an edge with one figure at a station changed, so that it meets the hull.

        Of half-breadth and height the one is changed that leaves both lines the fairer.
        """
        x, *point = place
        out = self._to_hull(function, x, (point[0], point[1]), (1.0, 0.0))
        up = self._to_hull(function, x, (point[0], point[1]), (0.0, 1.0))
        ways = (
            Edge(edge.half.moved(station, out), edge.height),
            Edge(edge.half, edge.height.moved(station, up)),
        )
        return min(ways, key=lambda way: sum(row.doubt_of(station) for row in way.rows()))

    def _to_hull(
        self, function: Kriging, x: float, point: tuple[float, float], out: tuple[float, float]
    ) -> float:
        """Return how far a point has to move in a direction to lie on the fair hull, mm."""
        reach = np.linspace(-REACH_MM, REACH_MM, 2001)
        y, z = point[0] + reach * out[0], point[1] + reach * out[1]
        s, d = self.diagonals.place(y, z)
        way = np.full(len(reach), self.diagonals.along(np.array(x)))
        off = np.abs(d - function.at(np.column_stack([way, s - 1.0])))
        # The nearest of the places that lie as good as on it: the hull may be met twice.
        return float(min(reach[off < off.min() + 1e-3], key=abs))
