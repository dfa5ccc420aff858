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
from parts.lines.fits import Fit
from parts.lines.judging import Judged
from parts.lines.table import EDGES, LineKind, OffsetTable


@dataclass(frozen=True)
class Together:
    """Figures moved together.

    Attributes
    ----------
    line, station
        Which line's or station's; None for the other.
    by_mm
        What must about be added to the line's label or the station's place.
    gain
        By how much less surprising all figures are then, about, in the logarithm.
    """

    line: int | None
    station: int | None
    by_mm: float
    gain: float


_OUT = {LineKind.WATERLINE: (0.0, 0.0, 1.0), LineKind.BUTTOCK: (0.0, 1.0, 0.0)}
"""Which way the figures of a line truly lie elsewhere by as much as its label is off: x, y, z."""


def moved_together(found: Judged) -> tuple[Together, ...]:
    """Return what each label and each station's place may be off, and what that gains."""
    table = found.reading.table
    lines = [n for n, line in enumerate(table.lines) if line.kind in _OUT]
    stations = range(len(table.stations))
    shares, costs = np.zeros((2, len(lines) + len(stations)))
    for fit in found.by_diagonals:
        ways = [
            *(_of_line(fit, n, _OUT[table.lines[n].kind]) for n in lines),
            *(_of_station(fit, n) for n in stations),
        ]
        share, cost = fit.function.moved(np.array(ways).T)
        shares, costs = shares + share, costs + cost
    for n in stations:
        share_of_rows, cost_of_rows = _of_edges(found, n)
        shares[len(lines) + n] += share_of_rows
        costs[len(lines) + n] += cost_of_rows
    costs = np.where(costs > 0.0, costs, np.inf)  # of what no figure tells nothing is gained
    places = [
        *((n, None) for n in lines),
        *((None, n) for n in stations),
    ]
    rows = zip(places, shares / costs, shares**2 / (2.0 * costs), strict=True)
    return tuple(Together(*place, float(by), float(gain)) for place, by, gain in rows)


def and_neighbours(table: OffsetTable, numbers: set[int | None]) -> set[int]:
    """Return lines and those of their kind next to them: the surface may have bent to either."""
    found = set[int]()
    for kind in LineKind:
        row = [n for n, line in enumerate(table.lines) if line.kind is kind and kind not in EDGES]
        row.sort(key=lambda n: table.lines[n].origin)
        for at, n in enumerate(row):
            if n in numbers:
                found.update(row[max(at - 1, 0) : at + 2])
    return found


def _of_edges(found: Judged, station: int) -> tuple[float, float]:
    """Return what a station's place growing by 1 mm gains and costs by the edges' own lines."""
    share = cost = 0.0
    x = float(found.reading.table.x[station])
    for edge in found.edges.each():
        for row in edge.rows():
            off, doubt = row.judged_at(station)
            rise = float(row.curve.slope(x))
            share += off * rise / doubt**2
            cost += (rise / doubt) ** 2
    return share, cost


def _of_line(fit: Fit, number: int, way: tuple[float, float, float]) -> Points:
    """Return how the function's values change as a line's label grows by 1 mm, (n,)."""
    mine = (fit.cloud.lines == number)[fit.used]
    return fit.moved(np.multiply.outer(mine.astype(float), way))


def _of_station(fit: Fit, number: int) -> Points:
    """Return how the function's values change as a station's place grows by 1 mm, (n,)."""
    mine = (fit.cloud.stations == number)[fit.used]
    return fit.moved(np.multiply.outer(mine.astype(float), (1.0, 0.0, 0.0)))
