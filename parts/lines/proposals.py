"""What an odd figure of an edge should be: that with which all the rest is least surprising.

Its own line foretells it where that runs on fair; near a stem, where a line turns quickly, the
figures of the surface beside it tell more. So several are tried, and all is faired with each.
"""

from __future__ import annotations

from dataclasses import replace

from scipy.optimize import minimize_scalar

from parts.lines.faired_edges import PINNED_MM, Cell
from parts.lines.faired_table import FairedTable, roughly_faired

SURE_ENOUGH_MM = 1.0
"""A figure that is foretold with less doubt than this needs no trying."""

REACH = 4.0
"""How many times its doubt a figure is looked for from where it is foretold."""

NEAR_MM, TRIES = 0.4, 14
"""How near the best figure is come to, and with how many trials at most."""


def proposed(
    state: FairedTable, cell: Cell, foretold_mm: float, doubt_mm: float
) -> tuple[float, float]:
    """Return what an odd figure of an edge should be, and the doubt of that, mm."""
    if doubt_mm < SURE_ENOUGH_MM:
        return foretold_mm, doubt_mm

    def misfit(value: float) -> float:
        put = {**state.reading.put, cell: (float(value), PINNED_MM)}
        return roughly_faired(replace(state.reading, put=put), state).misfit

    reach, low = REACH * doubt_mm, foretold_mm - REACH * doubt_mm
    edge = state.edge_of(cell[0])
    if edge is not None and edge[1] == 0:
        low = min(max(low, 0.0), foretold_mm)  # no half-breadth is less than nothing
    found = minimize_scalar(
        misfit,
        bounds=(low, foretold_mm + reach),
        method="bounded",
        options={"xatol": NEAR_MM, "maxiter": TRIES},
    )
    return float(found.x), min(doubt_mm, SURE_ENOUGH_MM)
