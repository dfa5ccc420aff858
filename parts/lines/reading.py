"""A table of offsets as it is read when it is faired: what stands in for odd figures, and how firm.

What is odd is known only after a first fairing; each later one reads the same table otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from parts.lines.table import OffsetTable
from parts.lines.tolerance import rounding_mm

PINNED_MM = 0.02
"""Scatter of a point that is to be met as it stands."""

Cell = tuple[int, int]
"""A figure of the table: the number of its line and of its station."""


@dataclass(frozen=True)
class Reading:
    """A table as it is read: without what is odd in it.

    Attributes
    ----------
    put
        What stands in for each odd figure of an edge: mm and the doubt of that; None where the
        line is to find it by itself. Odd figures of other lines are there too, and left out.
    moved
        Where the surface beside a noisy edge has its figures, mm, and how unsure that is.
    noise
        Factor on the figures' rounding, as the whole table has it; 1 until it is known.
    nailed
        Figures that the hull must pass as they stand.
    """

    table: OffsetTable
    put: dict[Cell, tuple[float, float] | None] = field(default_factory=dict)
    moved: dict[Cell, tuple[float, float]] = field(default_factory=dict)
    noise: float = 1.0
    nailed: frozenset[Cell] = frozenset()

    def points(self, number: int | None, constant: float) -> list[Point]:
        """Return the points that a line has at the stations, or the same everywhere."""
        x = self.table.x
        if number is None:
            return [Point(float(at), constant, n, 0.0, PINNED_MM) for n, at in enumerate(x)]
        found, rounding = [], rounding_mm(self.table)
        for n, offset in enumerate(self.table.lines[number].offsets):
            put, moved = self.put.get((number, n)), self.moved.get((number, n))
            if put is not None:
                found.append(Point(float(x[n]), put[0], n, 0.0, put[1]))
            elif moved is not None:
                found.append(Point(float(x[n]), moved[0], n, moved[1] / self.noise, 0.0))
            elif offset is not None and (number, n) in self.nailed:
                found.append(Point(float(x[n]), offset.mm, n, 0.0, PINNED_MM))
            elif offset is not None and (number, n) not in self.put:
                found.append(Point(float(x[n]), offset.mm, n, rounding, 0.0))
        return found


@dataclass(frozen=True)
class Point:
    """One point of a row; see :class:`~parts.lines.rows.Row`."""

    x: float
    value: float
    station: int
    scatter: float
    firm: float
