"""Run-out: how steeply the grain runs out of a piece along its long edges.

One reckoning serves the search, the sheets, the summary and the report; the referee has its own.
A piece of straight grain is weighed along its long edges: its curve is sawn across the grain. A
grown one is weighed along its own sweep: its edges leave that only by their taper, and at a heel
where nothing is bent.

On grown wood the grain turns beside a stretch, so both that and a part's slope of grain hold all
along each: what the middle of a long edge says, its ends may not.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.grain import TINY_MM, GrainPath

Floats = NDArray[np.float64]

LENGTH, WAY = 2, 3
"""Columns of stretches behind their middle's x and y: length mm, direction degrees."""

HALF = slice(4, 6)
"""Columns of stretches: from the middle to the end, x and y mm."""

TURN = 6
"""Column of stretches: by how much the direction changes from the middle to the end, degrees."""

FEW = 9
"""Places along a part's grain that are asked first: most spots on grown wood fail at one."""

TOLD_MM = 1.0
"""On grown wood stretches are measured in pieces no longer than this."""

ON_EDGE_DEG = 0.05
"""An edge this much steeper to the part's own grain than its run-out is an end or a notch."""


def stretches(line: Floats) -> Floats:
    """Return the straight pieces of a polyline (n + 1, 2), (n, 7): middles, length, direction,
    half of each, and no turn.
    """
    spans = np.diff(line, axis=0)
    middles = (line[1:] + line[:-1]) / 2
    ways = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    return np.column_stack([middles, lengths, ways, spans / 2, np.zeros(len(spans))])


def swept(grain: GrainPath) -> Floats:
    """Return the stretches of a grown sweep, (n, 7): along each the direction changes evenly."""
    sweep, own = grain.sweep, stretches(np.asarray(grain.points))
    ends = sweep.lengths_mm
    marks = np.array([np.zeros_like(ends), sweep.blends_mm[:-1], ends - sweep.blends_mm[1:], ends])
    found = []
    for low, high in pairwise(marks):
        part = own.copy()
        shares = ((low + high) / ends - 1.0)[:, None], ((high - low) / ends)[:, None]
        part[:, :2] += shares[0] * own[:, HALF]
        part[:, HALF] = shares[1] * own[:, HALF]
        part[:, LENGTH] = high - low
        first, middle, last = (grain.ways(at[None])[0] for at in (low, (low + high) / 2, high))
        part[:, WAY], part[:, TURN] = middle, (last - first) / 2
        found.append(part)
    ordered = np.stack(found, axis=1).reshape(-1, own.shape[1])
    return ordered[ordered[:, LENGTH] > TINY_MM]


def cut_up(pieces: Floats, most_mm: float = TOLD_MM) -> Floats:
    """Return stretches (n, 7), each in as few equal ones as are no longer than so much."""
    spans = 2 * np.hypot(*pieces[:, HALF].T)
    counts = np.maximum(np.ceil(spans / most_mm), 1).astype(int)
    found = np.repeat(pieces, counts, axis=0)
    share = np.repeat(1.0 / counts, counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    at = (2 * (np.arange(len(found)) - first) + 1) * share - 1.0  # -1 to 1 along each
    found[:, :2] += at[:, None] * found[:, HALF]
    found[:, WAY] += at * found[:, TURN]
    found[:, LENGTH] *= share
    found[:, HALF] *= share[:, None]
    found[:, TURN] *= share
    return found


def spread(pieces: Floats) -> Floats:
    """Return a few of the places along stretches (n, 7), as short ones spread along them."""
    whole = float(2 * np.hypot(*pieces[:, HALF].T).sum())
    short = cut_up(pieces, whole / FEW)
    return short[:: max(1, len(short) // FEW)]


def off_grain(pieces: Floats, grain: GrainPath) -> Floats:
    """Return the angle of each stretch (n, 7) to the grain at its middle, (n,) degrees, to 90."""
    return apart_deg(pieces[:, WAY], grain.angles_at(pieces[:, :2]))


def apart_deg(first: Floats, second: Floats) -> Floats:
    """Return the angles between undirected lines of two arrays of directions, degrees, to 90."""
    apart = np.abs(first - second) % 180.0
    return np.minimum(apart, 180.0 - apart)


def followed(shape: Polygon, grain: GrainPath) -> Floats:
    """Return the stretches at which a part's own grain must lie true to its board's, (n, 7).

    Its grown sweep; where its grain is straight, all of its edge, with the grain's direction and
    no length of its own.
    """
    if not grain.is_straight:
        return swept(grain)
    ring = stretches(np.asarray(shape.exterior.coords))
    ring[:, LENGTH], ring[:, WAY] = 0.0, grain.angles_deg[0]
    return ring


def weighed(shape: Polygon, grain: GrainPath, run_out: float) -> Floats:
    """Return the stretches of a part along which its grain is weighed, (n, 7), in its own frame.

    Parameters
    ----------
    run_out
        Worst slope of its long edges to its own grain, 1 in this many: what is steeper is none.

    Returns
    -------
    Floats
        Those of :func:`followed`, and before them the long edges of a part of straight grain.
    """
    own = followed(shape, grain)
    if not grain.is_straight:
        return own
    ring = stretches(np.asarray(shape.exterior.coords))
    limit = math.degrees(math.atan2(1.0, run_out)) + ON_EDGE_DEG
    return np.vstack([ring[off_grain(ring, grain) <= limit], own])


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
    ways = pieces[:, [WAY]] + pieces[:, [TURN]] * np.array([-1.0, 1.0])
    off = (ways - middle_deg + 90.0) % 180.0 - 90.0
    return float(off.min()), float(off.max())


def run_of(angle_deg: float) -> float:
    """Return the run of a slope, 1 in this many; ``inf`` where it is none.

    >>> round(run_of(45.0), 6)
    1.0
    """
    return math.inf if angle_deg < ON_EDGE_DEG else 1.0 / math.tan(math.radians(angle_deg))
