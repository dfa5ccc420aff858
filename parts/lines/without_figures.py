"""A table faired without some figures more; at its ends an edge runs on to where it is wanted.

Within the hull an edge's line lies fair through the figures beside the one that is left out. At an
end it would run on by itself, and the whole surface with it: there it is put where its own line,
the surface and, where these leave it open, trials want it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from nesting.errors import ShapeError
from parts.lines.faired_table import FairedTable, faired, roughly_faired
from parts.lines.proposals import proposed
from parts.lines.reading import PINNED_MM, Cell, Reading
from parts.lines.rows import SAME_MM
from parts.lines.verdicts import of_one_left_out

OPEN_MM = 0.1
"""Least doubt of where an end's figure is wanted: an edge's point that is surer is a figure."""

FAR_MM, ROUGHLY_MM = 10.0, 2.0
"""Doubt from which it is tried where an end's figure is wanted, and how near that is come to."""


def misfit_without(state: FairedTable, *cells: Cell) -> float:
    """Return how surprising all the rest is without some figures.

    At an end of the hull an edge without its figure runs on by itself: there it is put, too, where
    the surface and its own line want it.
    """
    put: dict[Cell, tuple[float, float] | None] = dict.fromkeys(cells)
    try:
        without = roughly_faired(_without(state, put), state)
        wanted = {cell: found for cell in cells if (found := _wanted(without, cell))}
        if not wanted:
            return without.misfit
        put |= {cell: (value, PINNED_MM) for cell, (value, _) in wanted.items()}
        there = roughly_faired(_without(state, put), state)
    except ShapeError:
        # Without it, or with it there, there is no hull.
        return math.inf
    return min(without.misfit, there.misfit)


def _wanted(without: FairedTable, cell: Cell) -> tuple[float, float] | None:
    """Return where a figure left out at an end of an edge is wanted, and the doubt of that, mm."""
    number, station = cell
    offset = without.reading.table.lines[number].offsets[station]
    if without.edge_of(number) is None or not is_at_end(without, station):
        return None
    assert offset is not None
    verdict = of_one_left_out(without, cell)
    value, doubt = offset.mm - verdict.off_mm, verdict.doubt_mm
    if doubt > FAR_MM:
        value, doubt = proposed(without, cell, value, doubt, near_mm=ROUGHLY_MM)
    return value, max(doubt, OPEN_MM)


def left_out(state: FairedTable, cells: list[Cell]) -> FairedTable:
    """Return a table faired without more figures."""
    return run_on(faired(_without(state, dict.fromkeys(cells)), state), cells)


def run_on(state: FairedTable, cells: list[Cell]) -> FairedTable:
    """Return a table in which edges run on to where figures left out at an end are wanted."""
    wanted = {cell: found for cell in cells if (found := _wanted(state, cell)) is not None}
    return faired(_without(state, wanted), state) if wanted else state


def _without(state: FairedTable, put: Mapping[Cell, tuple[float, float] | None]) -> Reading:
    return replace(state.reading, put={**state.reading.put, **put})


def is_at_end(state: FairedTable, station: int) -> bool:
    """Whether a station stands at an end of the hull."""
    x = float(state.reading.table.x[station])
    return min(abs(x - end) for end in state.edges.ends) < SAME_MM
