"""Draws a scene: ``python -m parts.model.stage`` takes one on standard input and gives a PNG.

A parallel view; the hull see-through, so that what lies inside it is seen; the legend below.
Run by :func:`parts.model.scene.drawn` in a process of its own.
"""

from __future__ import annotations

import pickle
import sys
from typing import TYPE_CHECKING

import numpy as np

from nesting.processes.workers import end_with_parent
from parts.curves import Points
from parts.model.colour import Colour
from parts.model.legend import INK, Legend, add_legend
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

if TYPE_CHECKING:
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    from parts.model.ghost import Ghost
    from parts.model.mesh import Mesh
    from parts.model.scene import Scene

PAPER: Colour = (0.985, 0.985, 0.975)
GHOST: Colour = (0.47, 0.56, 0.64)
GHOST_LINE: Colour = (0.40, 0.47, 0.54)

EYE = Eye(towards_deg=58.0, up_deg=32.0)

NEAR_OPACITY, FAR_OPACITY = 0.08, 0.22
"""Of the side towards the eye, and of the side that is seen from inside."""


def png_of_scene(scene: Scene) -> bytes:
    """Return a scene as PNG."""
    # Both announce themselves to VTK, before it makes anything that they draw.
    import vtkmodules.vtkRenderingFreeType
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401
    from vtkmodules.vtkRenderingCore import vtkRenderer

    renderer = vtkRenderer()
    for mesh, colour in scene.solids:
        _add_solid(renderer, mesh, colour)
    shown = [mesh.points for mesh, _ in scene.solids]
    if scene.ghost is not None:
        _add_ghost(renderer, scene.ghost)
        shown += scene.ghost.edges
    return png_of(_window(renderer, scene.legend, np.vstack(shown)))


def _add_solid(renderer: vtkRenderer, mesh: Mesh, colour: Colour) -> None:
    data = poly_data(mesh)
    renderer.AddActor(actor(flat_faced(data), colour))
    renderer.AddActor(line_actor(edges_of(data), INK, 1.0))


def _add_ghost(renderer: vtkRenderer, ghost: Ghost) -> None:
    """Draw the hull see-through: more so the side towards the eye than the far one."""
    data = poly_data(ghost.skin)
    if ghost.cut is not None:
        data = cut_off(data, *ghost.cut)
    near, far = (actor(flat_faced(data), GHOST, opacity=o) for o in (NEAR_OPACITY, FAR_OPACITY))
    near.GetProperty().BackfaceCullingOn()
    far.GetProperty().FrontfaceCullingOn()
    ends = [actor(poly_data(end), GHOST, opacity=FAR_OPACITY) for end in ghost.ends]
    for surface in (near, far, *ends):
        renderer.AddActor(surface)
    renderer.AddActor(line_actor(line_data(ghost.sections), GHOST_LINE, 0.8, 0.5))
    renderer.AddActor(line_actor(line_data(ghost.edges), GHOST_LINE, 1.6))


def _window(renderer: vtkRenderer, legend: Legend, shown: Points) -> vtkRenderWindow:
    """Return a window with the boat above its legend, as high as the boat asks for."""
    from vtkmodules.vtkCommonCore import vtkLogger
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

    wide, tall, _ = np.ptp(shown @ EYE.axes.T, axis=0)
    boat_px = round(legend.width_px * min(1.0, 1.06 * tall / wide))
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
    window.SetSize(legend.width_px * FINER, height * FINER)
    window.AddRenderer(renderer)
    window.AddRenderer(below)
    aim(renderer, EYE, shown, legend.width_px / boat_px)
    return window


if __name__ == "__main__":
    end_with_parent()
    sys.stdout.buffer.write(png_of_scene(pickle.load(sys.stdin.buffer)))
