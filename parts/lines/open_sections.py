"""Where nothing in the table says how a section runs from one figure to the next.

Full garboards between the rabbet and the first waterline, a flare above the last: where no line
crosses them, many a fair section passes the same figures. Three signs tell of it: how far open the
likeliest batten leaves the section itself, how far off it runs if the hull is laid off in the other
way, and how far off by a batten that bends on half the length. Each alone cries out on sound hulls,
the other way of laying off where it does not suit them; where all three do, the section is open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from nesting.errors import Finding
from nesting.written_measures import format_length
from parts.curves import Points
from parts.lines.faired_edges import Edge
from parts.lines.fits import Fit, lies_off, square_off
from parts.lines.hull_points import HIGH, LOW, ON_STEM_MM
from parts.lines.judging import Judged
from parts.lines.kriging import Kriging
from parts.lines.table import Offset, OffsetTable

LIMP = 0.5
"""Part of its length across on which the limper batten bends."""

OF_SIGNS = 2.5
"""How many times the three signs' geometric mean a section may be off: of 78 gaps told on 40 hulls
by formulas one in ten is off by more."""

OPEN_MM = 4.0
"""A section left open by more is told. Of 3,233 gaps of those hulls 33 are more than 4 mm off;
of these 23 are told, and of 31 hulls that have none of them 26 are told nothing."""

OF_NOISE = 3.0
"""Deviations of the figures' own noise within which no section is open, as all are by so much: of
271 gaps of three hulls with 3 mm of it two are told, with two deviations 28."""

WITHIN = np.arange(1, 8) / 8
"""Places between two figures at which is looked, parts of the way."""


@dataclass(frozen=True)
class OpenSection:
    """A gap between two figures of a section, or an edge and a figure, that is left open.

    ``below`` and ``above`` are numbers of lines, or :data:`LOW` and :data:`HIGH` of the panel's
    edges.
    """

    panel: int
    station: int
    below: int
    above: int
    open_mm: float

    def follows(self, other: OpenSection) -> bool:
        """Whether it is the same strip of the hull as another, a station farther aft."""
        along = self.panel == other.panel and self.station == other.station + 1
        return along and (self.below == other.below or self.above == other.above)


def open_section_notes(found: Judged) -> Iterator[Finding]:
    """Yield every stretch in which sections are left open between two figures."""
    for run in _runs(list(open_sections(found))):
        yield _finding(found, run)


def open_sections(found: Judged) -> Iterator[OpenSection]:
    """Yield every gap of a section at a station that is left open, from the rabbet up and aft."""
    for number, fits in enumerate(found.all_fits):
        limit = max(OPEN_MM, OF_NOISE * fits[0].rounding_mm * fits[0].noise)
        gaps = list(_gaps(fits[0]))
        if not gaps:
            continue
        points = np.concatenate([_between(fits[0], *gap) for gap in gaps])
        signs = np.array(_signs(fits, points)).reshape(-1, len(gaps), len(WITHIN)).max(axis=2)
        off = OF_SIGNS * np.exp(np.log(np.maximum(signs, 1e-9)).mean(axis=0))
        for (station, (below, _), (above, _)), open_mm in zip(gaps, off, strict=True):
            if open_mm > limit:
                yield OpenSection(number, station, below, above, float(open_mm))


_Mark = tuple[int, float]
"""A line's number, and its place across."""


def _gaps(fit: Fit) -> Iterator[tuple[int, _Mark, _Mark]]:
    """Yield between which two figures, or edges, every gap of a section lies, by stations."""
    cloud, places = fit.cloud, fit.way.lay(*fit.cloud.points.T).places[:, 1]
    for station in np.unique(cloud.stations[cloud.stations >= 0]):
        at = np.flatnonzero((cloud.stations == station) & (cloud.lines >= 0) & fit.used)
        x = cloud.points[np.flatnonzero(cloud.stations == station)[:1], 0]
        low, high = (edge[0] for edge in cloud.panel.edges_at(x))
        if not len(at) or float(np.hypot(*(high - low))) < ON_STEM_MM:
            continue
        first, last = fit.way.net(x, np.array([0.0, 1.0]))[1][0]
        inner = [(int(cloud.lines[n]), float(places[n])) for n in at if first < places[n] < last]
        marks = [(LOW, float(first)), *sorted(inner, key=lambda one: one[1]), (HIGH, float(last))]
        for below, above in pairwise(marks):
            yield int(station), below, above


