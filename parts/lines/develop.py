"""Laying a strip of a curved surface out flat: a plank's shape before it is bent on.

The strip is a net of points: lines across it, from one edge to the other, along its length. The
net is unrolled by triangles, then relaxed until the lengths of its sides and both diagonals
agree with those on the hull as well as they can. On a cylinder or a cone they agree fully; on
a hull that is round two ways no flat piece fits, and what is left over is reported: the wood
has to take it up edgewise, or does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded
from shapely.geometry import Polygon

from nesting.errors import ShapeError
from parts.curves import Points

ROUNDS = 12
"""Of relaxing; each at least halves what is left, four are enough on planks."""

STILL_MM = 1e-7


@dataclass(frozen=True, eq=False)
class Development:
    """A strip laid flat.

    Attributes
    ----------
    net
        (n, m, 2) points of the strip, flat: x along its length from its fore end, the first
        edge below.
    strain
        Greatest stretching or squeezing of any length of the net, of that length.
    edge_errors_mm
        For both edges, flat length less length on the hull.
    """

    net: Points
    strain: float
    edge_errors_mm: tuple[float, float]

    @property
    def lower(self) -> Points:
        """The first edge, flat, (n, 2)."""
        return np.asarray(self.net[:, 0])

    @property
    def upper(self) -> Points:
        """The second edge, flat, (n, 2)."""
        return np.asarray(self.net[:, -1])

    def outline(self) -> Polygon:
        """Return the closed flat shape."""
        ring = np.vstack([self.lower, self.net[-1, 1:-1], self.upper[::-1], self.net[0, -2:0:-1]])
        return Polygon(ring)


def develop(net: Points) -> Development:
    """Return a strip laid flat.

    Parameters
    ----------
    net
        (n, m, 3) points on the surface, mm: n lines across, m points on each from edge to
        edge; n and m 2 or more. A plank of 100 mm wants lines about every 50 mm.

    Raises
    ------
    ShapeError
        If lines across lie on each other.
    """
    if net.ndim != 3 or net.shape[0] < 2 or net.shape[1] < 2 or net.shape[2] != 3:
        raise ShapeError(f"a strip is (n, m, 3) points, n and m 2 or more; got {net.shape}")
    pairs = _pairs(net.shape[0], net.shape[1])
    points = net.reshape(-1, 3)
    lengths = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    if lengths.min() < STILL_MM:
        raise ShapeError(
            "two points of the strip lie on each other: its edges meet, or a line twice"
        )
    flat = _relaxed(_unrolled(net).reshape(-1, 2), pairs, lengths)
    laid = np.linalg.norm(flat[pairs[:, 0]] - flat[pairs[:, 1]], axis=1)
    strain = float(np.abs(laid / lengths - 1.0).max())
    placed = _levelled(flat.reshape(net.shape[0], net.shape[1], 2))
    errors = tuple(_length(placed[:, k]) - _length(net[:, k]) for k in (0, -1))
    return Development(placed, strain, (errors[0], errors[1]))


def _pairs(n: int, m: int) -> NDArray[np.int64]:
    """Return the pairs of points whose distances are kept: sides and both diagonals."""
    number = np.arange(n * m).reshape(n, m)
    kinds = (
        (number[:-1], number[1:]),
        (number[:, :-1], number[:, 1:]),
        (number[:-1, :-1], number[1:, 1:]),
        (number[:-1, 1:], number[1:, :-1]),
    )
    return np.vstack([np.column_stack([a.ravel(), b.ravel()]) for a, b in kinds])


def _unrolled(net: Points) -> Points:
    """Return the net rolled out: every line across straight, by triangles between the edges."""
    widths = np.linalg.norm(np.diff(net, axis=1), axis=2)
    across = np.concatenate([np.zeros((len(net), 1)), np.cumsum(widths, axis=1)], axis=1)
    low, high = np.zeros(2), np.array([0.0, across[0, -1]])
    lines = [(low, high)]
    for k in range(1, len(net)):
        below = float(np.linalg.norm(net[k, 0] - net[k - 1, 0]))
        slant = float(np.linalg.norm(net[k, 0] - net[k - 1, -1]))
        above = float(np.linalg.norm(net[k, -1] - net[k - 1, -1]))
        next_low = _apex(low, high, below, max(slant, abs(across[k - 1, -1] - below) + 1e-9))
        next_high = _apex(next_low, high, across[k, -1], above, side=-1.0)
        low, high = next_low, next_high
        lines.append((low, high))
    shares = across / across[:, -1:]
    ends = np.array(lines)
    return np.asarray(ends[:, None, 0] + shares[:, :, None] * (ends[:, None, 1] - ends[:, None, 0]))


def _apex(a: Points, b: Points, from_a: float, from_b: float, side: float = -1.0) -> Points:
    """Return the corner of a triangle over a side, at distances from its ends."""
    span = b - a
    base = float(np.hypot(*span))
    along = (base**2 + from_a**2 - from_b**2) / (2 * base)
    out = max(from_a**2 - along**2, 0.0) ** 0.5
    unit = span / base
    return np.asarray(a + along * unit + side * out * np.array([-unit[1], unit[0]]))


def _relaxed(flat: Points, pairs: NDArray[np.int64], lengths: Points) -> Points:
    """Return the points moved until their distances agree best (Gauss and Newton)."""
    for _ in range(ROUNDS):
        spans = flat[pairs[:, 0]] - flat[pairs[:, 1]]
        laid = np.maximum(np.linalg.norm(spans, axis=1), 1e-12)
        step = _step(flat, pairs, spans / laid[:, None], lengths - laid)
        flat = flat + step
        if np.abs(step).max() < STILL_MM:
            break
    return flat


def _step(flat: Points, pairs: NDArray[np.int64], units: Points, short: Points) -> Points:
    """Return how far each point moves, (n, 2), so that each distance grows by what it is short.

    By least squares: as a frame of equal springs would come to rest. Its stiffness is a narrow
    band, since no distance reaches past the next line across.
    """
    ends = (2 * pairs[:, :, None] + np.arange(2)).reshape(-1, 4)
    pull = np.column_stack([units, -units])
    force = np.zeros(flat.size)
    np.add.at(force, ends, pull * short[:, None])
    row, column = np.broadcast_arrays(ends[:, :, None], ends[:, None, :])
    low = row >= column
    band = np.zeros((int((row - column).max()) + 1, flat.size))
    np.add.at(band, ((row - column)[low], column[low]), (pull[:, :, None] * pull[:, None, :])[low])
    _support(band, flat)
    moved = solveh_banded(band, force, lower=True, overwrite_ab=True, check_finite=False)
    return np.asarray(moved.reshape(-1, 2))


def _support(band: Points, flat: Points) -> None:
    """Hold the frame by its first point, and its last from turning about that.

    Springs pull no two ways at once, so these three supports bear nothing and bend nothing.
    """
    band[0, :2] += 1.0
    run = flat[-1] - flat[0]
    across = np.array([-run[1], run[0]]) / np.hypot(*run)
    band[0, -2:] += across**2
    band[1, -2] += across[0] * across[1]


def _levelled(net: Points) -> Points:
    """Return the flat net with the ends of its middle line level and its fore end at 0."""
    middle = (net[:, 0] + net[:, -1]) / 2
    run = (middle[-1] - middle[0]) / np.hypot(*(middle[-1] - middle[0]))
    turned = net @ np.array([[run[0], -run[1]], [run[1], run[0]]])
    # The first edge lies below.
    if (turned[:, -1, 1] - turned[:, 0, 1]).sum() < 0:
        turned = turned * np.array([1.0, -1.0])
    return np.asarray(turned - turned.reshape(-1, 2).min(axis=0))


def _length(points: Points) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
