"""By how much splines miss each of their points that they are drawn without, many ways at once.

A spline of an odd degree through all points but one has its knots at the others, save those next
to its ends (not a knot). Its basis is built up degree by degree for all points left out, and all
ways along, in one go; drawn one by one they took most of the time of fairing an edge.

References
----------
de Boor 1978, A practical guide to splines, ch. X (recurrence of the basis), from memory.
"""

from __future__ import annotations

import numpy as np

from parts.curves import Points


def missed(points: Points, ways: Points, degree: int) -> Points:
    """Return by how much each inner point is missed, square to the spline, (k, n - 2).

    Parameters
    ----------
    points
        (n, 2).
    ways
        (k, n) ways along the points, rising.
    degree
        Odd; at least two points more than that.
    """
    count = len(points)
    left = np.arange(1, count - 1)
    kept = np.array([np.delete(np.arange(count), n) for n in left])
    sites = ways[:, kept].reshape(-1, count - 1)
    place = ways[:, left].reshape(-1, 1)
    knots = _knots(sites, degree)
    others = np.broadcast_to(points[kept], (len(ways), *kept.shape, 2)).reshape(-1, count - 1, 2)
    coefficients = np.linalg.solve(_basis(knots, sites, degree)[0], others)
    at, rise = (part @ coefficients for part in _basis(knots, place, degree))
    off = np.tile(points[left], (len(ways), 1)) - at[:, 0]
    run = rise[:, 0]
    square = off[:, 0] * run[:, 1] - off[:, 1] * run[:, 0]
    return np.asarray(np.abs(square) / np.hypot(*run.T)).reshape(len(ways), -1)


def _knots(sites: Points, degree: int) -> Points:
    inner = (degree + 1) // 2
    ends = [np.repeat(end, degree + 1, axis=1) for end in (sites[:, :1], sites[:, -1:])]
    return np.concatenate([ends[0], sites[:, inner:-inner], ends[1]], axis=1)


def _basis(knots: Points, places: Points, degree: int) -> tuple[Points, Points]:
    """Return the basis at places, and how it rises, (b, places, points) each."""
    low, high = knots[:, None, :-1], knots[:, None, 1:]
    at = places[..., None]
    is_last = (at == knots[:, None, -1:]) & (high == knots[:, None, -1:])
    found = (((low <= at) & (at < high)) | (is_last & (low < high))).astype(float)
    rise = found
    for up in range(1, degree + 1):
        span = _parts_of(knots[:, None, up:] - knots[:, None, :-up])
        rise = up * (found[..., :-1] * span[..., :-1] - found[..., 1:] * span[..., 1:])
        before = (at - knots[:, None, : -up - 1]) * span[..., :-1] * found[..., :-1]
        after = (knots[:, None, up + 1 :] - at) * span[..., 1:] * found[..., 1:]
        found = before + after
    return found, rise


def _parts_of(span: Points) -> Points:
    """Return one over each span; nothing over none."""
    return np.asarray(np.divide(1.0, span, out=np.zeros_like(span), where=span > 0.0))
