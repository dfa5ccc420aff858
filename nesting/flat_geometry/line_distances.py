"""How far points lie from a line: for lines of thousands of corners and thousands of points.

shapely measures each point against every edge; a tree of the edges leaves the few that are near.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

FEW = 20_000
"""So few pairs of an edge and a point are measured straight away, sooner than a tree is made."""


def distances(line: BaseGeometry, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n,) the distance in mm of (n, 2) points from a line, or from an area's edge.

    Nothing is measured as infinitely far from an empty one.
    """
    edge = line.boundary if shapely.get_dimensions(line) == 2 else line
    corners, which = shapely.get_coordinates(shapely.get_parts(edge), return_index=True)
    if len(corners) * len(points) <= FEW:
        far = shapely.distance(edge, shapely.points(points))
        return np.where(np.isnan(far), np.inf, far)
    goes_on = which[1:] == which[:-1]
    edges = np.stack([corners[:-1][goes_on], corners[1:][goes_on]], axis=1)
    tree = shapely.STRtree(np.asarray(shapely.linestrings(edges)))
    (which, _), far = tree.query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return np.asarray(far[np.argsort(which, kind="stable")])
