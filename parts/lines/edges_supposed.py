"""Which edges may be given as full breadths, where half-breadths are meant."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import ShapeError
from parts.lines.faired_table import roughly_faired
from parts.lines.judging import LESS_SURPRISING, Judged
from parts.lines.suppositions import Made, halved
from parts.lines.table import EDGES, Line, LineKind, Measure, OffsetTable


def edges_halved(found: Judged) -> Iterator[tuple[float, Made]]:
    """Yield which edges may be given as full breadths, and by how much less strange all is then."""
    table = found.reading.table
    for number, line in enumerate(table.lines):
        if line.kind not in EDGES or line.measure is not Measure.HALF_BREADTH:
            continue
        if not any(one is not None for one in line.offsets):
            continue
        supposed = halved(table, number)
        if _is_within(table, supposed.table.lines[number]):
            continue
        for put in (found.reading.put, {}) if found.odd else ({},):
            # What was left out may be right, and the edge wrong.
            back = LESS_SURPRISING * len(found.odd) if not put else 0.0
            try:
                reading = replace(found.reading, table=supposed.table, put=put)
                trial = roughly_faired(reading, found.state)
            except ShapeError:
                continue
            yield found.misfit + back - trial.misfit, supposed.itself


def _is_within(table: OffsetTable, sheer: Line) -> bool:
    """Whether waterlines mostly lie farther out than a sheer."""
    if sheer.kind is not LineKind.SHEER:
        return False
    beside = [_widest(table, n) > one.mm for n, one in enumerate(sheer.offsets) if one is not None]
    return sum(beside) > len(beside) / 2


def _widest(table: OffsetTable, station: int) -> float:
    given = [line.offsets[station] for line in table.of_kind(LineKind.WATERLINE)]
    return max((one.mm for one in given if one is not None), default=0.0)
