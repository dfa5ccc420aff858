"""From a table of offsets to a fair surface, and to the figures that are off it.

Every figure of the table is a point of the hull; on the family of diagonals
(:mod:`parts.lines.diagonals`) each is one value of one function, whatever line of the table
it stands in: so waterlines, buttocks, diagonals and sheer are faired against each other in
one go, as a loftsman does by going round the three views. The function is a smoothing spline
(:mod:`parts.lines.kriging`), as stiff as the figures themselves ask for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from shapely.geometry import LineString, Point

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.diagonals import Diagonals, diagonals_of
from parts.lines.edges import ROUNDING_MM, Edge, Edges, edges_of
from parts.lines.kriging import Kriging, Stiffness
from parts.lines.odd_ones import EIGHTH_MM, odd_ones
from parts.lines.plane_curve import PlaneCurve
from parts.lines.surface import Surface
from parts.lines.table import Line, LineKind, Offset, OffsetTable, Station, measured

NET = (193, 65)
"""Lines of the net along and across: a bicubic spline through it differs from the function by
less than 0.01 mm on the hulls of the tests."""

FLAT = 0.2
"""A line that lies so flat on the hull that its figure moves more than five times as far as the
hull itself is judged as if it crossed at one in five: no figure is as exact as it would be."""

LEAST_SCATTER_MM = 0.25
"""A hull is not drawn more exactly than a pencil line, square to itself."""

USUAL = Stiffness((0.5, 4.0), 0.4)
"""Stiffness of a round hull: what boats and ships alike come to, within a factor of two."""

EDGE_MM = 10.0
"""The edges, each fair by itself, lie no further than this off the surface they bound."""

REACH_MM = 1000.0
"""A figure is not put right by more than this."""

ON_KEEL_MM = 1.0
"""Points below the rabbet by more are no part of the hull: zeros in a table's corner."""


SHEER, RABBET = -1, -2
"""Numbers of the lines that stand for points of the edges."""

GUIDES = 49
"""Places along the boat at which the surface is led along its edges."""

GUIDE_MM = 1.0
"""How closely."""


