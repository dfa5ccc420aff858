"""Whether a table looks as if it were measured from aft: mirrored, its hull is as fair."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.errors import Finding
from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.table import OffsetTable

SHARP = 0.25
"""Part of the length from the first station to the last within which a sheer closes past a stem, as
it runs at the end. Of 25 hulls by formulas with a tenth of their length ahead of the first
station or more the farthest came to .24."""

BLUNTER = 1.6
"""How many times farther it runs past a stern: of those hulls 1.5 at least, of 20 of them
more than this; of fifteen with like ends 1.5 at most."""


def from_aft_notes(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield that a table looks as if it were measured from aft, where nothing else says which."""
    if table.stem or table.stern or table.transom:
        return
    sheer = edges.sheer.half
    first, last = _closes(sheer.x, sheer.values), _closes(-sheer.x[::-1], sheer.values[::-1])
    whole = float(sheer.x[-1] - sheer.x[0])
    if last < SHARP * whole and first > BLUNTER * last and sheer.values[0] > sheer.values[-1]:
        aft, fore = table.stations[0], table.stations[-1]
        yield Finding(
            table.file, aft.line, aft.column,
            f"station {aft.name} is broad and station {fore.name} sharp, as stern and stem are: "
            "if the table is measured from aft, give the stations' places from forward, the "
            "foremost first, and each row likewise",
        )  # fmt: skip


def _closes(x: Points, half: Points) -> float:
    """Return how far before its first point a sheer closes as it runs there, mm."""
    rise = float(half[1] - half[0]) / float(x[1] - x[0])
    return float(half[0]) / rise if rise > 0.0 else float("inf")
