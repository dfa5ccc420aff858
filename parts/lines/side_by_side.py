"""Two wrong figures of a line near each other, which speak for each other.

The line bends to suit both: neither looks strange, and a right one between them does. Held against
the rest without either, by an edge's own battens and by the surfaces, the two stand out; nothing
need be faired anew for that.

References
----------
Rao 1948, Large sample tests of statistical hypotheses concerning several parameters, Proc.
Cambridge Philos. Soc. 44, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from parts.curves import Points
from parts.lines.faired_edges import Edge, number_of
from parts.lines.faired_table import FairedTable
from parts.lines.fits import Fit
from parts.lines.hull_points import HIGH, LOW
from parts.lines.laying_off import Diagonals
from parts.lines.reading import Cell
from parts.lines.rows import Row

APART = 2
"""Stations between two such figures at the most: farther off neither bends the line at the other's
place."""

TOGETHER, MORE = 9.0, 5.0
"""By how much less surprising the rest must be without both, in the logarithm, and by how much less
than without either or one between them, for the two to be tried. Of 59 exact tables of ten kinds
of hull 19 have such a pair; of 17 with two neighbours of an edge 40 mm off all have the wrong ones
first or second."""

EVEN = 0.5
"""What a right figure is off gains, in the logarithm, in the mean."""

MOST = 2
"""Pairs that are tried, the likeliest first."""


@dataclass(frozen=True)
class _Pair:
    """Two figures, and by how much less surprising the rest is without both, in the logarithm.

    ``own`` is what their own line alone says of that, if it is an edge's.
    """

    cells: tuple[Cell, Cell]
    gain: float
    own: float = 0.0


def likely_pairs(state: FairedTable) -> list[tuple[Cell, Cell]]:
    """Return the pairs of figures of a line that are to be tried without, the likeliest first."""
    found = list[_Pair]()
    for edge in state.edges.each():
        found += _of_edge(state, edge)
    for fit in state.best:
        found += _of_lines(fit)
    found.sort(key=lambda pair: -pair.gain)
    return [pair.cells for pair in found[:MOST]]


def _of_edge(state: FairedTable, edge: Edge) -> list[_Pair]:
    """Return the pairs of an edge, of half-breadths and heights at like stations the likelier.

    The surfaces cannot tell which of both an edge's points are off in: their own lines do.
    """
    found = dict[tuple[int, int], _Pair]()
    for axis, row in enumerate(edge.rows()):
        number = number_of(state.reading.table, row.line)
        if number is None:
            continue
        for pair in _of_row(state, edge, row, (number, axis)):
            (_, first), (_, last) = pair.cells
            other = found.get((first, last))
            if other is None or pair.own > other.own:
                found[first, last] = pair
    return list(found.values())


def _of_row(state: FairedTable, edge: Edge, row: Row, place: tuple[int, int]) -> Iterator[_Pair]:
    """Yield the pairs of one measure of an edge, the number of its line and its axis given."""
    number, axis = place
    for (first, last), battens in zip(row.pieces, row.runs, strict=True):
        figures = np.flatnonzero((row.scatter > 0.0) & (row.stations >= 0))
        figures = figures[(figures >= first) & (figures <= last)] - first
        pairs = [(a, b) for a in figures for b in figures if a < b <= a + APART]
        if battens is None or not pairs:
            continue
        whole = battens.whole
        usual = np.log(whole.left_out[1]) + EVEN
        single = whole.likely_without + whole.misfit - usual
        one, other = np.array(pairs).T
        both = whole.likely_without_both(one, other) + whole.misfit - usual[one] - usual[other]
        stations = row.stations[first : last + 1]
        alone = np.array([_of_surface(state, edge, [at], axis) for at in stations]) + single
        for a, b, own in zip(one, other, both, strict=True):
            gain = own + _of_surface(state, edge, [stations[a], stations[b]], axis)
            if gain > TOGETHER and gain - alone[a : b + 1].max() > MORE:
                cells = (number, int(stations[a])), (number, int(stations[b]))
                yield _Pair(cells, float(gain), float(own))


def _of_lines(fit: Fit) -> Iterator[_Pair]:
    """Yield the pairs of waterlines, buttocks and diagonals."""
    lines, stations = fit.cloud.lines[fit.used], fit.cloud.stations[fit.used]
    apart = stations - stations[:, None]
    near = (lines == lines[:, None]) & (lines >= 0) & (apart > 0) & (apart <= APART)
    one, other = np.nonzero(near)
    both, better = fit.function.gains_of_two(one, other)
    for n in np.flatnonzero((both > TOGETHER) & (both - better > MORE)):
        pair = one[n], other[n]
        first, last = ((int(lines[at]), int(stations[at])) for at in pair)
        yield _Pair((first, last), float(both[n]))


def _of_surface(state: FairedTable, edge: Edge, stations: list[int], axis: int) -> float:
    """Return what the surfaces beside an edge gain by moving it at stations, in the logarithm.

    Laid off by diagonals its points alone are moved; by shares all others of a section instead,
    which hang on the edge and not it on them.
    """
    gain = 0.0
    for fit in state.best:
        for code, bound in ((LOW, fit.cloud.panel.low), (HIGH, fit.cloud.panel.high)):
            if edge in bound.each():
                at = fit.cloud.stations[fit.used]
                moves = _moved(fit, axis, code)
                ways = [np.where(at == station, moves, 0.0) for station in stations]
                gain += fit.function.gain_of_moving(np.array(ways).T)
    return gain


def _moved(fit: Fit, axis: int, code: int) -> Points:
    """Return how the value of each point used changes, (n,), as an edge of its panel is moved."""
    own = fit.cloud.lines[fit.used] == code
    if isinstance(fit.way, Diagonals):
        return np.asarray(own, dtype=float)
    out, across = fit.way.edge_moved(fit.cloud.points[fit.used], axis, is_low=code == LOW)
    return np.asarray(np.where(own, 0.0, out - fit.slopes * across))