@dataclass(frozen=True)
class OddOffset:
    """A figure of the table off the fair hull by more than an eighth of an inch.

    ``fair_mm`` is what the fair hull has there: None where the line does not meet it.
    """

    station: str
    line: str
    written: str
    given_mm: float
    fair_mm: float | None
    file: str
    file_line: int

    @property
    def off_mm(self) -> float:
        """How far the figure is off; infinite where the line does not meet the hull."""
        return np.inf if self.fair_mm is None else self.given_mm - self.fair_mm

    def __str__(self) -> str:
        place = f"{self.file}:{self.file_line}: " if self.file else ""
        where = f"{place}station {self.station}, {self.line}: {self.written}"
        if self.fair_mm is None:
            return f"{where} lies off the hull: the line does not cross it there"
        return (
            f"{where} ({self.given_mm:.1f} mm) is {abs(self.off_mm):.1f} mm "
            f"{'more' if self.off_mm > 0 else 'less'} than the fair {self.fair_mm:.1f} mm"
        )


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
    """

    table: OffsetTable
    edges: Edges
    surface: Surface
    odd: tuple[OddOffset, ...]
    tolerance_mm: float


def fair(table: OffsetTable) -> Fairing:
    """Return the fair surface of a table, and what is off it.

    Raises
    ------
    ShapeError
        If the table has too few figures to make a surface of.
    """
    cloud = _Cloud(table, edges_of(table))
    edges, function = cloud.edges_judged, cloud.judged[1]
    surface = _surface(edges, cloud.diagonals, cloud.guided(edges, function))
    off, odd = _compared(table, edges, surface, cloud)
    return Fairing(table, edges, surface, odd, off)


@dataclass(frozen=True, eq=False)
class _Cloud:
    """All figures as points, and what is made of them."""

    table: OffsetTable
    edges: Edges

    @cached_property
    def diagonals(self) -> Diagonals:
        return diagonals_of(self.edges)

    @cached_property
    def points(self) -> list[tuple[int, int, float, float, float, float]]:
        """Station, line, half-breadth, height and direction of measure of each point.

        Lines count as in the table; the sheer's and rabbet's points, of two figures, are lines
        :data:`SHEER` and :data:`RABBET`.
        """
        found = [point for n in range(len(self.table.stations)) for point in self._of_station(n)]
        if len(found) < 9:
            raise ShapeError(
                f"{self.table.file or self.table.name}: {len(found)} figures make no surface: "
                "give waterlines, buttocks or diagonals at more stations"
            )
        return found

    def _of_station(self, n: int) -> list[tuple[int, int, float, float, float, float]]:
        x = float(self.table.x[n])
        low, high = self.edges.ends
        if not low - 1e-6 <= x <= high + 1e-6:
            return []
        found = []
        for code, edge in ((SHEER, self.edges.sheer), (RABBET, self.edges.rabbet)):
            point = self._edge_point(edge, n)
            if point is not None:
                found.append((n, code, *point, 0.0, 0.0))
        keel = float(self.edges.rabbet.profile.at(x))
        for number, line in enumerate(self.table.lines):
            offset = line.offsets[n]
            if offset is None or line.kind in (LineKind.SHEER, LineKind.RABBET):
                continue
            y, z = line.point(offset)
            if z > keel - ON_KEEL_MM and not self._bounds(line):
                found.append((n, number, y, z, *line.direction))
        return found

    def _bounds(self, line: Line) -> bool:
        return any(
            line is row.line for edge in (self.edges.sheer, self.edges.rabbet) for row in edge.rows()
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
    def _rough(self) -> tuple[Kriging, Points]:
        """The function of all points as they are, and mm in its unit."""
        first, _ = self._function(np.zeros(len(self.points)))
        step = np.array([0.0, 0.02])
        slope = (first.at(first.places + step) - first.at(first.places - step)) / 0.04
        return self._function(np.clip(slope, -0.98, 0.98))

    @cached_property
    def past_end(self) -> Points:
        """Which points stand on the centreline where the hull has closed already, (n,) bool.

        At an end station a table has 0 for a waterline that ends there, and for one that has
        ended before. Faired without them, the hull goes past the centreline at the latter.
        """
        x, y, z, _ = self._columns
        keel = self.edges.rabbet.profile.at(x)
        closed = (y <= self.edges.rabbet.plan.at(x) + ON_KEEL_MM) & (z > keel + ON_KEEL_MM)
        if not closed.any():
            return closed
        function, mm = self._rough
        without = function.without(closed)
        past = function.figures - without.at(function.places) < -EIGHTH_MM / mm
        found = closed & past
        # With a waterline that has ended, the rabbet below it lies past the end too.
        rows = np.array(self.points, dtype=float)[:, :2]
        below = (rows[:, 1] == RABBET) & np.isin(rows[:, 0], rows[found, 0])
        return np.asarray(found | below)

    @cached_property
    def judged(self) -> tuple[Points, Kriging]:
        """Which points are odd, (n,) bool, and the fair function through the others."""
        function, mm = self._rough
        kept = ~self.past_end
        odd = np.zeros(len(mm), dtype=bool)
        odd[kept], fair_function = odd_ones(function.without(self.past_end), mm[kept])
        return odd, fair_function

    def guided(self, edges: Edges, function: Kriging) -> Kriging:
        """Return the function led along both edges between the stations and to the ends.

        Not where the hull has closed before its end.
        """
        profile = edges.rabbet.profile
        x = profile.spline(np.linspace(0.0, profile.length, GUIDES))[:, 0]
        gone = self.table.x[[self.points[n][0] for n in np.flatnonzero(self.past_end)]]
        open_ = np.array([not any(self._is_beyond(place, end) for end in gone) for place in x])
        ends = [(edges.sheer, x), (edges.rabbet, x[open_])]
        placed = [
            self.diagonals.place(edge.plan.at(at), edge.profile.at(at)) for edge, at in ends
        ]
        places = [
            np.column_stack([self.diagonals.along(at), s - 1.0])
            for (_, at), (s, _) in zip(ends, placed, strict=True)
        ]
        figures = np.concatenate([function.figures, *(d for _, d in placed)])
        count = len(figures) - len(function.figures)
        scatter = np.full(count, GUIDE_MM / self.diagonals.half_breadth)
        return Kriging(
            np.vstack([function.places, *places]),
            figures,
            np.concatenate([function.scatter, scatter]),
            function.stiffness,
        )

    def _is_beyond(self, x: float, end: float) -> bool:
        """Whether a place lies between a station past the hull's end and the one before."""
        others = self.table.x[self.table.x != end]
        middle = sum(self.edges.ends) / 2
        if end > middle:
            return x > float(others[others < end].max(initial=-np.inf))
        return x < float(others[others > end].min(initial=np.inf))

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


