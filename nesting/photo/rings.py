"""Closed rings of points: stepped evenly, smoothed, their normals; and runs of flags round them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.plan_view import Array, Mask


def resampled(ring: Array, step: float) -> Array:
    """Return a closed ring with points so far apart."""
    closed = np.concatenate([ring, ring[:1]])
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    keep = np.concatenate([[True], np.diff(far) > 1e-9])
    at = np.linspace(0, far[-1], max(12, int(far[-1] / step)), endpoint=False)
    return np.column_stack([np.interp(at, far[keep], closed[keep, axis]) for axis in (0, 1)])


def lengthwise(ring: Array) -> tuple[Array, Array]:
    """Return the middle of a ring, and (2, 2) its unit directions: along it, and left of that.

    ``(ring - middle) @ directions.T`` lies along x; ``laid @ directions + middle`` is back again.
    """
    middle = ring.mean(axis=0)
    ahead = np.linalg.svd(ring - middle, full_matrices=False)[2][0]
    return middle, np.array([ahead, (-ahead[1], ahead[0])])


def area_of(ring: Array) -> float:
    """Return the area of a ring, over 0 if it runs anticlockwise."""
    x, y = ring.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def smoothed(ring: Array, sigma: float) -> Array:
    """Return a closed ring smoothed along itself by so many of its steps."""
    reach = int(4 * sigma)
    weight = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weight /= weight.sum()
    wrapped = np.concatenate([ring[-reach:], ring, ring[:reach]])
    return np.column_stack([np.convolve(wrapped[:, axis], weight, "valid") for axis in (0, 1)])


def normals_of(ring: Array, over: int = 3) -> Array:
    """Return the (n, 2) unit normals of an anticlockwise ring, outward."""
    ahead = np.roll(ring, -over, axis=0) - np.roll(ring, over, axis=0)
    ahead /= np.maximum(1e-9, np.linalg.norm(ahead, axis=1, keepdims=True))
    return np.column_stack([ahead[:, 1], -ahead[:, 0]])


def runs_of(flags: Mask) -> list[NDArray[np.intp]]:
    """Return runs of places that are flagged, once round."""
    if flags.all():
        return [np.arange(len(flags))]
    order = np.roll(np.arange(len(flags)), -int(np.argmin(flags)))
    turned = np.concatenate([[0], flags[order].astype(int), [0]])
    starts, ends = np.flatnonzero(np.diff(turned) == 1), np.flatnonzero(np.diff(turned) == -1)
    return [order[start:end] for start, end in zip(starts, ends, strict=True)]


def median_round(values: Array, reach: int) -> Array:
    """Return the median of so many values on either side of each, once round."""
    wrapped = np.concatenate([values[-reach:], values, values[:reach]])
    rows = np.lib.stride_tricks.sliding_window_view(wrapped, 2 * reach + 1)
    made: Array = np.median(rows, axis=1)
    return made
