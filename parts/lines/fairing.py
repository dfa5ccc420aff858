"""From a table of offsets to a fair surface, and to the figures that are off it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Point
from threadpoolctl import threadpool_limits

from nesting.errors import Finding
from nesting.units import Unit
from parts.curves import Points
from parts.lines.cloud import Cloud
from parts.lines.diagonals import Diagonals
from parts.lines.edges import Edges, edges_of
from parts.lines.guides import led_function
from parts.lines.kriging import Kriging
from parts.lines.notation import written_like
from parts.lines.odd_ones import EIGHTH_MM
from parts.lines.plane_curve import PlaneCurve
from parts.lines.surface import Surface
from parts.lines.table import Line, Offset, OffsetTable, Station, measured

NET = (129, 49)
"""Lines of the net along and across: a bicubic spline through it differs from the function by
less than 0.01 mm on the hulls of the tests."""

EDGE_MM = 10.0
"""The edges, each fair by itself, lie no further than this off the surface they bound."""


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
        return written_like(max(0.0, self.fair_mm), self.written, self.unit)

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
    # The matrices are small: threads that share one out wait for each other, on a busy machine
    # a hundred times as long as one thread takes for the whole.
    with threadpool_limits(1, user_api="blas"):
        cloud = Cloud(table, edges_of(table))
        edges = cloud.edges_judged
        surface = _surface(edges, cloud.diagonals, led_function(cloud))
        off, odd = _compared(table, edges, surface, cloud)
    return Fairing(table, edges, surface, odd, off)


def _surface(edges: Edges, diagonals: Diagonals, function: Kriging) -> Surface:
    """Return the surface of a function, drawn to meet both edges exactly."""
    t, u = np.linspace(-1.0, 1.0, NET[0]), np.linspace(0.0, 1.0, NET[1])
    profile = edges.rabbet.profile
    x = np.maximum.accumulate(profile.spline((t + 1.0) / 2.0 * profile.length)[:, 0])
    low = np.column_stack([edges.rabbet.plan.at(x), edges.rabbet.profile.at(x)])
    high = np.column_stack([edges.sheer.plan.at(x), edges.sheer.profile.at(x)])
    (first, first_d), (last, last_d) = (diagonals.place(*edge.T) for edge in (low, high))
    s = first[:, None] + u * (last - first)[:, None]
    d = function.on_net(diagonals.along(x), s - 1.0)
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
    table: OffsetTable, edges: Edges, surface: Surface, cloud: Cloud
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
        station.name, line.title, offset.written, offset.mm, fair_mm,
        table.unit, table.file, offset.line, offset.column,
    )  # fmt: skip
