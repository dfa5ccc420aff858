"""What a table looks like that was faired for the first time, before any figure is judged."""

from __future__ import annotations

from parts.lines.faired_table import FairedTable
from parts.lines.judging import LOOKED_INTO
from parts.lines.odd_ones import EIGHTH_MM, SURE
from parts.lines.tolerance import NOISY
from parts.lines.verdicts import Verdict, of_edges, of_lines
from parts.lines.without_figures import left_out

WILD = 5
"""Strange figures from which a table is wild, without its strangest one too. Of eight tables with a
single wrong figure none has more than one then, of three with two or three at most four; of 16 with
labels 250 mm off, full breadths or a row shifted all have six and more. Of stations exchanged most
have fewer: the hull bends to suit them. Figure by figure such a table takes up to eight seconds of
processor time."""


def strange_figures(state: FairedTable, deviations: float = LOOKED_INTO) -> list[Verdict]:
    """Return the figures that are off all others by more than their doubt, the strangest first."""
    found = [
        verdict
        for verdict in (*of_edges(state), *of_lines(state))
        if verdict.strange > deviations and verdict.most_off_mm > EIGHTH_MM
    ]
    return sorted(found, key=lambda one: -one.strange)


def is_sound(state: FairedTable) -> bool:
    """Whether a table is quiet, all of it on the hull, and none of its figures surely strange."""
    quiet = state.reading.noise < NOISY and not state.reading.put
    return quiet and not strange_figures(state, SURE)


def wild_without_one(state: FairedTable) -> FairedTable | None:
    """Return a wild table without its strangest figure, if it is wild still; else None."""
    found = strange_figures(state)
    if len(found) < WILD:
        return None
    without = left_out(state, [found[0].cell])
    return without if len(strange_figures(without)) >= WILD else None
