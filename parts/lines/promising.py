"""Which wholes of a judged table may be wrong, and which slips would explain it best.

A table is looked into where it is strange as a whole, or where all figures of one line or station
would gain by being moved together. Each slip is held against the surface through all the other
figures, without fairing anything anew.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from math import log

import numpy as np

from parts.curves import Points
from parts.lines.exchanges import columns_exchanged, lines_exchanged
from parts.lines.fits import Fit
from parts.lines.held_whole import Held, Others, points_at
from parts.lines.judging import Judged
from parts.lines.moved_together import Together, and_neighbours, moved_together
from parts.lines.rows import VAGUE_MM
from parts.lines.suppositions import (
    Made,
    column_shifted,
    halved,
    left_out,
    line_at,
    relabelled,
    row_shifted,
    station_at,
)
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable
from parts.lines.tolerance import NOISY

MANY_ODD, MANY_TOGETHER = 8, 2
"""Figures odd at once from which any whole is looked into; and those of one line or station from
which that is, or of two from which their being exchanged is. A slip makes figures odd together: a
few that stand apart are each wrong by themselves."""

SHORT = 3.5
"""Stations over which the hull may change its mind along her length, below which a table is looked
into: of 90 exact ones none came to less than 4.7, of those with two stations exchanged all to less
than 2.4."""

MOVED = 6.0
"""By how much less surprising figures must be that all are moved together, for that to be looked
into: of ten exact hulls drawn by lot the most was 8 but for a hollow one's lowest waterline (23),
of labels 50 mm off the least was 10."""

PROMISING = 10.0
"""By how much less surprising the figures in question must be for one to be faired anew."""

CROWDED = 4
"""Odd figures of one station from which its columns are tried a row off in any case."""

LABELS = 161
"""Labels tried over the hull's depth or breadth."""

PLACES = 41
"""Places of a station tried between its neighbours."""

TAKEN_MM = 5.0
"""A place is taken within this: no two stations stand so near, and what one should read is rounded
by 1.5 mm at most. No line can be drawn through two points at one place."""

FINER = 4
"""Times that the best label or place is looked for five times as finely."""

LEAST_MOVED = 0.05
"""Part of the way to the next station by which a place must be off to be told: by less its figures
hardly differ, and where sections change quickly an end's place seems to gain by it."""


def promising(found: Judged) -> list[Made]:
    """Return the suppositions that leave the figures in question less surprising, best first."""
    others, table, moved = Others(found), found.reading.table, _moved(found)
    rows, columns = (Counter(cell[axis] for cell in found.odd) for axis in (0, 1))
    many, bends = len(found.odd) >= MANY_ODD, _bends_quickly(found)
    # A noisy table may be one, too, that names no figure: so a wrong label leaves a hull that bent.
    every = many or bends or found.reading.noise > NOISY
    stirred = {*and_neighbours(table, {one.line for one in moved}), *_of_many(rows)}
    crossing = [n for n, line in enumerate(table.lines) if line.kind not in EDGES]
    tried = list(_of_lines(others, [n for n in crossing if every or n in stirred]))
    # Rows exchanged make many figures odd; of stations exchanged none may be, but the hull bends.
    tried += lines_exchanged(others, partial(_are_together, rows, many))
    tried += columns_exchanged(others, partial(_are_together, columns, many or bends))
    strayed = {one.station: one.gain for one in moved if one.station is not None}
    asked = range(len(table.stations)) if many or bends else _of_many(columns)
    tried += _of_stations(others, {**dict.fromkeys(asked, 0.0), **strayed})
    likely = sorted((one for one in tried if one[0] > PROMISING), key=lambda one: -one[0])
    return [make for _, make in likely]


def _of_lines(others: Others, numbers: Sequence[int]) -> Iterator[tuple[float, Made]]:
    """Yield what may be wrong with whole lines, and by how much less strange each is then."""
    for n in numbers:
        yield from _of_line(others.without(lines=(n,)), others.found.reading.table, n)


def _of_line(held: Held, table: OffsetTable, number: int) -> Iterator[tuple[float, Made]]:
    """Yield the same of one line, held against the surface through all others."""
    line = table.lines[number]
    as_is = held.of_line(line)
    if line.kind is not LineKind.DIAGONAL:
        at, least = _best_label(held, line)
        yield as_is - least, partial(relabelled, table, number, at)
    tried = [left_out(table, number), row_shifted(table, number, 1), row_shifted(table, number, -1)]
    if line.measure is not Measure.HEIGHT:
        tried.append(halved(table, number))
    for supposed in tried:
        after = held.of_line(supposed.table.lines[number]) + supposed.lost * log(VAGUE_MM)
        yield as_is - after, supposed.itself


