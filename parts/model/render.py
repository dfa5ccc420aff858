"""Off-screen drawing with VTK, which comes with cadquery: actors, camera, PNG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from nesting.errors import OutputError
from parts.curves import Points
from parts.model.colour import Colour
from parts.model.mesh import Mesh

if TYPE_CHECKING:
    from vtkmodules.vtkCommonDataModel import vtkPolyData
    from vtkmodules.vtkRenderingCore import vtkActor, vtkRenderer, vtkRenderWindow

FINER = 2
"""Drawn so many times larger and averaged: smooth edges, also through what is see-through."""

EDGE_DEG = 25.0
"""Faces that meet at more than this are divided by a line."""

PEELS = 8
"""Layers of see-through surfaces that are told apart."""


@dataclass(frozen=True)
class Eye:
    """Where a parallel view is taken from: ``towards_deg`` round from ahead, ``up_deg`` high.

    ``towards_deg`` goes to starboard.
    """

    towards_deg: float
    up_deg: float

    @property
    def axes(self) -> Points:
        """The directions right, up and towards the eye, as rows, in the boat's frame."""
        turn, rise = np.radians([self.towards_deg, self.up_deg])
        back = np.array([-np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)])
        right = np.cross([0.0, 0.0, 1.0], back)
        right /= np.linalg.norm(right)
        return np.array([right, np.cross(back, right), back])


def poly_data(mesh: Mesh) -> vtkPolyData:
    """Return triangles as VTK takes them."""
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    to_array, to_ids = cast(Any, numpy_to_vtk), cast(Any, numpy_to_vtkIdTypeArray)
    points = vtkPoints()
    points.SetData(to_array(np.ascontiguousarray(mesh.points), deep=True))
    rows = np.column_stack([np.full(len(mesh.triangles), 3), mesh.triangles]).ravel()
    cells = vtkCellArray()
    cells.ImportLegacyFormat(to_ids(rows.astype(np.int64), deep=True))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def line_data(lines: Sequence[Points]) -> vtkPolyData:
    """Return polylines, each (n, 3), as VTK takes them."""
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    points, cells = vtkPoints(), vtkCellArray()
    for line in lines:
        cells.InsertNextCell(len(line))
        for x, y, z in line.tolist():
            cells.InsertCellPoint(points.InsertNextPoint(x, y, z))
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetLines(cells)
    return data


def flat_faced(data: vtkPolyData) -> vtkPolyData:
    """Return a skin whose faces are lit apart where they meet at an edge."""
    from vtkmodules.vtkFiltersCore import vtkCleanPolyData, vtkPolyDataNormals

    clean = vtkCleanPolyData()
    clean.SetInputData(data)
    normals = vtkPolyDataNormals()
    normals.SetInputConnection(clean.GetOutputPort())
    normals.SetFeatureAngle(EDGE_DEG)
    normals.Update()
    return cast("vtkPolyData", normals.GetOutput())


def edges_of(data: vtkPolyData) -> vtkPolyData:
    """Return the lines in which the faces of a skin meet."""
    from vtkmodules.vtkFiltersCore import vtkCleanPolyData, vtkFeatureEdges

    clean = vtkCleanPolyData()
    clean.SetInputData(data)
    edges = vtkFeatureEdges()
    edges.SetInputConnection(clean.GetOutputPort())
    edges.SetFeatureAngle(EDGE_DEG)
    edges.BoundaryEdgesOff()
    edges.NonManifoldEdgesOff()
    edges.ColoringOff()
    edges.Update()
    return cast("vtkPolyData", edges.GetOutput())


def cut_off(data: vtkPolyData, at: Points, beyond: Points) -> vtkPolyData:
    """Return a skin without what lies beyond a plane."""
    from vtkmodules.vtkCommonDataModel import vtkPlane
    from vtkmodules.vtkFiltersCore import vtkClipPolyData

    plane = vtkPlane()
    plane.SetOrigin(*at)
    plane.SetNormal(*(-beyond))
    clip = vtkClipPolyData()
    clip.SetInputData(data)
    clip.SetClipFunction(plane)
    clip.Update()
    return cast("vtkPolyData", clip.GetOutput())


def actor(
    data: vtkPolyData, colour: Colour, *, opacity: float = 1.0, width: float = 1.0
) -> vtkActor:
    """Return a thing to be shown in one colour; ``width`` is that of its lines, pixels."""
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    mapper = vtkPolyDataMapper()
    mapper.SetInputData(data)
    mapper.ScalarVisibilityOff()
    shown = vtkActor()
    shown.SetMapper(mapper)
    look = shown.GetProperty()
    look.SetColor(*colour)
    look.SetOpacity(opacity)
    look.SetLineWidth(width * FINER)
    look.SetAmbient(0.42)
    look.SetDiffuse(0.66)
    return shown


def line_actor(data: vtkPolyData, colour: Colour, width: float, opacity: float = 1.0) -> vtkActor:
    """Return lines of one colour that light does not change."""
    from vtkmodules.vtkRenderingCore import vtkPolyDataMapper

    shown = actor(data, colour, opacity=opacity, width=width)
    shown.GetProperty().LightingOff()
    mapper = shown.GetMapper()
    assert isinstance(mapper, vtkPolyDataMapper)
    # Lines on faces win over the faces they lie on.
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    mapper.SetRelativeCoincidentTopologyLineOffsetParameters(0.0, -4.0)
    return shown


def aim(renderer: vtkRenderer, eye: Eye, shown: Points, aspect: float) -> None:
    """Turn a renderer's camera so that (n, 3) points just fill the view."""
    axes = eye.axes
    seen = shown @ axes.T
    low, high = seen.min(axis=0), seen.max(axis=0)
    middle = (low + high) / 2 @ axes
    reach = float(np.linalg.norm(high - low))
    camera = renderer.GetActiveCamera()
    camera.ParallelProjectionOn()
    camera.SetFocalPoint(*middle)
    camera.SetPosition(*(middle + axes[2] * 2 * reach))
    camera.SetViewUp(*axes[1])
    wide, tall = (high - low)[:2]
    camera.SetParallelScale(1.03 * max(tall, wide / aspect) / 2)
    renderer.ResetCameraClippingRange()


def png_of(window: vtkRenderWindow) -> bytes:
    """Return what a window shows as PNG, averaged down from :data:`FINER` times its size.

    Raises
    ------
    OutputError
        If nothing was drawn: there is no way to draw off screen on this machine.
    """
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkImagingCore import vtkImageShrink3D
    from vtkmodules.vtkIOImage import vtkPNGWriter
    from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

    window.Render()
    grab = vtkWindowToImageFilter()
    grab.SetInput(window)
    grab.ReadFrontBufferOff()
    shrink = vtkImageShrink3D()
    shrink.SetInputConnection(grab.GetOutputPort())
    shrink.SetShrinkFactors(FINER, FINER, 1)
    shrink.AveragingOn()
    writer = vtkPNGWriter()
    writer.SetInputConnection(shrink.GetOutputPort())
    writer.WriteToMemoryOn()
    writer.Write()
    as_numpy = cast(Any, vtk_to_numpy)
    pixels = as_numpy(shrink.GetOutput().GetPointData().GetScalars())
    if np.ptp(pixels, axis=0).max(initial=0) == 0:
        raise OutputError(
            "this machine cannot draw off screen (VTK found neither a display, EGL nor OSMesa): "
            "everything else is written; open the STEP file in any CAD program"
        )
    return bytes(as_numpy(writer.GetResult()).tobytes())
