"""The edges of the planked surfaces, rabbet, chines and sheer, each faired as a line of its own.

The rabbet's heights may run on past the stations up a stem and a sternpost. A table without a
sheer is bounded by its highest waterline, one without a rabbet by its lowest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.plane_curve import PlaneCurve
from parts.lines.reading import PINNED_MM, Point, Reading
from parts.lines.rows import SAME_MM, Row, carried_on, runs_on
from parts.lines.sharp_turns import sharp_turn
from parts.lines.straight_runs import with_straight_run
from parts.lines.table import Line, LineKind, Measure, OffsetTable
from parts.lines.tolerance import rounding_mm

ENOUGH = 3
"""Figures of other lines at a station without sheer by which the hull still reaches it."""

FEWEST_ON_CHINE = 3
"""Stations at which a chine must be given."""

LOOKED_AT = 2001
"""Places at which a chine run on is looked for on the rabbet."""


@dataclass(frozen=True, eq=False)
class Edge:
    """Rabbet, chine or sheer: its half-breadths and its heights.

    Attributes
    ----------
    drawn
        Its curves in plan and in profile, where they are not those of its own rows.
    parts
        The edges that it is made of, if it is pieced together.
    """

    half: Row
    height: Row
    drawn: tuple[PlaneCurve, PlaneCurve] | None = None
    parts: tuple[Edge, ...] = ()

    @cached_property
    def plan(self) -> PlaneCurve:
        """Half-breadth over x."""
        return self.drawn[0] if self.drawn else self.half.curve

    @cached_property
    def profile(self) -> PlaneCurve:
        """Height over x."""
        return self.drawn[1] if self.drawn else self.height.curve

    def at(self, x: float) -> Points:
        """Return its half-breadth and height at a place."""
        return np.array([float(self.plan.at(x)), float(self.profile.at(x))])

    def rows(self) -> Iterator[Row]:
        """Yield both rows."""
        yield self.half
        yield self.height

    def each(self) -> tuple[Edge, ...]:
        """Return the edges that it is made of."""
        return self.parts or (self,)


@dataclass(frozen=True, eq=False)
class Edges:
    """All edges, and between which places the hull lies."""

    sheer: Edge
    rabbet: Edge
    closed: tuple[bool, bool]
    chines: tuple[Edge, ...] = ()

    @property
    def ends(self) -> tuple[float, float]:
        """Where the hull begins and ends, x."""
        return self.rabbet.profile.ends

    def each(self) -> tuple[Edge, ...]:
        """Return the edges from the rabbet up."""
        return (self.rabbet, *self.chines, self.sheer)


@dataclass(frozen=True)
class _Given:
    """One measure of an edge as the table has it: a line, or the same everywhere."""

    number: int | None
    constant: float = 0.0


def edges_of(reading: Reading | OffsetTable) -> Edges:
    """Return the edges of a table's surface.

    Raises
    ------
    ShapeError
        If the table has too little to bound a surface by, or the stem does not run aft.
    """
    if isinstance(reading, OffsetTable):
        reading = Reading(reading)
    table = reading.table
    top, bottom = _lines(table, LineKind.SHEER), _lines(table, LineKind.RABBET)
    ends = _ends(reading, top)
    rabbet = Edge(_row(reading, bottom[0], ends, ()), _profile(reading, bottom[1], ends))
    closed = (bool(table.stem), bool(table.stern))
    tips = [
        (end, float(rabbet.plan.at(end)), float(rabbet.profile.at(end)))
        for end, shut in zip(ends, closed, strict=True)
        if shut
    ]
    half = _row(reading, top[0], ends, [(x, y) for x, y, _ in tips])
    height = _row(reading, top[1], ends, [(x, z) for x, _, z in tips])
    ordered = [x for x, _ in (*table.stem, *table.stern)]
    if sorted(ordered) != ordered or not rabbet.profile.runs_aft:
        raise ShapeError(
            f"{table.file or table.name}: the rabbet turns back on itself in profile: every "
            "point of the stem must lie aft of the one above, of the sternpost forward of it"
        )
    chines = tuple(chine_of(reading, pair, rabbet, ends, closed) for pair in table.chines)
    return Edges(Edge(half, height), rabbet, closed, chines)


def profile_of(reading: Reading) -> Row:
    """Return the rabbet's heights, which may turn back on themselves."""
    table = reading.table
    ends = _ends(reading, _lines(table, LineKind.SHEER))
    return _profile(reading, _lines(table, LineKind.RABBET)[1], ends)


