"""Boards to be resawn with metal in that saw's way: it is drawn first, or the blade meets it."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.errors import Finding
from nesting.project import Project
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.words import counted
from nesting.written_measures import format_length


def metal_in_the_saw(project: Project) -> Iterator[Finding]:
    """Yield every board whose resawing comes nearer to recorded metal than the blade may."""
    for board in project.stock:
        entry = project.board_entries.get(board.name)
        met = list(_met(board, project.rules))
        if entry is None or not met:
            continue
        x, y, _ = met[0].bounding_circle
        at = ", ".join(format_length(value, project.unit) for value in (x, y))
        yield entry.finding(
            ("resaw",),
            f"the saw that parts {board.name} from the leaf below it would meet metal, in "
            f"{counted(len(met), 'place')}, first at ({at}): draw it before the board is resawn, "
            "or give the depth that it reaches",
        )


def _met(board: Board, rules: Rules) -> Iterator[KeepOut]:
    """Yield the metal that reaches the blade which takes this leaf off the next."""
    if board.leaf is None or board.leaf[0] == board.leaf[1]:
        return
    for keep_out in board.keep_outs:
        if keep_out.kind is not KeepOutKind.METAL:
            continue
        depth = keep_out.depth_mm
        if depth is None or depth > board.thickness_mm - rules.blade_clearance_mm:
            yield keep_out
