"""Which edges may be given as full breadths, where half-breadths are meant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import ShapeError
from parts.lines.faired_table import roughly_faired
from parts.lines.judging import LESS_SURPRISING, Judged
from parts.lines.reading import Reading
from parts.lines.suppositions import Made, halved
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable
from parts.lines.tolerance import NOISY

PROMISING = 10.0
"""By how much less surprising a table must be for an edge's full breadths to be looked into."""


def edges_halved(found: Judged) -> Iterator[Made]:
    """Yield which edges may be given as full breadths."""
    table = found.reading.table
    for number, line in enumerate(table.lines):
        if line.kind not in EDGES or line.measure is not Measure.HALF_BREADTH:
            continue
        if not any(one is not None for one in line.offsets):
            continue
        supposed = halved(table, number)
        if _is_within(table, supposed.table.lines[number]):
            continue
        # What was left out may be right, and the edge wrong.
        for put in (found.reading.put, {}) if found.odd else ({},):
            reading = replace(found.reading, table=supposed.table, put=put, moved={})
            if _is_fair(reading, found, LESS_SURPRISING * len(found.odd) if not put else 0.0):
                yield supposed.itself
                break


def _is_fair(reading: Reading, found: Judged, back: float) -> bool:
    """Whether a table is quiet and less surprising so, with what figures that come back are."""
    try:
        trial = roughly_faired(reading, found.state)
    except ShapeError:
        return False
    quiet = max(fit.sober_noise for fit in trial.best) < NOISY
    return quiet and found.misfit + back - trial.misfit > PROMISING


def _is_within(table: OffsetTable, sheer: Line) -> bool:
    """Whether waterlines mostly lie farther out than a sheer."""
    if sheer.kind is not LineKind.SHEER:
        return False
    beside = [_widest(table, n) > one.mm for n, one in enumerate(sheer.offsets) if one is not None]
    return sum(beside) > len(beside) / 2


def _widest(table: OffsetTable, station: int) -> float:
    given = [line.offsets[station] for line in table.of_kind(LineKind.WATERLINE)]
    return max((one.mm for one in given if one is not None), default=0.0)
