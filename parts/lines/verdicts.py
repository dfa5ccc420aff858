"""Every figure of a table held against all others: how far it is off, and how surely.

A figure of a waterline, buttock or diagonal is held against the surface through all the others.
A figure of an edge is held against the surface and against its own line in plan or profile, each
with its own doubt: a rabbet is not moved because the surface beside it bends in an unusual way,
if the rabbet itself runs fair.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parts.lines.faired_edges import Edge, number_of
from parts.lines.faired_table import FairedTable
from parts.lines.fits import FLAT, LEAST_SCATTER_MM, Fit
from parts.lines.hull_points import HIGH, LOW
from parts.lines.laying_off import LEAST_SHARE
from parts.lines.odd_ones import EIGHTH_MM, SURE
from parts.lines.reading import Cell
from parts.lines.rows import Row
from parts.lines.tolerance import rounding_mm

UNSUITED = 3.0
"""How much more is doubted what diagonals say of an edge where the hull is not laid off by them."""

SURELY = 2.0
"""Standard deviations within which a figure surely is: one in twenty lies beyond."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """One figure held against all others.

    ``off_mm`` is what it is more than they foretell, ``doubt_mm`` the standard deviation of that.
    ``seen`` is the same by its own line and by each surface beside it, of a figure of an edge.
    ``is_plain`` says that nothing else can be odd in its place.
    """

    cell: Cell
    off_mm: float
    doubt_mm: float
    seen: tuple[tuple[float, float], ...] = ()
    is_plain: bool = False

    @property
    def strange(self) -> float:
        """Standard deviations it is off."""
        return abs(self.off_mm) / self.doubt_mm

    @property
    def most_strange(self) -> float:
        """Standard deviations it is off by what is least at ease with it.

        A figure that is far off its line makes the surface suit it, which then speaks for it.
        """
        return max([self.strange, *(abs(off) / doubt for off, doubt in self._clear)])

    @property
    def most_off_mm(self) -> float:
        """How far it is off by what has it farthest off."""
        return max([abs(self.off_mm), *(abs(off) for off, _ in self._clear)])

    @property
    def vouched_for(self) -> bool:
        """Whether a figure of an edge's own line has it, surely, within an eighth of an inch."""
        if not self.seen:
            return False
        off, doubt = self.seen[0]
        return abs(off) + SURELY * doubt < EIGHTH_MM

    @property
    def is_near(self) -> bool:
        """Whether all that can see a figure of an edge have it within an eighth of an inch.

        However much they leave in doubt: a wrong one is off by more, of the limpest batten too.
        """
        return bool(self.seen) and max(abs(off) for off, _ in self.seen) < EIGHTH_MM

    @property
    def _clear(self) -> list[tuple[float, float]]:
        """What has it off by more than an eighth of an inch and its doubt."""
        return [(off, doubt) for off, doubt in self.seen if abs(off) > max(EIGHTH_MM, doubt)]


def of_lines(state: FairedTable) -> Iterator[Verdict]:
    """Yield every figure of a waterline, buttock or diagonal, held against all others.

    But for those that the other way of laying off surely has: the better one may bend too evenly.
    """
    for fit, *others in state.all_fits:
        off, doubt = fit.left_out
        sure = np.any([_surely_has(other) for other in others], axis=0) if others else off != off
        for n, (station, line) in enumerate(zip(fit.cloud.stations, fit.cloud.lines, strict=True)):
            if line < 0:
                continue
            cell = int(line), int(station)
            closed = None if fit.used[n] else _on_stem(state, fit, cell)
            if closed is not None:
                yield closed
            elif np.isfinite(doubt[n]) and not sure[n]:
                yield Verdict(cell, float(off[n]), float(doubt[n]))


def _surely_has(fit: Fit) -> NDArray[np.bool_]:
    """Return which figures a fit has, surely, within an eighth of an inch, (n,)."""
    off, doubt = fit.left_out
    return np.asarray(np.abs(off) + doubt < EIGHTH_MM)


def _on_stem(state: FairedTable, fit: Fit, cell: Cell) -> Verdict | None:
    """Return a figure held against a plumb stem's side, if that is all there is at its station.

    There the section runs from edge to edge in a straight line, which no other figure can bend.
    """
    table, (number, station) = state.reading.table, cell
    line, offset = table.lines[number], table.lines[number].offsets[station]
    assert offset is not None
    low, high = (edge[0] for edge in fit.cloud.panel.edges_at(table.x[[station]]))
    widest, _, depth = fit.cloud.panel.units
    breadth, height = np.abs(high - low)
    (y, z), out = line.point(offset), line.direction[0]
    if breadth > LEAST_SHARE * widest or height < LEAST_SHARE * depth or out < FLAT:
        return None
    side = float(np.interp(z, [low[1], high[1]], [low[0], high[0]]))
    doubt = float(np.hypot(breadth, max(fit.rounding_mm * fit.noise, LEAST_SCATTER_MM)))
    off = (y - side) / out
    plain = abs(off) > max(EIGHTH_MM, SURE * doubt)
    return Verdict(cell, off, doubt / out, is_plain=plain)


