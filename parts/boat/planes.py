"""Planes through the boat, and where they cut the hull."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nesting.errors import PartError
from parts.curves import Points

PAST_SHEER_MM = 60.0
"""A section is run on so far past the sheer, straight: a knee's upper face may pass there, where
the crown lifts it."""


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane: a point (3,) mm, and its unit normal (3,)."""

    origin: Points
    normal: Points

    def moved(self, distance_mm: float) -> Plane:
        """Return the plane moved along its normal."""
        return Plane(self.origin + distance_mm * self.normal, self.normal)

    def above(self, points: Points) -> Points:
        """Return how far (n, 3) points lie on the normal's side, (n,) mm."""
        return np.asarray((points - self.origin) @ self.normal)

    def line_with(self, other: Plane) -> tuple[Points, Points]:
        """Return a point and the unit direction of the line in which two planes meet."""
        along = np.cross(self.normal, other.normal)
        length = float(np.linalg.norm(along))
        assert length > 1e-9, "the planes of a knee and of its beam cross"
        rows = np.vstack([self.normal, other.normal, along / length])
        right = [
            self.normal @ self.origin,
            other.normal @ other.origin,
            along @ self.origin / length,
        ]
        return np.linalg.solve(rows, np.array(right)), along / length


def plane_through(first: Points, second: Points, third: Points) -> Plane:
    """Return the plane through three points, its normal up."""
    normal = np.cross(second - first, third - first)
    normal = normal / np.linalg.norm(normal)
    return Plane(first, normal if normal[2] >= 0 else -normal)


def run_on(section: Points) -> Points:
    """Return a half section run on straight past the sheer."""
    run = section[-1] - section[-3]
    past = section[-1] + PAST_SHEER_MM * run / np.hypot(*run)
    return np.vstack([section, past])


def cut_at(plane: Plane, section: Callable[[float], Points], x: Points) -> Points:
    """Return where a plane cuts the starboard half of a hull, (n, 3), at places along the boat.

    Raises
    ------
    PartError
        If it misses the hull at one of them.
    """
    found = []
    for place in x.tolist():
        line = run_on(section(place))
        points = np.column_stack([np.full(len(line), place), line])
        off = plane.above(points)
        turns = np.flatnonzero(off[:-1] * off[1:] <= 0)
        if not len(turns):
            raise PartError(
                f"this knee misses the hull's side at {place:.0f} mm from forward: shorten its "
                "side arm or move it"
            )
        i = int(turns[-1])
        share = off[i] / (off[i] - off[i + 1]) if off[i] != off[i + 1] else 0.0
        found.append(points[i] + share * (points[i + 1] - points[i]))
    return np.array(found)
