"""Edges of a noisy table moved, within what is left open of them, to where the surface runs out.

A line of a dozen figures that are millimetres off leaves its edge open by a millimetre or two. The
surface beside it is drawn through many times as many figures, the edge's own among them, and says
square to itself more exactly where it ends. Along itself it says nothing of an edge, nor whether
that runs fair: so what is moved is faired again, by as much as it is still unsure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from parts.curves import Points
from parts.lines.faired_edges import Edge, number_of
from parts.lines.faired_table import FairedTable, faired
from parts.lines.fits import Fit
from parts.lines.reading import PINNED_MM, Cell
from parts.lines.tolerance import NOISY

TIMES = 2
"""Times that edges are moved and all is faired anew."""


def edges_by_surface(state: FairedTable) -> FairedTable:
    """Return a table with its edges moved to where the surface runs out, if it is a noisy one."""
    for _ in range(TIMES):
        if state.reading.noise < NOISY:
            break
        reading = replace(state.reading, moved=_moved(state))
        state = faired(reading, state)
    return state


def _moved(state: FairedTable) -> dict[Cell, tuple[float, float]]:
    """Return where every figure of an edge is moved, mm, and how unsure that is."""
    found = dict[Cell, tuple[float, float]]()
    held = {*state.reading.nailed, *state.reading.put}
    for edge in state.edges.each():
        numbers = [number_of(state.reading.table, row.line) for row in edge.rows()]
        for station, x in enumerate(state.reading.table.x):
            point, open_mm2 = _known(edge, station, float(x))
            after = point
            for fit in state.best:
                if fit.cloud.panel.is_bounded_by(float(x), point):
                    after, open_mm2 = _met(fit, float(x), after, open_mm2)
            each = zip(numbers, after, point, np.diag(open_mm2), strict=True)
            for number, value, before, left in each:
                cell = (number if number is not None else -1, station)
                if number is not None and value != before and cell not in held:
                    found[cell] = float(value), max(float(np.sqrt(left)), PINNED_MM)
    return found


def _known(edge: Edge, station: int, x: float) -> tuple[Points, Points]:
    """Return an edge's half-breadth and height at a station, and how open they are, (2, 2) mm2."""
    point = edge.at(x)
    return point, np.diag([row.open_mm2(station) for row in edge.rows()])


def _met(fit: Fit, x: float, point: Points, open_mm2: Points) -> tuple[Points, Points]:
    """Return a point moved to a fit, by as much as it is more open than that, and what is left."""
    off, unsure, rise = fit.square_off(np.array([x, *point]))
    whole = float(rise @ open_mm2 @ rise) + unsure**2
    if not whole > 0.0:
        return point, open_mm2
    gain = open_mm2 @ rise / whole
    return point - gain * off, open_mm2 - np.outer(gain, rise @ open_mm2)
