"""The two edges of the planked surface, sheer and rabbet, faired each as a line of its own.

The rabbet's heights may run on past the stations up a stem and a sternpost. A table without a
sheer is bounded by its highest waterline, one without a rabbet by its lowest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.kriging import Kriging, Mask, Stiffness
from parts.lines.odd_ones import EIGHTH_MM, odd_ones
from parts.lines.plane_curve import PlaneCurve
from parts.lines.table import Line, LineKind, Measure, OffsetTable

ROUNDING_MM = 0.5
"""Scatter of a figure given to the sixteenth of an inch or the millimetre: a sixteenth over
the square root of 12 is 0.46 mm."""

PINNED_MM = 0.02
"""Scatter of an end that two edges share."""

KEPT_MM = EIGHTH_MM / 2
"""What the fair line may pass by a figure that is not odd: a sixteenth of an inch."""

FEWEST = 5
"""Figures in a line below which none can be told to be odd."""

USUAL = Stiffness((1.5,), 0.5)
"""Stiffness of a sheer in plan and profile, over half its length and half its rise."""

SURE_ALONE = 7.0
"""Standard deviations past which a figure of the sheer is odd by its own line alone; most are
found later, against the surface beside them, which says far more."""


@dataclass(frozen=True, eq=False)
class Row:
    """One measure of one edge: the points of a line in one plane.

    Attributes
    ----------
    line
        The table's line, to name a cell; None where the points are given otherwise.
    x, values, scatter
        (n,), x rising.
    stations
        (n,) index of the station of each; -1 for an end or a point of stem or sternpost.
    """

    line: Line | None
    x: Points
    values: Points
    stations: Points
    scatter: Points
    climbs: bool = False

    @cached_property
    def _scale(self) -> tuple[float, float]:
        low, high = float(self.values.min()), float(self.values.max())
        return (low + high) / 2, max(high - low, 1.0) / 2

    @cached_property
    def _along(self) -> Points:
        """The way along the points by chords, -1 to 1, (n, 1)."""
        chords = np.hypot(np.diff(self.x), np.diff(self.values))
        along = np.concatenate([[0.0], np.cumsum(chords)])
        return np.asarray(2.0 * along / along[-1] - 1.0)[:, None]

    @cached_property
    def _function(self) -> Kriging:
        """The points over the way along them."""
        middle, half = self._scale
        return Kriging(self._along, (self.values - middle) / half, self.scatter / half, USUAL)

    @cached_property
    def _judged(self) -> tuple[Mask, Kriging]:
        mm = np.where(self._may_be_odd, self._scale[1], 0.0)
        return odd_ones(self._function, mm, SURE_ALONE)

    @cached_property
    def _may_be_odd(self) -> Mask:
        """Which points their own line may show to be odd, (n,) bool.

        Not the first and the last, past which no batten knows the way.
        """
        able = self.stations >= 0
        able[[0, -1]] = False
        able[np.flatnonzero(self.stations >= 0)[[0, -1]]] = False
        return np.asarray(able)

    @cached_property
    def odd(self) -> Mask:
        """Which points no fair line could have, (n,) bool."""
        if self.climbs or len(self.x) < FEWEST:
            return np.zeros(len(self.x), dtype=bool)
        return self._judged[0]

    def without(self, odd: Mask) -> Row:
        """Return the row without some points."""
        keep = ~odd
        return replace(
            self,
            x=self.x[keep],
            values=self.values[keep],
            stations=self.stations[keep],
            scatter=self.scatter[keep],
        )

    def moved(self, station: int, shift_mm: float) -> Row:
        """Return the row with the figure at a station changed."""
        at = self.stations == station
        return replace(self, values=np.where(at, self.values + shift_mm, self.values))

    @cached_property
    def curve(self) -> PlaneCurve:
        """The fair curve through the points that are not odd."""
        values = self.values[~self.odd]
        if not self.climbs and len(self.x) >= FEWEST:
            function, (middle, half) = self._judged[1], self._scale
            off = middle + half * function.at(function.places) - values
            values = values + np.clip(off, -KEPT_MM, KEPT_MM)
        return PlaneCurve(np.column_stack([self.x[~self.odd], values]))

    def doubt_of(self, station: int) -> float:
        """Return how many standard deviations the figure at a station is off the others."""
        at = np.flatnonzero(self.stations == station)
        if not len(at) or len(self.x) < FEWEST:
            return 0.0
        off, doubt = self._function.left_out()
        return float(np.abs(off / doubt)[at[0]])


@dataclass(frozen=True, eq=False)
class Edge:
    """Sheer or rabbet: its half-breadths and its heights."""

    half: Row
    height: Row

    @cached_property
    def plan(self) -> PlaneCurve:
        """Half-breadth over x."""
        return self.half.curve

    @cached_property
    def profile(self) -> PlaneCurve:
        """Height over x."""
        return self.height.curve

    def rows(self) -> Iterator[Row]:
        """Yield both rows."""
        yield self.half
        yield self.height


@dataclass(frozen=True, eq=False)
class Edges:
    """Both edges, and between which places the hull lies."""

    sheer: Edge
    rabbet: Edge
    closed: tuple[bool, bool]

    @property
    def ends(self) -> tuple[float, float]:
        """Where the hull begins and ends, x."""
        return self.rabbet.profile.ends


def edges_of(table: OffsetTable) -> Edges:
    """Return the edges of a table's surface.

    Raises
    ------
    ShapeError
        If the table has too little to bound a surface by, or the stem does not run aft.
    """
    top = _lines(table, LineKind.SHEER)
    bottom = _lines(table, LineKind.RABBET)
    stations = _stations_with(table, [*bottom, *top])
    if len(stations) < 2:
        raise ShapeError(
            f"{table.file or table.name}: no two stations have both a sheer and a rabbet, or two "
            "waterlines to bound the surface: give their heights and the sheer's half-breadths"
        )
    ends = _ends(table, stations)
    rabbet_half = _row(table, bottom[0], ends, _reaches(table, bottom[0], stations))
    rabbet = Edge(rabbet_half, _profile(table, bottom[1], ends))
    closed = (bool(table.stem), bool(table.stern))
    tips = [(end, rabbet.plan.at(end), rabbet.profile.at(end)) for end in ends]
    fixed = [
        (float(x), float(y), float(z)) for (x, y, z), shut in zip(tips, closed, strict=True) if shut
    ]
    half = _row(table, top[0], ends, [(x, y) for x, y, _ in fixed])
    height = _row(table, top[1], ends, [(x, z) for x, _, z in fixed])
    ordered = [x for x, _ in (*table.stem, *table.stern)]
    if sorted(ordered) != ordered or not rabbet.profile.runs_aft:
        raise ShapeError(
            f"{table.file or table.name}: the rabbet turns back on itself in profile: every "
            "point of the stem must lie aft of the one above, of the sternpost forward of it"
        )
    return Edges(Edge(half, height), rabbet, closed)


@dataclass(frozen=True)
class _Given:
    """One measure of an edge as the table has it: a line, or the same everywhere."""

    line: Line | None
    constant: float = 0.0

    def value(self, station: int) -> float | None:
        if self.line is None:
            return self.constant
        offset = self.line.offsets[station]
        return None if offset is None else offset.mm


def _lines(table: OffsetTable, kind: LineKind) -> tuple[_Given, _Given]:
    """Return half-breadths and heights of an edge; a waterline's where the table has none."""
    height = table.row(kind, Measure.HEIGHT)
    half = table.row(kind, Measure.HALF_BREADTH)
    if height is not None and (half is not None or kind is LineKind.RABBET):
        return _Given(half), _Given(height)
    waterlines = sorted(table.of_kind(LineKind.WATERLINE), key=lambda line: line.origin[1])
    if len(waterlines) < 2:
        raise ShapeError(
            f"{table.file or table.name}: there is no {kind}, and no two waterlines to take "
            f"one for it: give the {kind}'s heights and half-breadths"
        )
    bound = waterlines[0 if kind is LineKind.RABBET else -1]
    return _Given(bound), _Given(None, bound.origin[1])


