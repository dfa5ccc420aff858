"""A picture of the pieces in the hull: what is on it, and the process that draws it."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.errors import OutputError
from parts.lines import Hull
from parts.model.colour import Colour
from parts.model.ghost import Ghost, ghost_of
from parts.model.legend import Legend, legend_of
from parts.model.mesh import Mesh, mesh_of
from parts.model.piece import Piece

WIDTH_PX = 1600

LONGEST_S = 600
"""Without a graphics card a large boat takes half a minute."""


@dataclass(frozen=True, eq=False)
class Scene:
    """What is on the picture: solids in their colours, the hull's ghost, the legend."""

    solids: tuple[tuple[Mesh, Colour], ...]
    ghost: Ghost | None
    legend: Legend


def boat_picture(
    pieces: Sequence[Piece], hull: Hull | None, *, title: str, width_px: int = WIDTH_PX
) -> bytes:
    """Return a PNG of pieces in a hull: seen from ahead and above, to starboard.

    It is as high as the boat and the legend ask for.

    Raises
    ------
    OutputError
        If there is nothing to show, or this machine cannot draw off screen.
    """
    if not pieces:
        raise OutputError("no part says where it stands in the boat: there is nothing to show")
    solids = tuple((mesh_of(piece.solid), piece.colour) for piece in pieces)
    ghost = None if hull is None else ghost_of(hull)
    return drawn(Scene(solids, ghost, legend_of(pieces, title, width_px)))


def drawn(scene: Scene) -> bytes:
    """Return a scene as PNG, drawn in a process of its own.

    Where there is neither a display nor a library to draw without one, VTK does not raise an
    error but brings its process down.
    """
    command = [sys.executable, "-m", "parts.model.stage"]
    paths = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    try:
        done = subprocess.run(
            command, input=pickle.dumps(scene), capture_output=True, env=paths,
            timeout=LONGEST_S, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise OutputError(f"the picture was not drawn within {LONGEST_S} s") from None
    if b"ImportError" in done.stderr or b"ModuleNotFoundError" in done.stderr:
        why = done.stderr.decode(errors="replace").strip().splitlines()[-1]
        raise OutputError(
            f"the picture cannot be drawn: VTK is not installed whole ({why}); what else was "
            "asked for is written"
        )
    if done.returncode != 0 or not done.stdout.startswith(b"\x89PNG"):
        raise OutputError(
            "the picture cannot be drawn: VTK found no way to draw off screen on this machine "
            "(neither EGL nor OSMesa); what else was asked for is written"
        )
    return done.stdout
