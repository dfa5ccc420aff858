"""The curve of a thin batten held at points and free at its ends: a natural cubic spline."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def bent_through(points: Points, samples: int) -> Points:
    """Return the batten through (n, 2) points, n >= 2, (n - 1, samples + 1, 2).

    Each stretch between two points by itself, both of them included. The batten's own measure
    is the length of the chords.
    """
    chords = np.hypot(*np.diff(points, axis=0).T)
    slopes = np.diff(points, axis=0) / chords[:, None]
    bend = _second_derivatives(chords, slopes)
    share = np.linspace(0.0, 1.0, samples + 1)[None, :, None]
    rest, chord = 1.0 - share, chords[:, None, None]
    sag = chord**2 / 6 * ((rest**3 - rest) * bend[:-1, None] + (share**3 - share) * bend[1:, None])
    found: Points = rest * points[:-1, None] + share * points[1:, None] + sag
    return found


def _second_derivatives(chords: Points, slopes: Points) -> Points:
    """Return (n, 2) second derivatives at the points; none at the two ends."""
    bend = np.zeros((len(chords) + 1, 2))
    inner = len(chords) - 1
    if not inner:
        return bend
    system = np.zeros((inner, inner))
    at = np.arange(inner)
    system[at, at] = 2.0 * (chords[:-1] + chords[1:])
    system[at[:-1], at[1:]] = system[at[1:], at[:-1]] = chords[1:-1]
    bend[1:-1] = np.linalg.solve(system, 6.0 * np.diff(slopes, axis=0))
    return bend
