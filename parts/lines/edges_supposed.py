"""What may be wrong with a whole edge, or with a point of stem or stern."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from nesting.errors import ShapeError
from parts.lines.faired_table import roughly_faired
from parts.lines.judging import Judged
from parts.lines.odd_ones import EIGHTH_MM
from parts.lines.suppositions import Made, halved, point_left_out
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
        try:
            trial = roughly_faired(replace(found.reading, table=supposed.table), found.state)
        except ShapeError:
            continue
        yield found.misfit - trial.misfit, supposed.itself


def _is_within(table: OffsetTable, sheer: Line) -> bool:
    """Whether waterlines mostly lie farther out than a sheer."""
    if sheer.kind is not LineKind.SHEER:
        return False
    beside = [_widest(table, n) > one.mm for n, one in enumerate(sheer.offsets) if one is not None]
    return sum(beside) > len(beside) / 2


def _widest(table: OffsetTable, station: int) -> float:
    given = [line.offsets[station] for line in table.of_kind(LineKind.WATERLINE)]
    return max((one.mm for one in given if one is not None), default=0.0)


def points_left_out(found: Judged) -> Iterator[tuple[float, Made]]:
    """Yield which points of stem and stern may be wrong, and how strange each is."""
    table, row = found.reading.table, found.edges.rabbet.height
    off, doubt = row.left_out
    for key in ("stem", "stern"):
        for number, (x, _) in enumerate(getattr(table, key)):
            at = int(np.abs(row.x - x).argmin())
            if row.scatter[at] > 0.0 and abs(off[at]) > EIGHTH_MM:
                strange = float(off[at] / doubt[at])
                yield strange**2 / 2.0, partial(point_left_out, table, key, number, float(off[at]))
