"""Which figures are odd, judged by all the lines that run through them.

A figure of a waterline, buttock or diagonal is held against the surface through all the others.
A figure of an edge is held against the surface and against its own line in plan or profile, each
with its own doubt: a rabbet is not moved because the surface beside it bends in an unusual way,
if the rabbet itself runs fair. What looks odd is left out, worst first, and all the rest is faired
anew; what then agrees with the others comes back in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from parts.lines.faired_edges import Cell, Edge, Edges, Reading, edges_of, number_of
from parts.lines.fits import HALF_WITHIN, LEAST_SCALE, Fit, fits_of
from parts.lines.hull_points import HIGH, LOW, cloud_of
from parts.lines.laying_off import Diagonals
from parts.lines.odd_ones import EIGHTH_MM, SURE
from parts.lines.panels import panels_of
from parts.lines.rows import Row
from parts.lines.table import OffsetTable
from parts.lines.tolerance import rounding_mm
from parts.lines.unnamed_chines import no_unnamed_chine

ROUNDS = 30
"""Times that something is left out, or let in again, at most."""

REPEATS = 2
"""Times that edges and surfaces are faired anew as the noise is found."""

SETTLED = 1.15
"""A noise that changes by a smaller factor is the same."""

UNSUITED = 3.0
"""How much more is doubted what diagonals say of an edge where the hull is not laid off by them."""

RAISED = 1.5
"""A noise above this part of the rounding may be that of a few gross errors."""

LOOKED_INTO = 3.5
"""Standard deviations from which a figure is tried without, however little noise there is: the
batten may have bent to suit it."""

CROWD, BLAME = 2, 18.0
"""Figures off at one station by which an edge there is suspected, and by how much less surprising
all must be without it: what one figure is that is off by six standard deviations."""

APART = 2
"""Stations between two figures that are left out in one round, so that neither speaks for the
other."""

MOST_ODD = 3
"""One figure in so many may be odd; more is no table."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """One figure held against all others.

    ``off_mm`` is what it is more than they foretell, ``doubt_mm`` the standard deviation of that.
    """

    cell: Cell
    off_mm: float
    doubt_mm: float

    @property
    def strange(self) -> float:
        """Standard deviations it is off."""
        return abs(self.off_mm) / self.doubt_mm


@dataclass(frozen=True, eq=False)
class Judged:
    """A table judged.

    Attributes
    ----------
    fits
        The fair function of each panel, from the rabbet up.
    odd
        The figures left out, and what the others foretell there, mm: None where they cannot.
    """

    reading: Reading
    edges: Edges
    fits: tuple[Fit, ...]
    odd: dict[Cell, float | None]


@dataclass(frozen=True, eq=False)
class _State:
    """A table faired without some figures."""

    reading: Reading
    edges: Edges
    all_fits: tuple[tuple[Fit, ...], ...]

    @property
    def best(self) -> tuple[Fit, ...]:
        return tuple(fits[0] for fits in self.all_fits)

    @property
    def by_diagonals(self) -> tuple[Fit, ...]:
        """The fits that know nothing of where the edges lie between the stations."""
        return tuple(
            next(fit for fit in fits if isinstance(fit.way, Diagonals)) for fits in self.all_fits
        )


def judged(table: OffsetTable) -> Judged:
    """Return a table judged.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of.
    """
    first = Reading(table)
    for panel in panels_of(edges_of(first)):
        no_unnamed_chine(first, cloud_of(first, panel))
    state = _faired(first, None)
    kept, blamed = set[Cell](), set[Cell]()
    most = sum(offset is not None for line in table.lines for offset in line.offsets) / MOST_ODD
    for _ in range(ROUNDS):
        put = dict(state.reading.put)
        agreed = [v for v in _left(state) if v.strange <= SURE or abs(v.off_mm) < EIGHTH_MM]
        back = [verdict.cell for verdict in agreed if verdict.cell not in blamed]
        out = [] if back else _worst(state, kept)
        if (not back and not out) or len(put) > most:
            break
        kept.update(back)
        blamed.update(verdict.cell for verdict in out if np.isinf(verdict.off_mm))
        for cell in back:
            del put[cell]
        put.update({verdict.cell: None for verdict in out})
        state = _faired(replace(state.reading, put=put), state)
    return _closed(state)


def _faired(reading: Reading, before: _State | None) -> _State:
    """Return a table faired, its noise found."""
    rounding = rounding_mm(reading.table)
    # What looked odd bent the stiffness to suit it: without it, that is sought from the beginning.
    same = before is not None and before.reading.put == reading.put
    known = before.all_fits if before is not None and same else ()
    for _ in range(REPEATS):
        edges = edges_of(reading)
        panels = panels_of(edges)
        all_fits = tuple(
            fits_of(cloud_of(reading, panel), rounding, fits)
            for panel, fits in zip(panels, known or ((),) * len(panels), strict=True)
        )
        noise = float(np.median([fits[0].sober_noise for fits in all_fits]))
        settled = 1 / SETTLED < noise / reading.noise < SETTLED
        reading, known = replace(reading, noise=noise), all_fits
        if settled:
            break
    return _State(reading, edges, all_fits)


def _of_lines(state: _State) -> Iterator[Verdict]:
    """Yield every figure of a waterline, buttock or diagonal, held against all others."""
    for fit in state.best:
        off, doubt = fit.left_out
        for n, (station, line) in enumerate(zip(fit.cloud.stations, fit.cloud.lines, strict=True)):
            if line >= 0 and np.isfinite(doubt[n]):
                yield Verdict((int(line), int(station)), float(off[n]), float(doubt[n]))


def _of_edges(state: _State) -> Iterator[Verdict]:
    """Yield every figure of an edge, held against all others."""
    for edge in state.edges.each():
        for axis, row in enumerate(edge.rows()):
            number = number_of(state.reading.table, row.line)
            if number is not None:
                yield from _of_row(state, edge, row, (number, axis))


def _of_row(state: _State, edge: Edge, row: Row, place: tuple[int, int]) -> Iterator[Verdict]:
    number, axis = place
    for at, station in enumerate(row.stations):
        if station >= 0 and row.scatter[at] > 0.0:
            seen = [row.judged_at(int(station)), *_by_surface(state, edge, int(station), axis)]
            off, doubt = _together(seen)
            if np.isfinite(doubt):
                yield Verdict((number, int(station)), off, doubt)


def _by_surface(
    state: _State, edge: Edge, station: int, axis: int
) -> Iterator[tuple[float, float]]:
    """Yield what the surfaces beside an edge say of one of its two figures: off, and the doubt."""
    for fit in state.by_diagonals:
        for code, bound in ((LOW, fit.cloud.panel.low), (HIGH, fit.cloud.panel.high)):
            if edge not in bound.each():
                continue
            at = np.flatnonzero((fit.cloud.stations == station) & (fit.cloud.lines == code))
            if len(at) and fit.used[at[0]]:
                off, doubt = fit.seen(int(at[0]), axis)
                yield off, doubt * _trust(state, fit)


def _trust(state: _State, fit: Fit) -> float:
    """Return by how much more a fit is doubted: one that suits the hull less is less sure."""
    return 1.0 if any(fit is best for best in state.best) else UNSUITED


def _together(seen: list[tuple[float, float]]) -> tuple[float, float]:
    """Return what several sayings come to, each with its doubt."""
    weights = np.array([1.0 / doubt**2 for _, doubt in seen])
    if not weights.sum() > 0.0:
        return 0.0, np.inf
    off = float((weights * [off for off, _ in seen]).sum() / weights.sum())
    return off, float(weights.sum() ** -0.5)


def _worst(state: _State, kept: set[Cell]) -> list[Verdict]:
    """Return the figures to be left out: the worst of all, and others as bad far from it.

    Edges come first, as by shares they bend all that lies between them.
    """
    bad = _bad(list(_of_edges(state)), kept, 1.0)
    if not bad:
        found = list(_of_lines(state))
        bad = _bad(found, kept, _scale(state, found))
        crowded = _crowded(bad)
        if crowded is not None:
            blamed = _blamed(state, crowded, kept)
            if blamed is not None:
                return [blamed]
    out = list[Verdict]()
    for verdict in sorted(bad, key=lambda one: -one.strange):
        near = [abs(verdict.cell[1] - other.cell[1]) <= APART for other in out]
        if not any(near) and (not out or verdict.strange > out[0].strange / 2):
            out.append(verdict)
    return out


def _scale(state: _State, found: list[Verdict]) -> float:
    """Return the part of their doubt that half of the figures stay within.

    One gross error raises the noise that all are held against; so they are held against what half
    of them stay within.
    """
    most = max((verdict.strange for verdict in found), default=0.0)
    if max(fit.noise for fit in state.best) < RAISED and most < LOOKED_INTO:
        return 1.0
    scale = float(np.median([verdict.strange for verdict in found])) / HALF_WITHIN
    return float(np.clip(scale, LEAST_SCALE, 1.0))


def _bad(found: list[Verdict], kept: set[Cell], scale: float) -> list[Verdict]:
    """Return the figures that are off by more than a part of their doubt leaves open."""
    return [
        verdict
        for verdict in found
        if verdict.strange > SURE * scale
        and abs(verdict.off_mm) > EIGHTH_MM
        and verdict.cell not in kept
    ]


def _crowded(bad: list[Verdict]) -> int | None:
    """Return the station at which most figures are off, if several are."""
    stations = [verdict.cell[1] for verdict in bad]
    if not stations:
        return None
    most = max(set(stations), key=lambda station: (stations.count(station), -station))
    return most if stations.count(most) >= CROWD else None


def _blamed(state: _State, station: int, kept: set[Cell]) -> Verdict | None:
    """Return the figure of an edge for which several others at its station look odd, or None.

    That without which all the rest is by far the less surprising.
    """
    table, least = state.reading.table, sum(fit.misfit for fit in state.best)
    found: Verdict | None = None
    for edge in state.edges.each():
        for row in edge.rows():
            number = number_of(table, row.line)
            if number is None or table.lines[number].offsets[station] is None:
                continue
            cell = (number, station)
            if cell in kept or cell in state.reading.put:
                continue
            put = {**state.reading.put, cell: None}
            trial = _faired(replace(state.reading, put=put), state)
            misfit = sum(fit.misfit for fit in trial.best)
            if misfit < least - BLAME:
                least, found = misfit, Verdict(cell, np.inf, 1.0)
    return found


def _left(state: _State) -> Iterator[Verdict]:
    """Yield every figure left out, held against all others."""
    table = state.reading.table
    for number, station in state.reading.put:
        line, offset = table.lines[number], table.lines[number].offsets[station]
        assert offset is not None
        x = float(table.x[station])
        edge = _edge_of(state, number)
        if edge is None:
            y, z = line.point(offset)
            fit = _fit_at(state, np.array([x, y, z]))
            off, doubt = fit.off(np.array([x, y, z]), line.direction)
            doubt = float(np.hypot(doubt, fit.rounding_mm * fit.noise))
        else:
            off, doubt = _of_edge(state, edge, (number, station), offset.mm)
        yield Verdict((number, station), off, doubt)


def _fit_at(state: _State, point: np.ndarray) -> Fit:
    """Return the fit of the panel that a point lies on, or nearest to."""
    x, y, z = point
    reaching = [
        fit for fit in state.best if fit.cloud.panel.ends[0] <= x <= fit.cloud.panel.ends[1]
    ]
    held = [fit for fit in reaching if fit.cloud.panel.holds(float(x), float(y), float(z))]
    return (held or reaching or list(state.best))[-1]


def _edge_of(state: _State, number: int) -> tuple[Edge, int] | None:
    """Return the edge that a line gives a measure of, and which."""
    line = state.reading.table.lines[number]
    for edge in state.edges.each():
        for axis, row in enumerate(edge.rows()):
            if row.line is line:
                return edge, axis
    return None


def _of_edge(
    state: _State, place: tuple[Edge, int], cell: Cell, given_mm: float
) -> tuple[float, float]:
    """Return what a figure of an edge that was left out is off, and the doubt of that."""
    edge, axis = place
    x = float(state.reading.table.x[cell[1]])
    row = (edge.half, edge.height)[axis]
    seen = [row.held_against(x, given_mm, rounding_mm(state.reading.table))]
    other = float((edge.profile, edge.plan)[axis].at(x))
    point = np.array([x, given_mm, other] if axis == 0 else [x, other, given_mm])
    out = (1.0, 0.0) if axis == 0 else (0.0, 1.0)
    for fit in state.by_diagonals:
        if edge in (*fit.cloud.panel.low.each(), *fit.cloud.panel.high.each()):
            off, unsure = fit.off(point, out)
            unsure *= _trust(state, fit)
            seen.append((off, float(np.hypot(unsure, fit.rounding_mm * fit.noise))))
    return _together(seen)


def _closed(state: _State) -> Judged:
    """Return the verdict, with each odd figure of an edge put where the others want it."""
    table, odd, put = state.reading.table, dict[Cell, float | None](), dict(state.reading.put)
    for verdict in _left(state):
        number, station = verdict.cell
        offset = table.lines[number].offsets[station]
        assert offset is not None
        odd[verdict.cell] = offset.mm - verdict.off_mm
        if _edge_of(state, number) is not None:
            put[verdict.cell] = (offset.mm - verdict.off_mm, verdict.doubt_mm)
    if table.keeps_odd:
        nailed = frozenset(state.reading.put)
        kept = _faired(replace(state.reading, put={}, nailed=nailed), state)
        return Judged(kept.reading, kept.edges, kept.best, odd)
    reading = replace(state.reading, put=put)
    if put != state.reading.put:
        state = _faired(reading, state)
    return Judged(reading, state.edges, state.best, odd)
