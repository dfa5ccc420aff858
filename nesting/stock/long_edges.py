"""The long edges of a board: their heights at a station, how each runs, which way is inward."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from nesting.errors import ShapeError
from nesting.stock.odd_places import Edge as Edge

STEEPEST_EDGE = 1.0
"""Rise over run past which the end of an outline is an end cut, not an edge: 45 degrees."""

ENDS_MM = 0.5
"""How far past an end of the board a tape may read: what a hole may lie off it, too."""


def across(shape: Polygon, station_mm: float) -> tuple[float, float]:
    """Return the heights of a board's lower and upper edge at a station.

    Raises
    ------
    ShapeError
        If the station is off the board by more than a tape may be.
    """
    left, bottom, right, top = shape.bounds
    if left - ENDS_MM <= station_mm <= right + ENDS_MM:
        # 6 in and six times 12 in come to a hair more millimetres than 78 in.
        station_mm = min(max(station_mm, left), right)
    cut = shape.intersection(LineString([(station_mm, bottom - 1), (station_mm, top + 1)]))
    if cut.is_empty:
        raise ShapeError(
            f"station {station_mm:g} mm is off the board, which goes from {left:g} to {right:g} mm"
        )
    _, low, _, high = cut.bounds
    return low, high


def edge_of(shape: Polygon, edge: Edge) -> LineString:
    """Return a long edge of a board from left to right, without its end cuts.

    An end cut is whatever is steeper than 45 degrees at either end of the edge.
    """
    ring = np.asarray(shape.exterior.coords)[:-1]
    if not shapely.is_ccw(shape.exterior):
        ring = ring[::-1]
    # Anticlockwise, the lower edge runs from the leftmost corner to the rightmost one; of two
    # leftmost corners the lower edge has the lower one.
    up = 1.0 if edge is Edge.LOWER else -1.0
    first = int(np.lexsort((up * ring[:, 1], ring[:, 0]))[0])
    last = int(np.lexsort((up * ring[:, 1], -ring[:, 0]))[0])
    is_lower = edge is Edge.LOWER
    chain = _around(ring, first, last) if is_lower else _around(ring, last, first)[::-1]
    return LineString(_without_ends(chain))


def _around(ring: NDArray[np.float64], first: int, last: int) -> NDArray[np.float64]:
    steps = (last - first) % len(ring)
    return ring[(first + np.arange(steps + 1)) % len(ring)]


def _without_ends(chain: NDArray[np.float64]) -> NDArray[np.float64]:
    dx, dy = np.abs(np.diff(chain, axis=0)).T
    along = np.flatnonzero(dy <= STEEPEST_EDGE * dx)
    return chain[along[0] : along[-1] + 2] if len(along) else chain


def feet_and_inward(
    line: LineString, along: NDArray[np.float64], edge: Edge
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (n, 2) points on an edge and the (n, 2) unit normals into the wood there."""
    points = np.asarray(line.coords)
    spans = np.diff(points, axis=0)
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    marks = np.concatenate([[0.0], np.cumsum(lengths)])
    feet = np.column_stack([np.interp(along, marks, points[:, axis]) for axis in (0, 1)])
    segment = np.clip(np.searchsorted(marks, along, side="right") - 1, 0, len(spans) - 1)
    ahead = spans[segment] / lengths[segment][:, None]
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    return feet, left if edge is Edge.LOWER else -left
