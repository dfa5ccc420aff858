"""Edges of a board taped from a string: where one is hollow, a straight line would lie in the air.

A plank's edge was sawn to a batten. Between two taped points of a hollow edge its wood ends behind
the line from one to the other, so there the batten through the points is taken; elsewhere the line,
behind which there is wood in any case.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from parts.curves import Points, fair_curve

PARTS_OF_A_SPAN = 8
"""A hollow edge is broken into so many from station to station: its chords then leave a
sixty-fourth of what one straight line would."""

LEAST_MM = 0.1
"""A smaller hollow is none: no tape reads it."""


def string_outline(at: Sequence[float], lower: Sequence[float], upper: Sequence[float]) -> Points:
    """Return the outline between two taped edges, (n, 2), anticlockwise."""
    below, above = _edge(at, lower, 1.0), _edge(at, upper, -1.0)
    return np.vstack([below, above[::-1]])


def _edge(at: Sequence[float], heights: Sequence[float], into: float) -> Points:
    """Return an edge; ``into`` is 1 if its wood lies above it, -1 if below."""
    points = np.column_stack([at, heights])
    curve = fair_curve(points)
    if (np.diff(curve[:, 0]) <= 0).any():
        return points
    found = [points[:1]]
    for start, end in pairwise(points):
        share = np.linspace(0.0, 1.0, PARTS_OF_A_SPAN + 1)[1:-1, None]
        chord = start + share * (end - start)
        hollow = into * (np.interp(chord[:, 0], curve[:, 0], curve[:, 1]) - chord[:, 1])
        if hollow.max() > LEAST_MM:
            chord[:, 1] += into * np.maximum(hollow, 0.0)
            found.append(chord)
        found.append(end[None])
    return np.vstack(found)
