"""Two wrong figures of an edge near each other, which speak for each other.

Its line bends to suit both: neither looks strange, and a right one between them does. Held against
the rest without either, by the edge's own battens and by the surfaces beside it, the two stand out;
neither need be faired anew for that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from parts.lines.faired_edges import Edge, number_of
from parts.lines.faired_table import FairedTable
from parts.lines.hull_points import HIGH, LOW
from parts.lines.reading import Cell
from parts.lines.rows import Row

APART = 2
"""Stations between two such figures at the most: farther off neither bends the line at the other's
place."""

TOGETHER, MORE = 9.0, 5.0
"""By how much less surprising the rest must be without both, in the logarithm, and by how much less
than without either or one between them, for the two to be tried. Of 70 exact tables of ten kinds
of hull five have such a pair, and all gain nothing by it once they are faired; of 20 with two
figures 40 mm off 15 have, the wrong two first."""

EVEN = 0.5
"""What a right figure is off gains, in the logarithm, in the mean."""

MOST = 2
"""Pairs that are tried, the likeliest first."""


@dataclass(frozen=True)
class _Pair:
    """Two figures, and by how much less surprising the rest is without both, in the logarithm."""

    cells: tuple[Cell, Cell]
    gain: float


def likely_pairs(state: FairedTable) -> list[tuple[Cell, Cell]]:
    """Return the pairs of figures of an edge that are to be tried without, the likeliest first."""
    found = list[_Pair]()
    for edge in state.edges.each():
        for row in edge.rows():
            number = number_of(state.reading.table, row.line)
            if number is not None:
                found += _of_row(state, edge, row, number)
    found.sort(key=lambda pair: -pair.gain)
    return [pair.cells for pair in found[:MOST]]


def _of_row(state: FairedTable, edge: Edge, row: Row, number: int) -> Iterator[_Pair]:
    """Yield the pairs of one measure of an edge."""
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
        alone = np.array([_of_surface(state, edge, [at]) for at in stations]) + single
        for a, b, gain in zip(one, other, both, strict=True):
            gain += _of_surface(state, edge, [stations[a], stations[b]])
            if gain > TOGETHER and gain - alone[a : b + 1].max() > MORE:
                yield _Pair(((number, int(stations[a])), (number, int(stations[b]))), float(gain))


def _of_surface(state: FairedTable, edge: Edge, stations: list[int]) -> float:
    """Return how strange an edge's points at stations are together to the surfaces beside it."""
    strange = 0.0
    for fit in state.by_diagonals:
        for code, bound in ((LOW, fit.cloud.panel.low), (HIGH, fit.cloud.panel.high)):
            if edge in bound.each():
                mine = np.isin(fit.cloud.stations, stations) & (fit.cloud.lines == code)
                numbers = np.flatnonzero(mine[fit.used])
                strange += fit.function.strange_together(numbers) if len(numbers) else 0.0
    return strange
