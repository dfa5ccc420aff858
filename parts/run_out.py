"""Run-out: how far a part's own edges leave the grain it is to be laid on."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import rotate
from shapely.geometry import MultiLineString, Polygon

from nesting.grain import GrainPath
from nesting.outline import STRAIGHT
from nesting.run_out import off_grain, stretches
from parts.curves import Points

LEAST_ANGLE_DEG = 1e-6
"""An edge nearer than this to the grain is on it: rounding, not run-out."""

CUTS = 41
"""Places along the grain at which a shape's edges are compared with it."""

ENDS = 0.1
"""Part of the length at either end that is end, not edge."""

SHOULDER = 1.0
"""Rise over run past which an edge is a shoulder or a notch: 45 degrees, as at an end."""


def run_out(edges: Iterable[Points], grain: GrainPath) -> float:
    """Return the worst slope, 1 in this many, between long edges and the grain beside them.

    Parameters
    ----------
    edges
        Polylines, each (n, 2) mm: the long edges only, no ends and no notches.

    Returns
    -------
    float
        :data:`~nesting.outline.STRAIGHT` if every edge lies along the grain.
    """
    worst = max(
        (float(off_grain(stretches(edge), grain).max(initial=0.0)) for edge in edges), default=0.0
    )
    return STRAIGHT if worst < LEAST_ANGLE_DEG else 1 / math.tan(math.radians(worst))


def run_out_of(shape: Polygon, grain_deg: float) -> float:
    """Return the worst slope, 1 in this many, between a shape's long edges and its grain.

    The lower and the upper edge are taken at places along the grain, without the tenth of the
    length at either end and without shoulders steeper than 45 degrees.
    """
    turned = rotate(shape, -grain_deg, origin=(0.0, 0.0))
    left, bottom, right, top = turned.bounds
    along = np.linspace(left + ENDS * (right - left), right - ENDS * (right - left), CUTS)
    edges = _cut_across(turned, along, (bottom - 1.0, top + 1.0))
    slopes = np.abs(np.diff(edges, axis=0)) / (along[1] - along[0])
    worst = float(slopes[slopes < SHOULDER].max(initial=0.0))
    return STRAIGHT if worst < math.tan(math.radians(1e-6)) else 1 / worst


def _cut_across(shape: Polygon, along: NDArray[np.float64], span: tuple[float, float]) -> Points:
    """Return the (n, 2) lowest and highest y at which lines at (n,) x cut a shape."""
    lines = MultiLineString([[(x, span[0]), (x, span[1])] for x in along])
    # All at once: each cut by itself goes through all corners of the shape.
    low_x, low, _, high = shapely.bounds(shapely.get_parts(shape.intersection(lines))).T
    at = np.abs(low_x[:, None] - along).argmin(axis=1)
    edges = np.column_stack([np.full(len(along), np.inf), np.full(len(along), -np.inf)])
    np.minimum.at(edges[:, 0], at, low)
    np.maximum.at(edges[:, 1], at, high)
    return edges