def _of_stations(others: Others, gains: Mapping[int, float]) -> Iterator[tuple[float, Made]]:
    """Yield what may be wrong with whole stations, and by how much less strange each is then.

    Parameters
    ----------
    gains
        What moving each gains as far as is known, edges included: of a station that few lines
        cross its edges alone may say where it stands.
    """
    table = others.found.reading.table
    for n, gain in sorted(gains.items()):
        crowded = sum(cell[1] == n for cell in others.found.odd) >= CROWDED
        for kind in (LineKind.WATERLINE, LineKind.BUTTOCK):
            for better, make in _of_column(others, n, kind):
                # Right ones may be odd there besides, and the edges put where they are not.
                yield (max(better, PROMISING + 1.0) if crowded else better), make
        yield from _of_place(others.without(stations=(n,)), table, n, gain)


def _of_column(others: Others, station: int, kind: LineKind) -> Iterator[tuple[float, Made]]:
    """Yield how the figures of a kind of lines may stand a row off at a station."""
    table = others.found.reading.table
    rows = tuple(n for n, line in enumerate(table.lines) if line.kind is kind)
    if sum(table.lines[n].offsets[station] is not None for n in rows) < MANY_TOGETHER:
        return
    held = others.without(rows, (station,), where_both=True)

    def strange(read: OffsetTable) -> float:
        at = [(line, line.offsets[station]) for line in (read.lines[n] for n in rows)]
        points = [(table.x[station], *line.point(one)) for line, one in at if one is not None]
        return float(held.strange([np.array(points)])[0])

    as_is = strange(table)
    for step in (1, -1):
        supposed = column_shifted(table, station, kind, step)
        yield as_is - strange(supposed.table) - supposed.lost * log(VAGUE_MM), supposed.itself


def _of_place(
    held: Held, table: OffsetTable, number: int, gain: float
) -> Iterator[tuple[float, Made]]:
    """Yield where a station may stand between those beside it."""
    (first, last), x = held.edges.ends, table.x
    low, high = float([first, *x][number]), float([*x[1:], last][number])
    if not low < x[number] < high:
        return
    at = partial(held.at_stations, points_at(table, number))
    place, least = _best(at, low, high, PLACES)
    reach = LEAST_MOVED * min(x[number] - low, high - x[number])
    if not _is_taken(table, number, place) and abs(place - x[number]) >= reach:
        gain = max(gain, float(at(x[[number]])[0]) - least)
        yield gain, partial(station_at, table, number, place)


def _is_taken(table: OffsetTable, station: int, mm: float) -> bool:
    """Whether another station, or a point of stem or stern, stands about where one is put."""
    others = [*np.delete(table.x, station), *(x for x, _ in (*table.stem, *table.stern))]
    return bool(np.abs(np.array(others) - mm).min() < TAKEN_MM)


def _best_label(held: Held, line: Line) -> tuple[float, float]:
    """Return the label with which a line is least strange, mm, and how strange it is then."""
    edges = held.edges
    if line.kind is LineKind.WATERLINE:
        low, high = float(edges.rabbet.height.values.min()), float(edges.sheer.height.values.max())
    else:
        low, high = 0.0, float(edges.sheer.half.values.max())

    def strange(labels: Points) -> Points:
        return held.of_lines([line_at(line, float(mm)) for mm in labels])

    return _best(strange, low, high, LABELS)


def _best(
    strange: Callable[[Points], Points], low: float, high: float, count: int
) -> tuple[float, float]:
    """Return where something is least strange between two places, and how strange it is there."""
    step = (high - low) / (count + 1)
    places = low + step * np.arange(1.0, count + 1.0)
    at = float(places[int(strange(places).argmin())])
    for _ in range(FINER):
        near = at + step * np.linspace(-1.0, 1.0, 11)
        at, step = float(near[int(strange(near).argmin())]), step / 5
    return at, float(strange(np.array([at]))[0])


def _moved(found: Judged) -> list[Together]:
    """Return which lines and stations may be wrong in a table, however sound it looks."""
    return [one for one in moved_together(found) if one.gain > MOVED]


def _of_many(odd: Counter[int]) -> list[int]:
    """Return the lines or stations that several odd figures are of."""
    return [n for n, count in odd.items() if count >= MANY_TOGETHER]


def _are_together(odd: Counter[int], every: bool, pair: tuple[int, int]) -> bool:
    """Whether two lines or stations may be exchanged: enough odd figures are of them, or any."""
    return every or odd[pair[0]] + odd[pair[1]] >= MANY_TOGETHER


def _bends_quickly(found: Judged) -> bool:
    """Whether a surface changes its mind from station to station."""
    spacing = float(np.median(np.diff(found.reading.table.x)))
    return any(_length_mm(fit) < SHORT * spacing for fit in found.fits)


def _length_mm(fit: Fit) -> float:
    """Return over what length along the boat a surface may change its mind."""
    first, last = fit.cloud.panel.ends
    return fit.function.stiffness.lengths[0] * (last - first) / 2.0
