"""Where an edge turns so quickly between its points that nobody can say how it runs there.

Of all manners of drawing it that foretell its own points about as well, the farthest apart tells
that it is left open; how far, they tell, or the points there, by how far the same drawing misses
them when they are left out: of a counter, 1650 mm from station to station, about as far as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from nesting.errors import Finding
from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.notation import written_like
from parts.lines.plane_curve import PlaneCurve
from parts.lines.rows import Row
from parts.lines.table import OffsetTable

OF_MISSED = 0.5
"""Part of what points are missed by, each left out, that a place between them may be off: a run is
half as long as one without the point between."""

OPEN_MM = 6.0
"""An edge left open by more is told: a quarter of an inch, which nobody overlooks. Of 32 hulls
of the tests it tells of two: a counter that was 20 mm off, and a stem's head that was 5 off."""


def unsure_edges(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield every place between two points of an edge where it is left open."""
    for edge in edges.each():
        for row in edge.rows():
            if row.line is not None:
                yield from _of_row(table, row)


def _of_row(table: OffsetTable, row: Row) -> Iterator[Finding]:
    assert row.line is not None
    curve, place = row.curve, next(one for one in row.line.offsets if one is not None)
    x, apart = _apart(curve)
    told = curve.foretold()
    for low, high in pairwise(curve.points[:, 0]):
        here = apart[(x > low) & (x < high)]
        if len(here) and here.max() > OPEN_MM:
            beside = told[(told[:, 0] >= low) & (told[:, 0] <= high), 1]
            most = max(float(here.max()), OF_MISSED * float(beside.max(initial=0.0)))
            begin, end, off = (
                written_like(float(mm), place.written, table.unit) for mm in (low, high, most)
            )
            text = (
                f"{row.line.title}: between {begin} and {end} from forward it turns so quickly "
                f"that it is known to about {off} alone: give a station, or a point of stem or "
                "stern, between"
            )
            yield Finding(table.file, place.line, place.column, text)


def _apart(curve: PlaneCurve) -> tuple[Points, Points]:
    """Return places along a curve, and how far the farthest of its other drawings lies off."""
    drawn, found = curve.dense(), list[tuple[Points, Points]]()
    tree = cKDTree(drawn)
    for other in curve.others():
        found.append((other[:, 0], np.asarray(tree.query(other)[0])))
    if not found:
        return np.zeros(0), np.zeros(0)
    return np.concatenate([x for x, _ in found]), np.concatenate([off for _, off in found])
