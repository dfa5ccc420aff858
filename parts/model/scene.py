"""A picture of the pieces in the hull, drawn off screen.

A parallel view from ahead and above, to starboard; the fair hull as a ghost, so that what lies
inside it is seen; below, which colour is which board.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from nesting.errors import OutputError
from parts.curves import Points
from parts.lines import Face, Hull
from parts.model.colour import Colour
from parts.model.legend import INK, Legend, add_legend, legend_of
from parts.model.mesh import hull_mesh, mesh_of, strip_between
from parts.model.piece import Piece
from parts.model.render import (
    FINER,
    PEELS,
    Eye,
    actor,
    aim,
    cut_off,
    edges_of,
    flat_faced,
    line_actor,
    line_data,
    png_of,
    poly_data,
)
from parts.position import TO_PORT

if TYPE_CHECKING:
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

WIDTH_PX = 1600

PAPER: Colour = (0.985, 0.985, 0.975)
GHOST: Colour = (0.47, 0.56, 0.64)
GHOST_LINE: Colour = (0.40, 0.47, 0.54)

EYE = Eye(towards_deg=58.0, up_deg=32.0)

NEAR_OPACITY, FAR_OPACITY = 0.08, 0.22
"""Of the side towards the eye, and of the side that is seen from inside."""

ALONG = 81
"""Places along the boat in the sheer and the rabbet."""


def boat_picture(pieces: Sequence[Piece], hull: Hull | None, *, title: str) -> bytes:
    """Return a PNG of pieces in a hull.

    Raises
    ------
    OutputError
        If there is nothing to show, or this machine cannot draw off screen.
    """
    if not pieces:
        raise OutputError("no part says where it stands in the boat: there is nothing to show")
    from vtkmodules.vtkRenderingCore import vtkRenderer

    renderer = vtkRenderer()
    shown = [_add_piece(renderer, piece) for piece in pieces]
    if hull is not None:
        shown.append(_add_ghost(renderer, hull))
    legend = legend_of(pieces, title, WIDTH_PX)
    return png_of(_window(renderer, legend, np.vstack(shown)))


def _add_piece(renderer: vtkRenderer, piece: Piece) -> Points:
    mesh = mesh_of(piece.solid)
    data = poly_data(mesh)
    renderer.AddActor(actor(flat_faced(data), piece.colour))
    renderer.AddActor(line_actor(edges_of(data), INK, 1.0))
    return mesh.points


def _add_ghost(renderer: vtkRenderer, hull: Hull) -> Points:
    """Draw the hull see-through: more so the side towards the eye than the far one."""
    data = poly_data(hull_mesh(hull))
    if len(hull.table.transom) == 2:
        (foot_x, foot_z), (head_x, head_z) = hull.table.transom
        beyond = np.array([head_z - foot_z, 0.0, foot_x - head_x])
        data = cut_off(data, np.array([foot_x, 0.0, foot_z]), beyond)
    near, far = (actor(flat_faced(data), GHOST, opacity=o) for o in (NEAR_OPACITY, FAR_OPACITY))
    near.GetProperty().BackfaceCullingOn()
    far.GetProperty().FrontfaceCullingOn()
    edges, sections = ghost_lines(hull)
    ends = [actor(poly_data(strip_between(e, e * TO_PORT)), GHOST, opacity=FAR_OPACITY)
            for e in edges[1 : len(edges) // 2]]  # fmt: skip
    for surface in (near, far, *ends):
        renderer.AddActor(surface)
    renderer.AddActor(line_actor(line_data(sections), GHOST_LINE, 0.8, 0.5))
    renderer.AddActor(line_actor(line_data(edges), GHOST_LINE, 1.6))
    return np.vstack(edges)


def ghost_lines(hull: Hull) -> tuple[list[Points], list[Points]]:
    """Return the edges of a hull, and its sections at the stations; (n, 3) each, both sides.

    The edges are sheer, rabbet and, if there is one, transom; those of starboard come first.
    """
    face, (low, high) = Face.OUTSIDE, hull.ends
    transom = _transom(hull) if len(hull.table.transom) == 2 else None
    ends = (high, high) if transom is None else (transom[-1, 0], transom[0, 0])
    edges = [
        np.array([(at, *edge(float(at), face)) for at in _places(low, end)])
        for edge, end in zip((hull.sheer, hull.keel), ends, strict=True)
    ]
    if transom is not None:
        edges.append(transom)
    inside = [s.x_mm for s in hull.table.stations if low < s.x_mm < min(ends)]
    sections = [_set_at(at, hull.section(at, face)) for at in inside]
    return [*edges, *(e * TO_PORT for e in edges)], [*sections, *(s * TO_PORT for s in sections)]


def _places(low: float, high: float) -> Points:
    """Return places along the boat, close together at its ends."""
    turn = np.linspace(0.0, np.pi, ALONG)
    return np.asarray(low + (1 - np.cos(turn)) / 2 * (high - low))


def _transom(hull: Hull) -> Points:
    """Return half the transom's outline in the boat's frame, (n, 3)."""
    (foot_x, foot_z), (head_x, head_z) = hull.table.transom
    up = np.array([head_x - foot_x, head_z - foot_z])
    up = up / np.hypot(*up)
    y, along = hull.transom().T
    return np.column_stack([foot_x + along * up[0], y, foot_z + along * up[1]])


def _set_at(x: float, section: Points) -> Points:
    return np.column_stack([np.full(len(section), x), section])


def _window(renderer: vtkRenderer, legend: Legend, shown: Points) -> vtkRenderWindow:
    """Return a window with the boat above its legend, as high as the boat asks for."""
    import vtkmodules.vtkRenderingFreeType
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  # both announce themselves to VTK
    from vtkmodules.vtkCommonCore import vtkLogger
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    wide, tall, _ = np.ptp(shown @ EYE.axes.T, axis=0)
    boat_px = round(WIDTH_PX * min(1.0, 1.06 * tall / wide))
    height = boat_px + legend.height_px
    share = legend.height_px / height
    below = vtkRenderer()
    for part, viewport in ((renderer, (0, share, 1, 1)), (below, (0, 0, 1, share))):
        part.SetViewport(*viewport)
        part.SetBackground(*PAPER)
    add_legend(below, legend)
    renderer.SetUseDepthPeeling(True)
    renderer.SetMaximumNumberOfPeels(PEELS)
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)  # silent where there is no display
    window = vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(0)
    window.SetAlphaBitPlanes(1)
    window.SetSize(WIDTH_PX * FINER, height * FINER)
    window.AddRenderer(renderer)
    window.AddRenderer(below)
    aim(renderer, EYE, shown, WIDTH_PX / boat_px)
    return window
