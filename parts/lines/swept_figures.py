"""Figures of a noisy table through which an edge is swept up quickly: none of them can be odd.

In a forefoot a line turns by half a right angle and more within three figures. Without the one in
the middle nothing says how it runs there, and battens that are as limp as the noise lets them be
foretell it 60 to 120 mm off; the surface beside it, shaped by that very figure, cannot tell
either. Where the line turns one way through it and through the figures beside it, it runs fair,
and stays as it is given.
"""

from __future__ import annotations

import numpy as np

from parts.curves import Points
from parts.lines.faired_edges import number_of
from parts.lines.faired_table import FairedTable
from parts.lines.reading import Cell
from parts.lines.rows import Row
from parts.lines.tolerance import NOISY

QUICKLY_DEG = 30.0
"""What a line must turn in all at a figure and the two beside it, a third of it there. Sheers turn
by less at three stations; of eighteen hulls by formulas with 3 mm of noise two had right figures
named that forefeet and heels turn through by 45 to 60."""


def swept_figures(state: FairedTable) -> set[Cell]:
    """Return the figures of edges that their line is swept through; none if the table is exact."""
    found = set[Cell]()
    if state.reading.noise < NOISY:
        return found
    for edge in state.edges.each():
        for row in edge.rows():
            number = number_of(state.reading.table, row.line)
            if number is not None:
                found.update((number, int(row.stations[at])) for at in _swept(row))
    return {cell for cell in found if cell[1] >= 0}


def _swept(row: Row) -> list[int]:
    """Return at which points a row turns quickly, and one way at the points beside them too."""
    runs = np.column_stack([np.diff(row.x), np.diff(row.values)])
    turns = np.degrees(np.diff(np.arctan2(runs[:, 1], runs[:, 0])))
    unsure = np.degrees(_unsure(row, np.hypot(*runs.T)))
    swept = list[int]()
    # The first turn is that at the second point.
    for at in range(1, len(turns) - 1):
        beside = slice(at - 1, at + 2)
        side = np.sign(turns[at])
        one_way = (turns[beside] * side > -unsure[beside]).all()
        in_all = float(turns[beside].sum() * side)
        if one_way and in_all > QUICKLY_DEG and turns[at] * side > in_all / 3:
            swept.append(at + 1)
    return swept


def _unsure(row: Row, chords: Points) -> Points:
    """Return by how much each inner point's turn is unsure for the points' noise, radians."""
    spread = row.scatter * row.noise
    of_chord = np.hypot(spread[:-1], spread[1:]) / chords
    return np.asarray(of_chord[:-1] + of_chord[1:])
