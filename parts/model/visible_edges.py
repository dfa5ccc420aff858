"""The edges of a skin that a drawing shows: sharp ones, and the rim of what is seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.model.mesh import Mesh

SHARP_DEG = 25.0
"""Faces that meet at more than this have a line between them; facets of one curve do not."""

WELD_MM = 0.001
"""Corners nearer than this are one."""

TOWARDS = 1e-6
"""A face turned this little towards the eye is seen edge on."""


def edges_towards(mesh: Mesh, back: tuple[float, float, float]) -> Points:
    """Return the edges of a closed skin that lie on a face turned to the eye, (k, 2, 3).

    Those between two faces at an angle, and those between one that is turned to the eye and one
    that is not.

    Parameters
    ----------
    back
        Direction towards the eye.
    """
    points, triangles = _welded(mesh)
    normals = _normals(points, triangles)
    ends, faces = _pairs_of_faces(triangles)
    one, other = normals[faces[:, 0]], normals[faces[:, 1]]
    facing = np.stack([one @ np.array(back), other @ np.array(back)]) > TOWARDS
    is_sharp = (one * other).sum(axis=1) < np.cos(np.radians(SHARP_DEG))
    shown = facing.any(axis=0) & (is_sharp | ~facing.all(axis=0))
    return np.asarray(points[ends[shown]])


def _welded(mesh: Mesh) -> tuple[Points, NDArray[np.int64]]:
    """Return a skin whose faces share their corners, without triangles of no area."""
    grid, number = np.unique(np.round(mesh.points / WELD_MM), axis=0, return_inverse=True)
    triangles = number.reshape(-1)[mesh.triangles]
    a, b, c = triangles.T
    return grid * WELD_MM, triangles[(a != b) & (b != c) & (c != a)]


def _normals(points: Points, triangles: NDArray[np.int64]) -> Points:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    length = np.linalg.norm(across, axis=1, keepdims=True)
    return np.asarray(across / np.maximum(length, 1e-300))


def _pairs_of_faces(
    triangles: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the ends (k, 2) of every edge, and the two triangles (k, 2) that meet in it."""
    sides = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    whose = np.tile(np.arange(len(triangles)), 3)
    sides = np.sort(sides, axis=1)
    order = np.lexsort((sides[:, 1], sides[:, 0]))
    sides, whose = sides[order], whose[order]
    same = (sides[1:] == sides[:-1]).all(axis=1)
    first = np.flatnonzero(same)
    return sides[first], np.column_stack([whose[first], whose[first + 1]])
