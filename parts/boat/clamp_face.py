"""The clamp as it lies on the frames: flat across, so that its inner face is no hull's inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from parts.curves import Points

SHARP_MM = 1e-6
"""Two heights of a section nearer than this are one."""


@dataclass(frozen=True, eq=False)
class ClampFace:
    """The inner face of a clamp along the boat.

    Attributes
    ----------
    foot, head
        (n, 3) the corners of its lower and of its upper edge on the frames, from forward.
    thickness_mm
        Of the clamp.
    """

    foot: Points
    head: Points
    thickness_mm: float

    @cached_property
    def inward(self) -> Points:
        """Unit directions square to it, into the boat, (n, 3)."""
        along = np.gradient((self.foot + self.head) / 2, axis=0)
        way = np.cross(along, self.head - self.foot)
        return np.asarray(way / np.linalg.norm(way, axis=1)[:, None])

    def upward(self, x: Points) -> Points:
        """Return the directions across it, foot to head, at places, (n, 3)."""
        across = (self.head - self.foot).T
        return np.column_stack([np.interp(x, self.foot[:, 0], part) for part in across])

    def is_beside(self, x: float) -> bool:
        """Return whether there is clamp at a place."""
        return self._reach[0] <= x <= self._reach[1]

    @cached_property
    def _reach(self) -> tuple[float, float]:
        deep = self.foot[[0, -1], 0] + self.thickness_mm * self.inward[[0, -1], 0]
        return float(deep[0]), float(deep[1])

    def corners(self, x: float) -> tuple[Points, Points]:
        """Return half-breadth and height of its inner corners, the lower and the upper, (2,)."""
        foot, head, _ = self._lines
        return np.asarray(foot(x)), np.asarray(head(x))

    def top(self, x: float) -> tuple[float, float]:
        """Return half-breadth of the inner upper corner, and the height of the higher corner."""
        inner, outer = self.corners(x)[1], self._lines[2](x)
        return float(inner[0]), float(max(inner[1], outer[1]))

    @cached_property
    def _lines(self) -> tuple[Callable[[float], Points], ...]:
        """Half-breadth and height along the boat: inner corners below and above, outer above."""
        from scipy.interpolate import CubicSpline

        deep = self.thickness_mm * self.inward
        lines = self.foot + deep, self.head + deep, self.head
        return tuple(CubicSpline(line[:, 0], line[:, 1:]) for line in lines)

    def laid_on(self, section: Callable[[float], Points]) -> Callable[[float], Points]:
        """Return a half section, (n, 2) at a place, with this face where it lies further in."""

        def cut(x: float) -> Points:
            line = section(x)
            if not self.is_beside(x):
                return line
            foot, head = self.corners(x)
            if head[1] <= foot[1] + SHARP_MM:
                return line
            first = int(np.searchsorted(line[:, 1], foot[1] - SHARP_MM))
            over = line[first:]
            heights = np.union1d(over[:, 1], [foot[1], head[1]])
            half = np.interp(heights, line[:, 1], line[:, 0])
            is_clamp = (heights >= foot[1]) & (heights <= head[1])
            flat = np.interp(heights, [foot[1], head[1]], [foot[0], head[0]])
            half = np.where(is_clamp, np.minimum(half, flat), half)
            return np.vstack([line[:first], np.column_stack([half, heights])])

        return cut
