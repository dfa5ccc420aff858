"""Where a table's transom stands: whether it cuts the hull, and its points lie on her edges."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nesting.errors import Finding, ShapeError
from parts.lines.faired_edges import Edge, Edges
from parts.lines.table import OffsetTable

OFF_MM = 40.0
"""So far off rabbet or sheer a transom's points may be: it is measured over the planking, and its
head to the deck's edge or to its middle. A deck's crown comes to that at the head."""

CHORD_MM = 2.0
"""As little abaft the last station it is at it: figures are rounded."""

LOOKED_AT = 2001
"""Places at which it is looked for where the transom cuts an edge."""


def transom_notes(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield what is odd of a transom's points: off the edge that they should lie on.

    Raises
    ------
    ShapeError
        If its face cuts rabbet or sheer nowhere.
    """
    if len(table.transom) != 2:
        return
    foot, head = table.transom
    for name, point, edge in (("foot", foot, edges.rabbet), ("head", head, edges.sheer)):
        _require_cut(table, edge, "rabbet" if edge is edges.rabbet else "sheer")
        off = point[1] - float(edge.profile.at(point[0]))
        crown = table.crown.rise_mm if table.crown and name == "head" else 0.0
        if not -OFF_MM <= off <= OFF_MM + crown:
            side = "above" if off > 0 else "below"
            of = "rabbet" if name == "foot" else "sheer"
            text = (
                f"transom: its {name} lies {abs(off):.0f} mm {side} the {of} at that place; if a "
                "figure of it is wrong, its face leans wrongly: give the points in which its face "
                "meets rabbet and sheer"
            )
            yield Finding(table.file, *table.transom_at, text)


def _require_cut(table: OffsetTable, edge: Edge, name: str) -> None:
    """Refuse a transom whose face does not cut an edge, seen from the side."""
    (foot_x, foot_z), (head_x, head_z) = table.transom
    low, high = edge.profile.ends
    x = np.linspace(low, high, LOOKED_AT)
    lean = (head_x - foot_x) / (head_z - foot_z)
    past = x - foot_x - (edge.profile.at(x) - foot_z) * lean
    fore = past[LOOKED_AT // 2] < 0.0
    if fore and past[-1] >= -CHORD_MM:
        return
    short = f"{-past[-1]:.0f} mm abaft the hull's end" if fore else "in her fore half"
    raise ShapeError(
        f"{table.file or table.name}:{table.transom_at[0]}:{table.transom_at[1]}: transom: its "
        f"face lies {short} at the {name}, which the table gives from {low:.0f} mm to {high:.0f} "
        "mm: put right its foot and head, or give a station behind it"
    )
