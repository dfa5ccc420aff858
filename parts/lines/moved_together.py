"""By how much less surprising figures are that all are moved together, as under another label.

A wrong label or a wrong place of a station bends the surface to suit it, so that no figure need
look strange. What all of them have in common shows all the same: how the misfit falls as they are
moved is known from the surface as it is, without fairing anything anew (Rao's score test).

References
----------
Rao 1948, Large sample tests of statistical hypotheses concerning several parameters, Proc.
Cambridge Philos. Soc. 44, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points
from parts.lines.faired_edges import Edge, number_of
from parts.lines.fits import Fit
from parts.lines.hull_points import HIGH, LOW
from parts.lines.judging import Judged
from parts.lines.table import LineKind


@dataclass(frozen=True)
class Together:
    """Figures moved together.

    Attributes
    ----------
    line, station
        Which line's or station's; None for the other.
    by
        What must about be added to the line's label or the station's place, mm; of the
        half-breadths of an edge, the part of each that must be added to it.
    gain
        By how much less surprising all figures are then, about, in the logarithm.
    """

    line: int | None
    station: int | None
    by: float
    gain: float


_OUT = {LineKind.WATERLINE: (0.0, 0.0, 1.0), LineKind.BUTTOCK: (0.0, 1.0, 0.0)}
"""Which way the figures of a line truly lie elsewhere by as much as its label is off: x, y, z."""


def moved_together(found: Judged) -> tuple[Together, ...]:
    """Return what labels, places of stations and breadths of edges may be off, and the gain."""
    table = found.reading.table
    lines = [n for n, line in enumerate(table.lines) if line.kind in _OUT]
    edges = [
        (number, edge)
        for edge in found.edges.each()
        if (number := number_of(table, edge.half.line)) is not None
    ]
    stations = range(len(table.stations))
    shares, costs = np.zeros((2, len(lines) + len(edges) + len(stations)))
    for fit in found.by_diagonals:
        ways = [
            *(_of_line(fit, n, _OUT[table.lines[n].kind]) for n in lines),
            *(_of_edge(fit, edge) for _, edge in edges),
            *(_of_station(fit, n) for n in stations),
        ]
        share, cost = fit.function.moved(np.array(ways).T)
        shares, costs = shares + share, costs + cost
    costs = np.where(costs > 0.0, costs, np.inf)  # of what no figure tells nothing is gained
    places = [
        *((n, None) for n in lines),
        *((n, None) for n, _ in edges),
        *((None, n) for n in stations),
    ]
    rows = zip(places, shares / costs, shares**2 / (2.0 * costs), strict=True)
    return tuple(Together(*place, float(by), float(gain)) for place, by, gain in rows)


def _of_line(fit: Fit, number: int, way: tuple[float, float, float]) -> Points:
    """Return how the function's values change as a line's label grows by 1 mm, (n,)."""
    mine = (fit.cloud.lines == number)[fit.used]
    return fit.moved(np.multiply.outer(mine.astype(float), way))


def _of_station(fit: Fit, number: int) -> Points:
    """Return how the function's values change as a station's place grows by 1 mm, (n,)."""
    mine = (fit.cloud.stations == number)[fit.used]
    return fit.moved(np.multiply.outer(mine.astype(float), (1.0, 0.0, 0.0)))


def _of_edge(fit: Fit, edge: Edge) -> Points:
    """Return how the function's values change as an edge grows broader by its breadth, (n,)."""
    cloud = fit.cloud
    mine = np.zeros(len(cloud.points), dtype=bool)
    for code, bound in ((LOW, cloud.panel.low), (HIGH, cloud.panel.high)):
        if edge in bound.each():
            mine |= (cloud.lines == code) & np.isin(cloud.stations, edge.half.stations)
    by = np.zeros_like(cloud.points)
    by[mine, 1] = cloud.points[mine, 1]
    return fit.moved(by[fit.used])
