"""A bottom that is hollow along the centreline, as over a screw: not modelled, and refused.

Its sections fall from the rabbet before they rise. Faired as one that rises, it was 60 mm off, and
right figures were named in place of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from nesting.errors import ShapeError
from parts.lines.faired_edges import Edges
from parts.lines.reading import Reading
from parts.lines.table import EDGES, Line

BELOW_MM = 10.0
"""A figure lower than the rabbet by less may be of a flat bottom, and rounded."""

OUT_SHARE = 0.1
"""Part of the greatest half-breadth within which a keel may stand below the rabbet."""

FEWEST_STATIONS = 3
"""Stations in a row at which it must be lower: at one or two a figure is wrong."""


def no_hollow_bottom(reading: Reading, edges: Edges) -> None:
    """Refuse a hull whose bottom lies lower than its rabbet.

    Raises
    ------
    ShapeError
        With the first of the figures that say so.
    """
    table = reading.table
    lowest = [_lowest(reading, edges, n) for n in range(len(table.stations))]
    stations = [n for n, found in enumerate(lowest) if found is not None]
    for first, last in _runs(stations):
        found = lowest[first]
        if last - first + 1 < FEWEST_STATIONS or found is None:
            continue
        line, below_mm = found
        offset = line.offsets[first]
        assert offset is not None
        place = f"{table.file}:{offset.line}:{offset.column}" if table.file else table.name
        names = table.stations[first].name, table.stations[last].name
        raise ShapeError(
            f"{place}: from station {names[0]} to {names[1]} the bottom lies lower than the "
            f"rabbet: at station {names[0]} by {below_mm:.0f} mm ({line.title}). A bottom hollow "
            "along the centreline, as over a screw, is not modelled; if she has none, put "
            f"the rabbet's heights or the figures of {line.title} there right"
        )


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield the first and the last of numbers that follow each other."""
    breaks = [n for n, (a, b) in enumerate(pairwise(numbers)) if b != a + 1]
    starts, ends = [0, *(n + 1 for n in breaks)], [*breaks, len(numbers) - 1]
    if numbers:
        yield from ((numbers[a], numbers[b]) for a, b in zip(starts, ends, strict=True))


def _lowest(reading: Reading, edges: Edges, station: int) -> tuple[Line, float] | None:
    """Return the line whose figure lies farthest below the rabbet, and how far; None if none."""
    table = reading.table
    x = float(table.x[station])
    y, z = float(edges.rabbet.plan.at(x)), float(edges.rabbet.profile.at(x))
    beyond = y + OUT_SHARE * float(np.max(edges.sheer.half.values))
    found = [
        (line, z - line.point(offset)[1])
        for line in table.lines
        if line.kind not in EDGES
        and (offset := line.offsets[station]) is not None
        and offset.mm != 0.0
        and line.point(offset)[0] > beyond
    ]
    below = [one for one in found if one[1] > BELOW_MM]
    return max(below, key=lambda one: one[1]) if below else None