def _surface(edges: Edges, diagonals: Diagonals, function: Kriging) -> Surface:
    """Return the surface of a function, drawn to meet both edges exactly."""
    t, u = np.linspace(-1.0, 1.0, NET[0]), np.linspace(0.0, 1.0, NET[1])
    profile = edges.rabbet.profile
    x = profile.spline((t + 1.0) / 2.0 * profile.length)[:, 0]
    low = np.column_stack([edges.rabbet.plan.at(x), edges.rabbet.profile.at(x)])
    high = np.column_stack([edges.sheer.plan.at(x), edges.sheer.profile.at(x)])
    (first, first_d), (last, last_d) = (diagonals.place(*edge.T) for edge in (low, high))
    s = first[:, None] + u * (last - first)[:, None]
    along = np.repeat(diagonals.along(x), NET[1])
    d = function.at(np.column_stack([along, s.ravel() - 1.0])).reshape(s.shape)
    # Where a hull has closed before its end, it is left to the centreline.
    most = EDGE_MM / diagonals.half_breadth
    for off, share in ((first_d - d[:, 0], (1.0 - u) ** 3), (last_d - d[:, -1], u**3)):
        d = d + np.where(np.abs(off) < most, off, 0.0)[:, None] * share
    y, z = diagonals.point(s, d)
    closed = y < low[:, :1]
    z = np.where(closed, low[:, 1:] + (high - low)[:, 1:] * u, z)
    y = np.where(closed, low[:, :1], y)
    return Surface(t, u, np.stack([np.broadcast_to(x[:, None], s.shape), y, z], axis=-1))


def _compared(
    table: OffsetTable, edges: Edges, surface: Surface, cloud: _Cloud
) -> tuple[float, tuple[OddOffset, ...]]:
    """Return the scatter of the figures about the fair hull, mm, and those far off it."""
    points = {(point[0], point[1]): n for n, point in enumerate(cloud.points)}
    found, squares = list[OddOffset](), list[float]()
    for n, station in enumerate(table.stations):
        if not edges.ends[0] - 1e-6 <= station.x_mm <= edges.ends[1] + 1e-6:
            continue
        section, _ = surface.section(station.x_mm, np.linspace(0.0, 1.0, 401))
        for number, line in enumerate(table.lines):
            offset = line.offsets[n]
            if offset is None:
                continue
            curve = _edge_curve(edges, cloud.edges, line)
            if curve is None and (n, number) not in points:
                continue
            if curve is None and cloud.past_end[points[n, number]]:
                continue
            fair_mm = float(curve.at(station.x_mm)) if curve else measured(section, line)
            odd = _odd(table, station, line, offset, fair_mm)
            square = abs(odd.off_mm) if curve else _distance(section, line.point(offset))
            is_odd = curve is None and cloud.judged[0][points[n, number]]
            if square > EIGHTH_MM or (is_odd and abs(odd.off_mm) > EIGHTH_MM):
                found.append(odd)
            else:
                squares.append(square**2)
    spread = float(np.sqrt(np.mean(squares))) if squares else 0.0
    return spread, tuple(found)


def _distance(section: Points, point: tuple[float, float]) -> float:
    """Return how far a point lies from a section."""
    return float(LineString(section).distance(Point(point)))


def _edge_curve(edges: Edges, given: Edges, line: Line) -> PlaneCurve | None:
    """Return the fair curve of an edge that a line of the table gave, if any."""
    for edge, was in ((edges.sheer, given.sheer), (edges.rabbet, given.rabbet)):
        if was.half.line is line:
            return edge.plan
        if was.height.line is line:
            return edge.profile
    return None


def _odd(
    table: OffsetTable, station: Station, line: Line, offset: Offset, fair_mm: float | None
) -> OddOffset:
    return OddOffset(
        station.name, line.title, offset.written, offset.mm, fair_mm, table.file, offset.line
    )