def _lines(table: OffsetTable, kind: LineKind) -> tuple[_Given, _Given]:
    """Return half-breadths and heights of an edge; a waterline's where the table has none."""
    height = number_of(table, table.row(kind, Measure.HEIGHT))
    half = number_of(table, table.row(kind, Measure.HALF_BREADTH))
    if height is not None and (half is not None or kind is LineKind.RABBET):
        return _Given(half), _Given(height)
    waterlines = sorted(table.of_kind(LineKind.WATERLINE), key=lambda line: line.origin[1])
    if len(waterlines) < 2:
        raise ShapeError(
            f"{table.file or table.name}: there is no {kind}, and no two waterlines to take "
            f"one for it: give the {kind}'s heights and half-breadths"
        )
    bound = waterlines[0 if kind is LineKind.RABBET else -1]
    return _Given(number_of(table, bound)), _Given(None, bound.origin[1])


def number_of(table: OffsetTable, line: Line | None) -> int | None:
    """Return the number of a line in its table."""
    return next((n for n, other in enumerate(table.lines) if other is line), None)


def _ends(reading: Reading, top: tuple[_Given, _Given]) -> tuple[float, float]:
    """Return where the hull begins and ends: at stem and stern, or the outermost stations.

    A station counts that has a sheer, or figures enough beside it.
    """
    table = reading.table
    used = []
    for n in range(len(table.stations)):
        given = [line for line in table.lines if line.offsets[n] is not None]
        lines = [table.lines[row.number] for row in top if row.number is not None]
        if all(line.offsets[n] is not None for line in lines) or len(given) >= ENOUGH + 2:
            used.append(float(table.x[n]))
    if len(used) < 2:
        raise ShapeError(
            f"{table.file or table.name}: no two stations have both a sheer and a rabbet, or two "
            "waterlines to bound the surface: give their heights and the sheer's half-breadths"
        )
    first = table.stem[0][0] if table.stem else used[0]
    last = table.stern[-1][0] if table.stern else used[-1]
    return float(first), float(last)


def chine_of(
    reading: Reading,
    pair: tuple[Line, Line],
    rabbet: Edge,
    ends: tuple[float, float],
    closed: tuple[bool, bool],
) -> Edge:
    """Return a chine, run on to where it meets stem or sternpost.

    Raises
    ------
    ShapeError
        If it ends within the hull.
    """
    table = reading.table
    numbers = [number_of(table, line) for line in pair]
    offsets = zip(*(line.offsets for line in pair), strict=True)
    both = [n for n, given in enumerate(offsets) if None not in given]
    # One that is odd is left out of its own line alone.
    points = [[p for p in reading.points(number, 0.0) if p.station in both] for number in numbers]
    fewest = min(map(len, points))
    if fewest < FEWEST_ON_CHINE:
        raise ShapeError(
            f"{table.place_of(pair[0])}: {pair[0].name} has {fewest} points of both "
            f"heights and half-breadths, at least {FEWEST_ON_CHINE}: give it at more stations"
        )
    made = [row_of(row, line, reading.noise) for row, line in zip(points, pair, strict=True)]
    for at, (end, shut) in enumerate(zip(ends, closed, strict=True)):
        last = float(table.x[both[-at]])
        if abs(last - end) < SAME_MM:
            for row, line in zip(points, made, strict=True):
                if abs(line.x[-at] - end) > SAME_MM:
                    value, doubt = carried_on(line, end)
                    row.append(Point(end, value, -1, 0.0, doubt))
            continue
        if not shut:
            raise ShapeError(
                f"{table.place_of(pair[0])}: {pair[0].name} ends at {last:.0f} mm, within the "
                f"hull, which ends at {end:.0f} mm: a chine that fades out is not modelled; give "
                "it up to the end, or up to a stem or sternpost that it meets"
            )
        tip = _meeting((made[0], made[1]), rabbet, (last, end))
        for row, value in zip(points, tip[1:], strict=True):
            row.append(Point(tip[0], value, -1, 0.0, PINNED_MM))
    half, height = (
        row_of(sorted(row, key=lambda p: p.x), line, reading.noise)
        for row, line in zip(points, pair, strict=True)
    )
    return Edge(half, height)


