"""Break-down cuts as a summary holds them, and read back from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nesting.break_down.cuts import BreakDown, BreakDownCut, CutKind
from nesting.errors import OutputError
from nesting.summary.fields import flag, number, rows, text
from nesting.unseen import quoted


def break_down_data(found: BreakDown) -> dict[str, Any]:
    """Return the cuts of one board in their order, and what they leave; lengths in mm."""
    return {
        "parts_freed": found.parts_freed,
        "cuts": [_cut(cut) for cut in found.cuts],
        "pieces": [
            {
                "parts": list(piece.parts),
                "offcuts": list(piece.offcuts),
                "length_mm": piece.length_mm,
                "width_mm": piece.width_mm,
                "mass_kg": piece.mass_kg,
                "handy": piece.is_handy,
                "freed": piece.is_freed,
            }
            for piece in found.pieces
        ],
    }


def _cut(cut: BreakDownCut) -> dict[str, Any]:
    (x, y), (u, v) = cut.start, cut.end
    return {
        "kind": cut.kind.value,
        "from_x_mm": x,
        "from_y_mm": y,
        "to_x_mm": u,
        "to_y_mm": v,
        "spare_mm": cut.room_mm,
        "stops": list(cut.stops),
        "by_hand": cut.by_hand,
    }


def cuts_from(given: Mapping[str, Any]) -> dict[str, tuple[BreakDownCut, ...]]:
    """Return the break-down cuts that a summary states for each board.

    Raises
    ------
    OutputError
        If a board has none, or a cut lacks a figure.
    """
    try:
        return {
            text(row, "board"): tuple(_read_cut(cut) for cut in rows(row["break_down"], "cuts"))
            for row in rows(given, "boards")
        }
    except (KeyError, TypeError, ValueError) as error:
        said = f"{error} is not known" if isinstance(error, KeyError) else str(error)
        raise OutputError(f"the summary's break-down cuts cannot be read: {said}") from error


def _read_cut(row: Mapping[str, Any]) -> BreakDownCut:
    start = number(row, "from_x_mm"), number(row, "from_y_mm")
    end = number(row, "to_x_mm"), number(row, "to_y_mm")
    stops = row["stops"]
    if not isinstance(stops, list) or [type(one) for one in stops] != [bool, bool]:
        raise ValueError(f"stops are {quoted(stops)}, must be true or false for start and end")
    ends = (stops[0], stops[1])
    return BreakDownCut(
        CutKind(text(row, "kind")), start, end, stops=ends, by_hand=flag(row, "by_hand")
    )
