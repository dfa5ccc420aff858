"""Direction of the grain: a straight line, or a polyline for a grown crook.

A :class:`GrainPath` lies in the frame of a board or of an outline. Where two paths are
compared, the local direction of each is that of its nearest segment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nesting.errors import ShapeError
from nesting.given import finite, points

SAME_DEG = 1e-9
"""Ends of a range of angles are the same to this: rounding."""


@dataclass(frozen=True)
class GrainPath:
    """Two or more points, mm, along the grain; only the directions between them matter."""

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", points(self.points, "a grain path", fewest=2))
        if any(a == b for a, b in pairwise(self.points)):
            raise ShapeError("a grain path has the same point twice in a row")

    @property
    def is_straight(self) -> bool:
        """Whether one direction serves everywhere."""
        return len(self.points) == 2

    @cached_property
    def angles_deg(self) -> tuple[float, ...]:
        """Direction of each segment, degrees, in [0, 180)."""
        pairs = pairwise(self.points)
        return tuple(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 180.0 for a, b in pairs)

    def angle_at(self, x_mm: float, y_mm: float) -> float:
        """Return the direction of the segment nearest to a point, degrees, in [0, 180)."""
        return float(self.angles_at(np.array([[x_mm, y_mm]]))[0])

    def angles_at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the directions at (n, 2) points, (n,) degrees, each in [0, 180)."""
        angles = np.array(self.angles_deg)
        if self.is_straight:
            return np.full(len(points), angles[0])
        nearest: NDArray[np.float64] = angles[self.squared_gaps(points).argmin(axis=1)]
        return nearest

    def squared_gaps(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far (n, 2) points are from each of the m segments, squared, (n, m) mm2."""
        starts, spans, squares = self._segments
        away = points[:, None, :] - starts
        along = (away * spans).sum(axis=2) / squares
        gaps = away - along.clip(0.0, 1.0)[:, :, None] * spans
        found: NDArray[np.float64] = (gaps**2).sum(axis=2)
        return found

    @cached_property
    def _segments(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Starts (n, 2), spans (n, 2) and squared lengths (n,): asked for at every trial."""
        points = np.asarray(self.points)
        spans = np.diff(points, axis=0)
        return points[:-1], spans, (spans**2).sum(axis=1)

    @property
    def turn_deg(self) -> float:
        """How far apart its directions lie, followed from end to end; 0 where it is straight."""
        return float(np.ptp(np.unwrap(self.angles_deg, period=180.0)))


def straight_grain(angle_deg: float = 0.0) -> GrainPath:
    """Return straight grain at an angle to x, degrees anticlockwise.

    Examples
    --------
    >>> straight_grain(4.5).angle_at(0, 0)
    4.5
    """
    turn = math.radians(finite(angle_deg, "the grain's direction"))
    return GrainPath(((0.0, 0.0), (1000.0 * math.cos(turn), 1000.0 * math.sin(turn))))


def angle_between(first_deg: float, second_deg: float) -> float:
    """Return the angle between two undirected lines, degrees, in [0, 90]."""
    apart = abs(first_deg - second_deg) % 180.0
    return min(apart, 180.0 - apart)


@lru_cache(4096)
def may_follow(own: GrainPath, wood: GrainPath, reach_deg: float, *, is_over: bool = False) -> bool:
    """Return whether a path may lie true to another's directions at some turning, wherever.

    Where the directions lie is not asked, so False is proof that no place is true to the grain.

    Parameters
    ----------
    reach_deg
        How far directions may differ anywhere along the path.
    is_over
        Whether the path is seen from its other side.

    Examples
    --------
    >>> crook = GrainPath(((0, 0), (100, 0), (170, 70), (170, 170)))
    >>> may_follow(crook, straight_grain(), 9.5), may_follow(crook, straight_grain(), 46.0)
    (False, True)
    """
    if own.is_straight:
        return True
    ways = np.array(own.angles_deg) * (-1.0 if is_over else 1.0)
    turns = np.subtract.outer(np.unique(wood.angles_deg), np.unique(ways))  # (m, k)
    # Turnings that suit a segment are a closed range about each of the wood's; where all of
    # them overlap, one of them begins.
    for turn in turns.ravel() - reach_deg:
        off = np.abs((turns - turn + 90.0) % 180.0 - 90.0)
        if (off.min(axis=0) <= reach_deg + SAME_DEG).all():
            return True
    return False
