"""Direction of the grain: a straight line, or a polyline for a grown crook.

A :class:`GrainPath` lies in the frame of a board or of an outline. The direction
beside a point is that at the nearest place of the path, whose segments go over into each other as
arcs (:data:`FAIR_DEG`): a batten through the recorded points has no corners.
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

Floats = NDArray[np.float64]

FAIR_DEG = 30.0
"""Where grown grain turns by no more at a recorded point, it sweeps round it as an arc that begins
and ends half of the shorter segment away; a sharper turn is taken as it is recorded: record more
points round the bend (common practice, no source)."""

TINY_MM = 1e-9
"""Stands for a way of no length: nothing is blended over it."""

SAME_DEG = 1e-9
"""Ends of a range of angles are the same to this: rounding."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """Directions of a path's m segments, and over how much of them they go over into the next.

    ``ways_deg`` (m,) follow on each other without a jump of half a turn; ``lengths_mm`` (m,);
    ``blends_mm`` (m + 1,) at each point, on either side of it, and ``half_turns_deg`` (m + 1,) by
    how much on each; nothing at both ends, and where the turn is sharp.
    """

    ways_deg: Floats
    lengths_mm: Floats
    blends_mm: Floats
    half_turns_deg: Floats


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
        """Direction of each segment at its middle, degrees, in [0, 180)."""
        pairs = pairwise(self.points)
        return tuple(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 180.0 for a, b in pairs)

    def angle_at(self, x_mm: float, y_mm: float) -> float:
        """Return the direction beside a point, degrees, in [0, 180)."""
        return float(self.angles_at(np.array([[x_mm, y_mm]]))[0])

    def angles_at(self, points: Floats) -> Floats:
        """Return the directions beside (n, 2) points, (n,) degrees, each in [0, 180)."""
        if self.is_straight:
            return np.full(len(points), self.angles_deg[0])
        gaps, along = self.beside(points)
        nearest: Floats = self.ways(along)[np.arange(len(points)), gaps.argmin(axis=1)] % 180.0
        return nearest

    def beside(self, points: Floats) -> tuple[Floats, Floats]:
        """Return how far (n, 2) points are from each of the m segments, and where along it.

        Both (n, m), mm; the second is the way from the segment's beginning to what is nearest.
        """
        starts, spans, lengths = self._segments
        away = points[:, None, :] - starts
        share = ((away * spans).sum(axis=2) / lengths**2).clip(0.0, 1.0)
        return np.hypot(*np.moveaxis(away - share[:, :, None] * spans, 2, 0)), share * lengths

    def ways(self, along_mm: Floats) -> Floats:
        """Return the directions at places along each of the m segments, (n, m) mm, degrees."""
        sweep = self.sweep
        left, blends = sweep.lengths_mm - along_mm, np.maximum(sweep.blends_mm, TINY_MM)
        at_start = (1.0 - along_mm / blends[:-1]).clip(0.0)
        at_end = (1.0 - left / blends[1:]).clip(0.0)
        found: Floats = sweep.ways_deg - at_start * sweep.half_turns_deg[:-1]
        return found + at_end * sweep.half_turns_deg[1:]

    @cached_property
    def sweep(self) -> Sweep:
        """How its directions go over into each other at its points."""
        ways = np.unwrap(np.array(self.angles_deg), period=180.0)
        lengths = self._segments[2]
        shorter, turns = np.minimum(lengths[1:], lengths[:-1]) / 2, np.diff(ways) / 2
        is_fair = np.abs(turns) <= FAIR_DEG / 2 + SAME_DEG
        blends, halves = (np.pad(np.where(is_fair, those, 0.0), 1) for those in (shorter, turns))
        return Sweep(ways, lengths, blends, halves)

    @cached_property
    def _segments(self) -> tuple[Floats, Floats, Floats]:
        """Starts (n, 2), spans (n, 2) and lengths (n,): asked for at every trial."""
        points = np.asarray(self.points)
        spans = np.diff(points, axis=0)
        return points[:-1], spans, np.hypot(*spans.T)

    @cached_property
    def covered_deg(self) -> tuple[Floats, Floats]:
        """Directions that each segment has, as a middle (m,) and how far they are off that, (m,).

        Degrees; of a straight one one direction.
        """
        ways, turns = self.sweep.ways_deg, self.sweep.half_turns_deg
        ends = np.array([ways - turns[:-1], ways, ways + turns[1:]])
        low, high = ends.min(axis=0), ends.max(axis=0)
        return (low + high) / 2, (high - low) / 2

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
    middles, halves = wood.covered_deg
    turns = np.subtract.outer(middles, np.unique(ways))  # (m, k)
    # Turnings that suit a segment are a closed range about each of the wood's; where all of
    # them overlap, one of them begins.
    reaches = np.broadcast_to(reach_deg + halves[:, None], turns.shape)
    for turn in (turns - reaches).ravel():
        off = np.abs((turns - turn + 90.0) % 180.0 - 90.0) - reaches
        if (off.min(axis=0) <= SAME_DEG).all():
            return True
    return False
