"""Whether a table looks as if it were measured from aft: mirrored, its hull is as fair."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.errors import Finding
from parts.lines.faired_edges import Edges
from parts.lines.table import OffsetTable

BROAD, SHARP = 0.4, 0.1
"""Parts of the greatest half-breadth: a first station broader and a last one narrower than these
are a stern and a stem (common practice, no source)."""


def from_aft_notes(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield that a table looks as if it were measured from aft, where nothing else says which."""
    if table.stem or table.stern or table.transom:
        return
    breadths = edges.sheer.half.values
    widest = float(breadths.max())
    if breadths[0] > BROAD * widest and breadths[-1] < SHARP * widest:
        first, last = table.stations[0], table.stations[-1]
        yield Finding(
            table.file, first.line, first.column,
            f"station {first.name} is broad and station {last.name} sharp, as stern and stem are: "
            "if the table is measured from aft, give the stations' places from forward, the "
            "foremost first, and each row likewise",
        )  # fmt: skip