def _meeting(
    chine: tuple[Row, Row], rabbet: Edge, reach: tuple[float, float]
) -> tuple[float, float, float]:
    """Return where a chine run on comes nearest to the rabbet, a point of the rabbet."""
    x = reach[0] + (reach[1] - reach[0]) * np.linspace(0.0, 1.0, LOOKED_AT)[1:]
    along = rabbet.plan.at(x), rabbet.profile.at(x)
    off = [line - runs_on(row, x)[0] for line, row in zip(along, chine, strict=True)]
    nearest = int(np.hypot(*off).argmin())
    return float(x[nearest]), float(along[0][nearest]), float(along[1][nearest])


def _row(
    reading: Reading,
    given: _Given,
    ends: tuple[float, float],
    fixed: tuple[tuple[float, float], ...] | list[tuple[float, float]],
) -> Row:
    """Return a row of the figures within the ends, and of fixed points at them."""
    found = [Point(x, value, -1, 0.0, PINNED_MM) for x, value in fixed]
    taken = {x for x, _ in fixed}
    for point in reading.points(given.number, given.constant):
        if ends[0] - SAME_MM <= point.x <= ends[1] + SAME_MM and point.x not in taken:
            found.append(point)
    line = None if given.number is None else reading.table.lines[given.number]
    return _sorted_row(reading, line, found, ends)


def _profile(reading: Reading, given: _Given, ends: tuple[float, float]) -> Row:
    """Return the rabbet's heights with the points of stem and sternpost."""
    table = reading.table
    tips = [*table.stem[:1], *table.stern[-1:]]
    row = [Point(x, z, -1, 0.0, PINNED_MM) for x, z in tips]
    taken = {x for x, _ in (*table.stem, *table.stern)}
    row += [
        Point(x, z, -1, rounding_mm(table), 0.0) for x, z in (*table.stem[1:], *table.stern[:-1])
    ]
    for point in reading.points(given.number, given.constant):
        if ends[0] - SAME_MM <= point.x <= ends[1] + SAME_MM and point.x not in taken:
            row.append(point)
    line = None if given.number is None else table.lines[given.number]
    for x, z in table.knuckles:
        if not ends[0] - SAME_MM <= x <= ends[1] + SAME_MM:
            raise ShapeError(
                f"{table.file or table.name}: the knuckle at {x:g} mm, {z:g} mm high, lies beyond "
                f"the rabbet, which runs from {ends[0]:g} to {ends[1]:g} mm: is its unit right?"
            )
    return with_straight_run(sharp_turn(_sorted_row(reading, line, row, ends), table.knuckles))


def _sorted_row(
    reading: Reading, line: Line | None, found: list[Point], ends: tuple[float, float]
) -> Row:
    """Return points as a row, carried on to the ends."""
    points = sorted(found, key=lambda point: point.x)
    if not points:
        name = "an edge" if line is None else line.title
        raise ShapeError(f"{reading.table.file or reading.table.name}: {name} has no figures")
    row = row_of(points, line, reading.noise)
    for end in ends:
        if not any(abs(point.x - end) < SAME_MM for point in points):
            value, doubt = carried_on(row, end)
            points.append(Point(end, value, -1, 0.0, doubt))
    points.sort(key=lambda point: point.x)
    return row_of(points, line, reading.noise)


def row_of(points: list[Point], line: Line | None, noise: float) -> Row:
    """Return points, x rising, as a row."""
    assert all(a.x < b.x for a, b in pairwise(points)) or line is not None
    columns = [(p.x, p.value, p.station, p.scatter, p.firm) for p in points]
    x, values, stations, scatter, firm = np.array(columns, dtype=float).T
    return Row(line, x, values, stations.astype(int), scatter, firm, noise)
