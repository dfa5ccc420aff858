"""The boat's pieces as one STEP file: a tree of boards, each with the pieces it gave."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from parts.model.piece import Piece
from parts.step_files import require_whole

if TYPE_CHECKING:
    import cadquery as cq


def boat_assembly(name: str, pieces: Sequence[Piece]) -> cq.Assembly:
    """Return an assembly in the boat's frame: a branch for each board, a leaf for each piece.

    Leaves carry the colour of their board, and both names: ``floor 3 (D-07)``.
    """
    import cadquery as cq

    whole = cq.Assembly(name=name)
    for board in dict.fromkeys(piece.board for piece in pieces):
        branch = cq.Assembly(name=f"board {board}" if board else "no board")
        for piece in pieces:
            if piece.board == board:
                colour = cq.Color(*piece.colour)
                branch.add(piece.shape, loc=piece.location, name=piece.name, color=colour)
        whole.add(branch)
    return whole


def step_bytes(assembly: cq.Assembly) -> bytes:
    """Return an assembly as the content of a STEP file, in mm."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "boat.step"
        assembly.export(str(path), exportType="STEP")
        require_whole(path)
        return path.read_bytes()
