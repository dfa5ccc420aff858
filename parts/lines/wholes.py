"""Whether one line, label or station of a table is wrong as a whole, and which.

A row under another's label, a waterline as full breadth, two stations exchanged make a dozen
figures odd together, and right ones beside them. Each such slip is supposed in turn: first the
figures in question are held against the surface through all the others, then the table as it would
read is faired anew. One that leaves all of it far less surprising than as it stands is the verdict.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from math import log

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.edges_halved import edges_halved
from parts.lines.faired_table import FairedTable
from parts.lines.first_look import is_sound, strange_figures, wild_without_one
from parts.lines.fits import Fit
from parts.lines.held_whole import Held, Others, points_at
from parts.lines.judging import LESS_SURPRISING, Judged, begun, judged, judged_on
from parts.lines.moved_together import Together, and_neighbours, moved_together
from parts.lines.reading import Cell
from parts.lines.rows import VAGUE_MM
from parts.lines.suppositions import (
    Made,
    Supposition,
    halved,
    left_out,
    line_at,
    relabelled,
    row_shifted,
    rows_exchanged,
    station_at,
    stations_exchanged,
)
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable
from parts.lines.tolerance import NOISY
from parts.lines.why_refused import begun_or_refused

MANY_ODD, MANY_TOGETHER = 3, 2
"""Figures odd at once, and of one line or station, from which a whole is looked into."""

SHORT = 3.5
"""Stations over which the hull may change its mind along her length, below which a table is looked
into: of 90 exact ones none came to less than 4.7, of those with two stations exchanged all to less
than 2.4."""

FAR = 40.0
"""By how much less surprising the table must be as it would read, in the logarithm."""

MOVED = 6.0
"""By how much less surprising figures must be that all are moved together, for that to be looked
into: of ten exact hulls drawn by lot the most was 8 but for a hollow one's lowest waterline (23),
of labels 50 mm off the least was 10."""

FAR_SINGLE = 25.0
"""The same of a station's place or an edge's full breadths, with fewer slips to choose among: of 14
places 100 mm off half came to 40 or more."""

TRIED = 4
"""Suppositions that are faired anew, the likeliest first."""

PROMISING = 10.0
"""By how much less surprising the figures in question must be for one to be faired anew."""

LEFT_OUT = 30.0
"""What leaving a whole line out costs beside its figures."""

LABELS = 161
"""Labels tried over the hull's depth or breadth."""

PLACES = 41
"""Places of a station tried between its neighbours."""

TAKEN_MM = 5.0
"""A place is taken within this: no two stations stand so near, and what one should read is rounded
by 1.5 mm at most. No line can be drawn through two points at one place."""

FINER = 4
"""Times that the best label or place is looked for five times as finely."""


def judged_as_a_whole(table: OffsetTable) -> tuple[Judged, Supposition | None]:
    """Return a table judged, as it would read if a whole of it is wrong, and which.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of, or one that is not modelled.
    """
    state, beyond = begun_or_refused(replace(table, keeps_odd=False))
    trial, verdict = _at_once(state) or _explained(judged_on(state, beyond))
    if not table.keeps_odd:
        return trial, verdict
    # The hull passes what is wrong as it stands, and it is told all the same.
    return judged(table), verdict and replace(verdict, table=table)


def _at_once(state: FairedTable) -> tuple[Judged, Supposition] | None:
    """Return a wild table as it would read, if one slip makes all of it sound; else None.

    So no figure need be judged by itself first. What leaves out a whole line is not tried.
    """
    without = wild_without_one(state)
    if without is None:
        return None
    odd: dict[Cell, float | None] = {one.cell: None for one in strange_figures(state)}
    found = Judged(state.reading, state.edges, state.best, state.by_diagonals, odd, state.misfit)
    least = min(state.misfit, without.misfit + LESS_SURPRISING)
    for make in _promising(found)[:TRIED]:
        supposed = make()
        if supposed.lost > 1:
            continue
        try:
            trial, beyond = begun(supposed.table)
        except ShapeError:
            continue
        if is_sound(trial) and trial.misfit < least - FAR:
            return judged_on(trial, beyond), supposed
    return None


def _explained(found: Judged) -> tuple[Judged, Supposition | None]:
    """Return a table as it would read, and what of it is wrong; as it stands if that is best."""
    as_is = least = _cost(found)
    best, verdict = found, None
    # A very wrong table gains by any freedom: edges are as full breadths where all else is fair.
    for make, must_be_fair in (
        *((make, True) for make in edges_halved(found)),
        *((make, False) for make in _promising(found)[:TRIED]),
    ):
        supposed = make()
        if not supposed.runs_aft:
            continue
        try:
            trial = judged(supposed.table)
        except ShapeError:
            continue
        is_fair = not trial.odd and trial.reading.noise < NOISY
        cost = _cost(trial, supposed)
        if cost < min(least, as_is - _far(supposed)) and (is_fair or not must_be_fair):
            best, verdict, least = trial, supposed, cost
            if is_fair:
                break
    return best, verdict


def _far(supposed: Supposition) -> float:
    """Return by how much less surprising a table must be as it would read."""
    of_edge = any(supposed.table.lines[n].kind in EDGES for n in supposed.lines)
    return FAR_SINGLE if of_edge or len(supposed.stations) == 1 else FAR


