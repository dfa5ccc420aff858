"""Run-out: how steeply the grain runs out of a piece along its long edges.

One reckoning serves the search, the sheets, the summary and the report; the referee has its own.
A piece of straight grain is weighed along its long edges: its curve is sawn across the grain. A
grown one is weighed along its own sweep: its edges leave that only by their taper, and at a heel
where nothing is bent.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.grain import GrainPath

Floats = NDArray[np.float64]

ON_EDGE_DEG = 0.05
"""An edge this much steeper to the part's own grain than its run-out is an end or a notch."""


def stretches(line: Floats) -> Floats:
    """Return the pieces of a polyline (n + 1, 2): middles, length mm, direction degrees, (n, 4)."""
    spans = np.diff(line, axis=0)
    middles = (line[1:] + line[:-1]) / 2
    ways = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    return np.column_stack([middles, np.hypot(spans[:, 0], spans[:, 1]), ways])


def off_grain(pieces: Floats, grain: GrainPath) -> Floats:
    """Return the angle of each stretch (n, 4) to the grain beside it, (n,) degrees in [0, 90]."""
    apart = np.abs(pieces[:, 3] - grain.angles_at(pieces[:, :2])) % 180.0
    return np.minimum(apart, 180.0 - apart)


def weighed(shape: Polygon, grain: GrainPath, run_out: float) -> Floats:
    """Return the stretches of a part along which its grain is weighed, (n, 4), in its own frame.

    Parameters
    ----------
    run_out
        Worst slope of its long edges to its own grain, 1 in this many: what is steeper is none.

    Returns
    -------
    Floats
        As from :func:`stretches`; the line of straight grain among them has no length, as that
        is counted along the edges.
    """
    sweep = stretches(np.asarray(grain.points))
    if not grain.is_straight:
        return sweep
    sweep[:, 2] = 0.0
    ring = stretches(np.asarray(shape.exterior.coords))
    limit = math.degrees(math.atan2(1.0, run_out)) + ON_EDGE_DEG
    return np.vstack([ring[off_grain(ring, grain) <= limit], sweep])


def leans(
    pieces: Floats, middle_deg: float, *, turn_deg: float, steepest_deg: float
) -> tuple[float, float]:
    """Return from where to where a part may turn off straight grain: low over high if nowhere.

    Parameters
    ----------
    pieces
        Those of :func:`weighed`.
    middle_deg
        The direction in the part's frame that lies along the grain when it does not lean.
    turn_deg, steepest_deg
        How far that direction may lean, and how far any of the pieces may be off the grain.
    """
    least, most = _off(pieces, middle_deg)
    return max(-turn_deg, -steepest_deg - least), min(turn_deg, steepest_deg - most)


def best_run(pieces: Floats, middle_deg: float, *, turn_deg: float) -> float:
    """Return the run of the steepest grain of a part laid as well as it can be on straight grain.

    Takes what :func:`leans` takes.
    """
    least, most = _off(pieces, middle_deg)
    lean = min(max(-(least + most) / 2, -turn_deg), turn_deg)
    return run_of(max(abs(least + lean), abs(most + lean)))


def _off(pieces: Floats, middle_deg: float) -> tuple[float, float]:
    """Return the least and the greatest angle of pieces to a direction, [-90, 90) degrees."""
    off = (pieces[:, 3] - middle_deg + 90.0) % 180.0 - 90.0
    return float(off.min()), float(off.max())


def run_of(angle_deg: float) -> float:
    """Return the run of a slope, 1 in this many; ``inf`` where it is none.

    >>> round(run_of(45.0), 6)
    1.0
    """
    return math.inf if angle_deg < ON_EDGE_DEG else 1.0 / math.tan(math.radians(angle_deg))
