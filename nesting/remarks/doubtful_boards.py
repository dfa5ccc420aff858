"""Boards that may be, and hardly are: too thick, or with two of their sizes exchanged."""

from __future__ import annotations

import math
from collections.abc import Iterator

from nesting.errors import Finding
from nesting.likely_sizes import BAULK_MM, LONGEST_MM, ON_EDGE, SHORTEST_MM, WIDEST_MM
from nesting.project import Project
from nesting.stock.board import Board
from nesting.written_measures import format_length

THICK_MM = 160.0
"""More is no board but a baulk, to be resawn: six inches (common practice, no source)."""


def doubtful_boards(project: Project) -> Iterator[Finding]:
    """Yield the boards whose sizes are probably mistyped."""
    rules, unit = project.rules, project.unit

    def size(mm: float) -> str:
        return format_length(mm, unit)

    for board in project.stock:
        entry = project.board_entries.get(board.name)
        if entry is None:
            continue
        thick, place = as_it_lies(board, entry.data, rules.kerf_mm), ("thickness",)
        along, across = extents(board)
        (narrow, narrow_word), (long, long_word) = sorted([(across, "wide"), (along, "long")])
        if thick > (THICK_MM if thick == board.thickness_mm else BAULK_MM):
            text = f"{size(thick)} thick is no board: is its unit right?"
            yield entry.finding(place, text)
        elif thick > ON_EDGE * narrow:
            text = f"{size(thick)} thick and {size(narrow)} {narrow_word}: are the two exchanged?"
            yield entry.finding(place, text)
        if rules.clean_thickness_mm(board.thickness_mm) <= 0:
            text = f"cleaning up both faces leaves nothing of {size(board.thickness_mm)}"
            yield entry.finding(place, text)
        if narrow > WIDEST_MM:
            text = f"{size(across)} wide is no board: is its unit right?"
            yield entry.finding(("width",) if "width" in entry.data else ("board",), text)
        elif long > LONGEST_MM:
            key = {"long": "length", "wide": "width"}[long_word]
            text = f"{size(long)} {long_word} is no board: is its unit right?"
            yield entry.finding((key,) if key in entry.data else ("board",), text)
        if long < SHORTEST_MM:
            text = f"{size(long)} long is no board: is its unit right?"
            yield entry.finding(("length",) if "length" in entry.data else ("board",), text)
        if along < across:
            text = (
                f"{size(along)} long with the grain and {size(across)} wide across it: are length "
                "and width exchanged, or is its grain another?"
            )
            yield entry.finding(("length",) if "length" in entry.data else ("board",), text)


def as_it_lies(board: Board, data: dict[str, object], kerf_mm: float) -> float:
    """Return the thickness that was recorded, of what a leaf was resawn from."""
    leaves = data.get("resaw", 1)
    count = leaves if isinstance(leaves, int) else 1
    return count * board.thickness_mm + (count - 1) * kerf_mm


def extents(board: Board) -> tuple[float, float]:
    """Return a board's extents along its grain and across; a crook's greatest and least."""
    if not board.grain.is_straight:
        return max(board.length_mm, board.width_mm), min(board.length_mm, board.width_mm)
    turn = math.radians(board.grain.angles_deg[0])
    along = (math.cos(turn), math.sin(turn))
    corners = list(board.shape.exterior.coords)
    lengths = [x * along[0] + y * along[1] for x, y in corners]
    widths = [y * along[0] - x * along[1] for x, y in corners]
    return max(lengths) - min(lengths), max(widths) - min(widths)
