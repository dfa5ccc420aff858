"""Run-out: how far a part's own edges leave the grain it is to be laid on."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from nesting.grain import GrainPath
from nesting.outline import STRAIGHT
from parts.curves import Points

LEAST_ANGLE_DEG = 1e-6
"""An edge nearer than this to the grain is on it: rounding, not run-out."""


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
    worst = float(slopes_along(edges, grain)[:, 3].max(initial=0.0))
    return STRAIGHT if worst < LEAST_ANGLE_DEG else 1 / math.tan(math.radians(worst))


def slopes_along(edges: Iterable[Points], grain: GrainPath) -> Points:
    """Return the slope of the grain along edges: where, and how steep.

    Returns
    -------
    Points
        (n, 4): x and y of the middle of each piece of edge, mm, its length, mm, and the angle
        between it and the grain beside it, degrees in [0, 90].
    """
    found = [_slopes(edge, grain) for edge in edges]
    return np.vstack(found) if found else np.empty((0, 4))


def _slopes(edge: Points, grain: GrainPath) -> Points:
    spans = np.diff(edge, axis=0)
    middles = (edge[1:] + edge[:-1]) / 2
    ways = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    apart = np.abs(ways - grain.angles_at(middles)) % 180.0
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    return np.column_stack([middles, lengths, np.minimum(apart, 180.0 - apart)])
