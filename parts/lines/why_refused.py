"""A table that is refused as a hull that cannot be modelled, and may be one with a wrong line.

Full breadths of a sheer, or a waterline under another's label, leave sections that turn sharply at
one place, as a chine without a name does. Nobody can know which it is: the refusal stands, and says
without which line, or with which breadths halved, the rest is fair.
"""

from __future__ import annotations

from collections.abc import Iterator

from nesting.errors import ShapeError
from parts.lines.faired_table import FairedTable
from parts.lines.first_look import is_sound
from parts.lines.judging import begun
from parts.lines.reading import Cell
from parts.lines.suppositions import Supposition, halved, left_out
from parts.lines.table import EDGES, LineKind, Measure, OffsetTable

MOST_TOLD = 2
"""Lines that are told: where any of more would explain it, none does."""


def begun_or_refused(table: OffsetTable) -> tuple[FairedTable, frozenset[Cell]]:
    """Return a table faired for the first time, and its figures above the sheer, left out.

    Raises
    ------
    ShapeError
        If it has too little to make a surface of, or one that is not modelled; with what single
        line would make it fair, if one would.
    """
    try:
        return begun(table)
    except ShapeError as error:
        found = list(_explaining(table))
        if not 0 < len(found) <= MOST_TOLD:
            raise
        hint = f"{' or '.join(found)} she is fair: look that up first"
        raise ShapeError(f"{error}. But {hint}") from None


def _explaining(table: OffsetTable) -> Iterator[str]:
    """Yield without which lines, or with which breadths halved, a table is fair."""
    for number, line in enumerate(table.lines):
        if not any(line.offsets):
            continue
        is_edge = line.kind in EDGES
        if not is_edge and _is_fair(left_out(table, number)):
            yield f"without {line.title}"
        # A rabbet's half-breadths are small: halved they explain nothing.
        outer = is_edge and line.kind is not LineKind.RABBET
        if outer and line.measure is Measure.HALF_BREADTH and _is_fair(halved(table, number)):
            yield f"with half of what {line.title} has, if those are full breadths,"


def _is_fair(supposed: Supposition) -> bool:
    try:
        return is_sound(begun(supposed.table)[0])
    except ShapeError:
        return False