def _is_suspicious(found: Judged) -> bool:
    """Whether a table is so strange that any whole of it may be wrong.

    A noisy one is, too, that names no figure: so a wrong label leaves a hull that bent to it.
    """
    return _has_many_odd(found) or found.reading.noise > NOISY or _bends_quickly(found)


def _moved(found: Judged) -> list[Together]:
    """Return which lines and stations may be wrong in a table, however sound it looks."""
    return [one for one in moved_together(found) if one.gain > MOVED]


def _has_many_odd(found: Judged) -> bool:
    """Whether many figures are odd, or several of one line or station."""
    together = Counter((axis, cell[axis]) for cell in found.odd for axis in (0, 1))
    return len(found.odd) >= MANY_ODD or max(together.values(), default=0) >= MANY_TOGETHER


def _bends_quickly(found: Judged) -> bool:
    """Whether a surface changes its mind from station to station."""
    spacing = float(np.median(np.diff(found.reading.table.x)))
    return any(_length_mm(fit) < SHORT * spacing for fit in found.fits)


def _length_mm(fit: Fit) -> float:
    """Return over what length along the boat a surface may change its mind."""
    first, last = fit.cloud.panel.ends
    return fit.function.stiffness.lengths[0] * (last - first) / 2.0


def _cost(found: Judged, supposed: Supposition | None = None) -> float:
    """Return how surprising a table is with all that is wrong in it, in the logarithm."""
    cost = found.misfit + LESS_SURPRISING * len(found.odd)
    if supposed is not None and supposed.lost:
        cost += supposed.lost * log(VAGUE_MM) + LEFT_OUT
    return cost


def _promising(found: Judged) -> list[Made]:
    """Return the suppositions that leave the figures in question less surprising, best first."""
    others, table, moved = Others(found), found.reading.table, _moved(found)
    every = _is_suspicious(found)
    crossing = [n for n, line in enumerate(table.lines) if line.kind not in EDGES]
    stirred = and_neighbours(table, {one.line for one in moved})
    tried = list(_of_lines(others, [n for n in crossing if every or n in stirred]))
    # Rows exchanged make many figures odd; of stations exchanged none may be, but the hull bends.
    if _has_many_odd(found):
        tried += _of_pairs(others)
    strayed = {one.station: one.gain for one in moved if one.station is not None}
    if _has_many_odd(found) or _bends_quickly(found):
        strayed = {n: strayed.get(n, 0.0) for n in range(len(table.stations))}
        tried += _of_station_pairs(others)
    tried += _of_stations(others, strayed)
    likely = sorted((one for one in tried if one[0] > PROMISING), key=lambda one: -one[0])
    return [make for _, make in likely]


def _of_lines(others: Others, numbers: Sequence[int]) -> Iterator[tuple[float, Made]]:
    """Yield what may be wrong with whole lines, and by how much less strange each is then."""
    for n in numbers:
        yield from _of_line(others.without(lines=(n,)), others.found.reading.table, n)


def _of_pairs(others: Others) -> Iterator[tuple[float, Made]]:
    """Yield which two lines' rows may be exchanged, and by how much less strange they are then."""
    table = others.found.reading.table
    numbers = [n for n, line in enumerate(table.lines) if line.kind not in EDGES]
    for one, other in combinations(numbers, 2):
        pair = table.lines[one], table.lines[other]
        if pair[0].kind is pair[1].kind is not LineKind.DIAGONAL:
            supposed = rows_exchanged(table, one, other)
            turned = supposed.table.lines[one], supposed.table.lines[other]
            held = others.without(lines=(one, other))
            before, after = (sum(held.of_line(line) for line in lines) for lines in (pair, turned))
            yield before - after, partial(rows_exchanged, table, one, other)


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
    """Yield where whole stations may stand, and by how much less strange each is there.

    Parameters
    ----------
    gains
        What moving each gains as far as is known, edges included: of a station that few lines
        cross its edges alone may say where it stands.
    """
    table, (first, last) = others.found.reading.table, others.found.edges.ends
    x = table.x
    for n, gain in sorted(gains.items()):
        low, high = float([first, *x][n]), float([*x[1:], last][n])
        if low < x[n] < high:
            at = partial(others.without(stations=(n,)).at_stations, points_at(table, n))
            place, least = _best(at, low, high, PLACES)
            if _is_taken(table, n, place):
                continue
            gain = max(gain, float(at(x[[n]])[0]) - least)
            yield gain, partial(station_at, table, n, place)


def _is_taken(table: OffsetTable, station: int, mm: float) -> bool:
    """Whether another station, or a point of stem or stern, stands about where one is put."""
    others = [*np.delete(table.x, station), *(x for x, _ in (*table.stem, *table.stern))]
    return bool(np.abs(np.array(others) - mm).min() < TAKEN_MM)


def _of_station_pairs(others: Others) -> Iterator[tuple[float, Made]]:
    """Yield which two stations may be exchanged, and by how much less strange they are then."""
    table = others.found.reading.table
    x = table.x
    figures = [points_at(table, n) for n in range(len(x))]
    for one, other in combinations(range(len(x)), 2):
        held = others.without(stations=(one, other))
        both = [held.at_stations(figures[n], x[[one, other]]) for n in (one, other)]
        gain = both[0][0] + both[1][1] - both[0][1] - both[1][0]
        yield float(gain), partial(stations_exchanged, table, one, other)


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