def of_edges(state: FairedTable) -> Iterator[Verdict]:
    """Yield every figure of an edge, held against all others."""
    for edge in state.edges.each():
        for axis, row in enumerate(edge.rows()):
            number = number_of(state.reading.table, row.line)
            if number is not None:
                yield from _of_row(state, edge, row, (number, axis))


def _of_row(state: FairedTable, edge: Edge, row: Row, place: tuple[int, int]) -> Iterator[Verdict]:
    number, axis = place
    for at, station in enumerate(row.stations):
        if station >= 0 and row.scatter[at] > 0.0:
            seen = [row.judged_at(int(station)), *_by_surface(state, edge, int(station), axis)]
            off, doubt = _together(seen)
            if np.isfinite(doubt):
                yield Verdict((number, int(station)), off, doubt, tuple(seen))


def _by_surface(
    state: FairedTable, edge: Edge, station: int, axis: int
) -> Iterator[tuple[float, float]]:
    """Yield what the surfaces beside an edge say of one of its two figures: off, and the doubt."""
    x = float(state.reading.table.x[station])
    for fit in state.by_diagonals:
        if not fit.cloud.panel.is_bounded_by(x, edge.at(x)):
            continue
        for code, bound in ((LOW, fit.cloud.panel.low), (HIGH, fit.cloud.panel.high)):
            if edge not in bound.each():
                continue
            at = np.flatnonzero((fit.cloud.stations == station) & (fit.cloud.lines == code))
            if len(at) and fit.used[at[0]]:
                off, doubt = fit.seen(int(at[0]), axis)
                yield off, doubt * _trust(state, fit)


def _trust(state: FairedTable, fit: Fit) -> float:
    """Return by how much more a fit is doubted: one that suits the hull less is less sure."""
    return 1.0 if any(fit is best for best in state.best) else UNSUITED


def _together(seen: list[tuple[float, float]]) -> tuple[float, float]:
    """Return what several sayings come to, each with its doubt."""
    weights = np.array([1.0 / doubt**2 for _, doubt in seen])
    if not weights.sum() > 0.0:
        return 0.0, np.inf
    off = float((weights * [off for off, _ in seen]).sum() / weights.sum())
    return off, float(weights.sum() ** -0.5)


def of_left_out(state: FairedTable) -> Iterator[Verdict]:
    """Yield every figure left out, held against all others."""
    for cell in state.reading.put:
        yield of_one_left_out(state, cell)


def of_one_left_out(state: FairedTable, cell: Cell) -> Verdict:
    """Return a figure left out, held against all others."""
    table, (number, station) = state.reading.table, cell
    line, offset = table.lines[number], table.lines[number].offsets[station]
    assert offset is not None
    x = float(table.x[station])
    edge = state.edge_of(number)
    if edge is None:
        y, z = line.point(offset)
        fit = _fit_at(state, np.array([x, y, z]))
        closed = _on_stem(state, fit, cell)
        if closed is not None:
            return closed
        off, doubt = fit.off(np.array([x, y, z]), line.direction)
        doubt = float(np.hypot(doubt, fit.rounding_mm * fit.noise))
    else:
        off, doubt = _of_edge(state, edge, cell, offset.mm)
    return Verdict(cell, off, doubt)


def _fit_at(state: FairedTable, point: np.ndarray) -> Fit:
    """Return the fit of the panel that a point lies on, or nearest to."""
    x, y, z = point
    reaching = [
        fit for fit in state.best if fit.cloud.panel.ends[0] <= x <= fit.cloud.panel.ends[1]
    ]
    held = [fit for fit in reaching if fit.cloud.panel.holds(float(x), float(y), float(z))]
    return (held or reaching or list(state.best))[-1]


def _of_edge(
    state: FairedTable, place: tuple[Edge, int], cell: Cell, given_mm: float
) -> tuple[float, float]:
    """Return what a figure of an edge that was left out is off, and the doubt of that."""
    edge, axis = place
    x = float(state.reading.table.x[cell[1]])
    row = (edge.half, edge.height)[axis]
    seen = [row.held_against(x, given_mm, rounding_mm(state.reading.table))]
    # The surface is asked near by: it is not as steep where a gross error lies.
    near = given_mm - seen[0][0]
    other = float((edge.profile, edge.plan)[axis].at(x))
    point = np.array([x, near, other] if axis == 0 else [x, other, near])
    out = (1.0, 0.0) if axis == 0 else (0.0, 1.0)
    for fit in state.by_diagonals:
        if fit.cloud.panel.is_bounded_by(x, edge.at(x)):
            off, unsure = fit.off(point, out)
            unsure *= _trust(state, fit)
            seen.append(
                (given_mm - near + off, float(np.hypot(unsure, fit.rounding_mm * fit.noise)))
            )
    return _together(seen)