def _stations_with(table: OffsetTable, rows: list[_Given]) -> list[int]:
    """Return the stations at which all rows have a figure."""
    every = range(len(table.stations))
    # A rabbet may be given at few stations, as it runs straight: only the sheer must be there.
    needed = [row for row in rows if row.line is None or row.line.kind is not LineKind.RABBET]
    return [n for n in every if all(row.value(n) is not None for row in needed)]


def _ends(table: OffsetTable, stations: list[int]) -> tuple[float, float]:
    x = table.x
    first = table.stem[0][0] if table.stem else x[stations[0]]
    last = table.stern[-1][0] if table.stern else x[stations[-1]]
    return float(first), float(last)


def _reaches(table: OffsetTable, given: _Given, stations: list[int]) -> list[tuple[float, float]]:
    """Return the ends at which a line's first and last figure are carried on level."""
    known = [n for n in range(len(table.stations)) if given.value(n) is not None]
    ends = _ends(table, stations)
    first, last = given.value(known[0]), given.value(known[-1])
    assert first is not None and last is not None
    reach = []
    if table.x[known[0]] > ends[0] + 1e-6:
        reach.append((ends[0], first))
    if table.x[known[-1]] < ends[1] - 1e-6:
        reach.append((ends[1], last))
    return reach


def _row(
    table: OffsetTable,
    given: _Given,
    ends: tuple[float, float],
    fixed: list[tuple[float, float]],
) -> Row:
    """Return a row of the figures within the ends, and of fixed points at them."""
    found = [(x, value, -1, PINNED_MM) for x, value in fixed]
    taken = {x for x, _ in fixed}
    for n, x in enumerate(table.x):
        value = given.value(n)
        if value is None or not ends[0] - 1e-6 <= x <= ends[1] + 1e-6 or float(x) in taken:
            continue
        scatter = PINNED_MM if given.line is None else ROUNDING_MM
        found.append((float(x), value, n, scatter))
    return _sorted_row(given.line, found)


def _profile(table: OffsetTable, given: _Given, ends: tuple[float, float]) -> Row:
    """Return the rabbet's heights with the points of stem and sternpost."""
    extra = [(x, z, -1, ROUNDING_MM) for x, z in (*table.stem[1:], *table.stern[:-1])]
    tips = [*table.stem[:1], *table.stern[-1:]]
    row = _row(table, given, ends, [(float(x), float(z)) for x, z in tips])
    known = list(zip(row.x, row.values, row.stations, row.scatter, strict=True))
    return replace(_sorted_row(given.line, [*known, *extra]), climbs=True)


def _sorted_row(line: Line | None, found: list[tuple[float, float, int, float]]) -> Row:
    columns = np.array(sorted(found), dtype=float).T
    return Row(line, columns[0], columns[1], columns[2].astype(int), columns[3])
