"""Round keep-outs as wide as the board that they are on, or rows of them too wide for fastenings:
their unit is probably another.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from nesting.errors import Finding, LengthError
from nesting.likely_sizes import FASTENING_MM
from nesting.project import Project
from nesting.project.entry import Entry, Loc
from nesting.project.unit import unit_of
from nesting.remarks.doubtful_boards import extents
from nesting.stock.board import Board
from nesting.stock.keep_out import PLURALS, KeepOut, KeepOutKind
from nesting.units import Unit, parse_length
from nesting.written_measures import format_length

MADE = (KeepOutKind.METAL, KeepOutKind.HOLE, KeepOutKind.RECESS)
"""Kinds that somebody made in a board that is still one; a knot or rot may go right across."""

SAME_MM = 0.01
"""Diameters that differ by less are one."""


def wide_keep_outs(project: Project) -> Iterator[Finding]:
    """Yield the first keep-out of each kind on a board that is round and no narrower than it, or
    one of several alike that are wider than fastenings.
    """
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry is None:
            continue
        width = min(extents(board))
        for kind in MADE:
            wide = (k for k in board.keep_outs if k.kind is kind and _across(k) >= width)
            if (first := next(wide, None)) is not None:
                across, wood = (format_length(mm, project.unit) for mm in (_across(first), width))
                yield entry.finding(
                    _place(entry, first),
                    f"{kind} {across} across on a board {wood} wide: is its unit right?",
                )
                continue
            if (many := _wide_and_many(board, kind)) is not None:
                across = format_length(_across(many[0]), project.unit)
                yield entry.finding(
                    _place(entry, many[0]),
                    f"{len(many)} times {kind} {across} across: hardly fastenings; is the unit "
                    "right?",
                )


SEVERAL = 3
"""Fewer wide holes of one size may be for pipes or deck plates (common practice, no source)."""


def _wide_and_many(board: Board, kind: KeepOutKind) -> list[KeepOut] | None:
    """Return several keep-outs of one size that are wider than fastenings, if there are."""
    of_size: dict[int, list[KeepOut]] = defaultdict(list)
    for one in board.keep_outs:
        if one.kind is kind and _across(one) > FASTENING_MM:
            of_size[round(_across(one) / SAME_MM)].append(one)
    return next((alike for alike in of_size.values() if len(alike) >= SEVERAL), None)


def _across(keep_out: KeepOut) -> float:
    """Return the diameter of a round keep-out, mm; 0 of any other."""
    return 2 * keep_out.reach_mm if keep_out.is_circle else 0.0


def _place(entry: Entry, keep_out: KeepOut) -> Loc:
    """Return the key that a keep-out stands under, or its number in the list of them."""
    unit = unit_of(entry.document) or Unit.MM
    listed = entry.data.get("keep_outs")
    for number, data in enumerate(listed if isinstance(listed, list) else ()):
        if isinstance(data, dict) and data.get("kind") == keep_out.kind:
            try:
                across = parse_length(data.get("diameter", ""), unit)
            except LengthError:
                continue
            if abs(across - _across(keep_out)) < SAME_MM:
                return ("keep_outs", number)
    key = PLURALS[keep_out.kind]
    return next(((k,) for k in (key, "keep_outs", "drawing") if k in entry.data), ())
