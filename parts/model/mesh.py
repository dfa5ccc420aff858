"""Solids and hulls as triangles: for the picture, and for outlines in the three views."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from parts.curves import Points
from parts.lines import Face, Hull
from parts.position import TO_PORT

if TYPE_CHECKING:
    import cadquery as cq

CHORD_MM, CHORD_RAD = 0.5, 0.15
"""Triangles leave a solid's curves by no more than this: unseen at the scale of a boat."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """(n, 3) points, mm, and (m, 3) corners of triangles, by number of the point."""

    points: Points
    triangles: NDArray[np.int64]


def mesh_of(solid: cq.Shape) -> Mesh:
    """Return the skin of a solid as triangles."""
    corners, triangles = solid.tessellate(CHORD_MM, CHORD_RAD)
    points = np.array([corner.toTuple() for corner in corners])
    return Mesh(points, np.asarray(triangles, dtype=np.int64))


def hull_mesh(hull: Hull, face: Face = Face.OUTSIDE) -> Mesh:
    """Return both sides of a hull, planking only, their outer faces out; uncut at the transom."""
    net = hull.surface(face).net
    rows, columns = net.shape[:2]
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (
        part.ravel()
        for part in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    )
    right = np.vstack([np.column_stack([a, c, b]), np.column_stack([a, d, c])])
    points = net.reshape(-1, 3)
    both = np.vstack([points, points * TO_PORT])
    return Mesh(both, np.vstack([right, right[:, ::-1] + rows * columns]))


def strip_between(one: Points, other: Points) -> Mesh:
    """Return the strip between two lines, (n, 3) each, the k-th points across from each other."""
    n = len(one)
    k = np.arange(n - 1)
    triangles = np.vstack(
        [np.column_stack([k, k + 1, k + 1 + n]), np.column_stack([k, k + 1 + n, k + n])]
    )
    return Mesh(np.vstack([one, other]), triangles)
