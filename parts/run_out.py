"""Run-out: how far a part's own edges leave the grain it is to be laid on."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from nesting.grain import GrainPath, angle_between
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
    worst = max((_worst_angle(edge, grain) for edge in edges), default=0.0)
    return STRAIGHT if worst < LEAST_ANGLE_DEG else 1 / math.tan(math.radians(worst))


def _worst_angle(edge: Points, grain: GrainPath) -> float:
    spans = np.diff(edge, axis=0)
    middles = (edge[1:] + edge[:-1]) / 2
    angles = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    return max(
        angle_between(float(angle), grain.angle_at(*middle))
        for angle, middle in zip(angles, middles.tolist(), strict=True)
    )