def _between(fit: Fit, station: int, below: _Mark, above: _Mark) -> Points:
    """Return points of a section between two figures, (n, 3)."""
    at = fit.cloud.stations == station
    x = np.full(len(WITHIN), fit.cloud.points[at][0, 0])
    across = below[1] + WITHIN * (above[1] - below[1])
    along = fit.way.net(x[:1], np.zeros(1))[0]
    values = fit.function.at(np.column_stack([np.full(len(x), along[0]), across]))
    y, z = fit.way.back(x, across[:, None], values[:, None])
    return np.column_stack([x, y[:, 0], z[:, 0]])


def _signs(fits: tuple[Fit, ...], points: Points) -> list[Points]:
    """Return the doubt of points of a hull, and how far other fair hulls lie off them, mm."""
    doubt = square_off(fits[0], fits[0].function, points)[1]
    others = [(fits[0], _limper(fits[0].function)), *((fit, fit.function) for fit in fits[1:])]
    return [doubt, *(np.abs(lies_off(fit, function, points)) for fit, function in others)]


def _limper(function: Kriging) -> Kriging:
    """Return a function through the same figures that bends on half the length across."""
    along, across = function.stiffness.lengths
    return replace(function, stiffness=replace(function.stiffness, lengths=(along, LIMP * across)))


def _runs(gaps: list[OpenSection]) -> Iterator[list[OpenSection]]:
    """Yield gaps that follow each other along the hull."""
    runs = list[list[OpenSection]]()
    for gap in gaps:
        run = next((run for run in runs if gap.follows(run[-1])), None)
        if run is None:
            runs.append([gap])
        else:
            run.append(gap)
    yield from runs


def _finding(found: Judged, run: list[OpenSection]) -> Finding:
    table, worst = found.reading.table, max(run, key=lambda gap: gap.open_mm)
    names = [table.stations[gap.station].name for gap in (run[0], run[-1], worst)]
    panel = found.fits[worst.panel].cloud.panel
    edges = {LOW: panel.low, HIGH: panel.high}
    between = [
        table.lines[number].name if number >= 0 else _edge_name(edges[number], table, worst)
        for number in (worst.below, worst.above)
    ]
    place, off = _figure(table, worst), format_length(float(round(worst.open_mm)), table.unit)
    where = f"station {names[0]}" if len(run) == 1 else f"stations {names[0]} to {names[1]}"
    most = f" at station {names[2]}" if len(run) > 1 else ""
    text = (
        f"{where}: no figure says how the section runs{most} between {between[0]} and "
        f"{between[1]}, which is known to about {off} alone: give a waterline, "
        "buttock or diagonal that crosses it between"
    )
    return Finding(table.file, place.line, place.column, text)


def _figure(table: OffsetTable, gap: OpenSection) -> Offset:
    """Return a figure that bounds a gap."""
    number = gap.below if gap.below >= 0 else gap.above
    offset = table.lines[number].offsets[gap.station]
    assert offset is not None
    return offset


def _edge_name(edge: Edge, table: OffsetTable, gap: OpenSection) -> str:
    """Return what the edge of a panel is called at a gap's station: above a chine, the rabbet too.

    A table without a rabbet or a sheer is bounded by a waterline.
    """
    x = float(table.x[gap.station])
    nearest = min(edge.each(), key=lambda part: float(np.hypot(*(part.at(x) - edge.at(x)))))
    return next(row.line.name for row in nearest.rows() if row.line is not None)
