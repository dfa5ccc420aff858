"""Run-out: how far a part's own edges leave the grain it is to be laid on."""

from __future__ import annotations

import math
from collections.abc import Iterable

from nesting.grain import GrainPath
from nesting.outline import STRAIGHT
from nesting.run_out import off_grain, stretches
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
    worst = max(
        (float(off_grain(stretches(edge), grain).max(initial=0.0)) for edge in edges), default=0.0
    )
    return STRAIGHT if worst < LEAST_ANGLE_DEG else 1 / math.tan(math.radians(worst))
