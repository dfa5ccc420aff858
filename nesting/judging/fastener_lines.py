"""Fasteners of a joint as they stand in a member: where along it, where across, what is left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.judging.old_boat import Joint, OldBoat
from nesting.judging.ways import Left

LAP_EDGE_MM = 10.0
"""From the edge of a plank to the middle of its lap on the next one, if nothing else is said: laps
of 3/4 to 1 in (common practice, no source)."""

FROM_END_MM = 50.0
"""From the end of a piece to a fastener that holds it there, and from that to the next: a beam's
bolt through the middle of a clamp or shelf of 4 in (common practice, no source)."""


@dataclass(frozen=True)
class Line:
    """Fasteners of one joint as they stand in a member: all along it, or at its ends alone."""

    joint: Joint
    left: Left
    spacing_mm: float
    rows: int
    from_edge_mm: float
    is_at_ends: bool = False

    def count(self, length_mm: float) -> int:
        """Return how many places of fasteners a piece has."""
        return max(1, round(length_mm / self.spacing_mm))

    def step_mm(self, length_mm: float) -> float:
        """Return from one place of fasteners to the next along a piece."""
        count = self.count(length_mm)
        if self.is_at_ends:
            return min(FROM_END_MM, length_mm / (count + 1))
        return length_mm / count

    def along_mm(self, length_mm: float) -> list[float]:
        """Return how far from the left end of a piece its places of fasteners are.

        >>> from nesting.judging.old_boat import Fastener
        >>> joint = Joint("beam", "clamp", Fastener.BOLT, 9.5, 1000.0)
        >>> Line(joint, Left(), 1000.0, 1, 0.0).along_mm(3000.0)
        [500.0, 1500.0, 2500.0]
        >>> Line(joint, Left(), 1000.0, 1, 0.0, is_at_ends=True).along_mm(3000.0)
        [50.0, 100.0, 2950.0]
        """
        count, step = self.count(length_mm), self.step_mm(length_mm)
        if not self.is_at_ends:
            return [(place + 0.5) * step for place in range(count)]
        at_left = (count + 1) // 2
        return [
            (place + 1) * step if place < at_left else length_mm - (count - place) * step
            for place in range(count)
        ]

    def in_a_metre(self, length_mm: float) -> float:
        """Return the most fasteners in any metre of a piece."""
        if not self.is_at_ends:
            return 1000.0 * self.rows / self.spacing_mm
        count = self.count(length_mm)
        return self.rows * (count if length_mm < 1000.0 else (count + 1) // 2)

    def across_mm(self, width_mm: float) -> list[float]:
        """Return how far from the lower edge of a piece the rows stand."""
        if self.rows == 1:
            return [self.from_edge_mm or width_mm / 2]
        edge = self.from_edge_mm or width_mm / (self.rows + 1)
        return [float(at) for at in np.linspace(edge, width_mm - edge, self.rows)]


def lines_of(boat: OldBoat, joint: Joint, left: Left, name: str) -> list[Line]:
    """Return the fasteners of a joint as they stand in a member.

    Planks that lap each other are fastened along both edges: to the one below and the one above.
    """
    spacing = boat.spacing_on(joint, name)
    if joint.of == joint.to:
        edge = joint.from_edge_mm or LAP_EDGE_MM
        rows = [edge, boat.by_name[name].width_mm - edge] * joint.rows
        return [Line(joint, left, spacing, 1, at) for at in rows]
    if joint.of == name:
        return [Line(joint, left, spacing, joint.rows, joint.from_edge_mm, joint.is_at_ends)]
    return [Line(joint, left, spacing, 1, 0.0)]
