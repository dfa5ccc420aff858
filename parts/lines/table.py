"""The table of offsets, as a builder has it: stations across, lines down, a figure in each cell.

Frame of all lines: x aft from where the table measures its stations (mostly the forward face
of the stem or the forward perpendicular), y out from the centreline, z up from the base line.
A cell is one :class:`Offset`: where one line crosses one station. What is measured in it
depends on the line: a half-breadth on a waterline, a height on a buttock, a distance from the
centreline along a diagonal; sheer and rabbet have a line of heights and one of half-breadths.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

import numpy as np

from nesting.units import Unit
from parts.curves import Crown, Points


class Face(StrEnum):
    """The side of the planking that a table or a section goes to."""

    OUTSIDE = "outside of planking"
    INSIDE = "inside of planking"


class Bilge(StrEnum):
    """What a table says of its bilge."""

    UNSAID = ""
    ROUND = "round"


class OddFigures(StrEnum):
    """What is done with figures that no fair line could have."""

    LEFT_OUT = "left out"
    KEPT = "kept"


class LineKind(StrEnum):
    """What a line of the table is on the boat."""

    SHEER = "sheer"
    RABBET = "rabbet"
    CHINE = "chine"
    WATERLINE = "waterline"
    BUTTOCK = "buttock"
    DIAGONAL = "diagonal"


EDGES = (LineKind.SHEER, LineKind.RABBET, LineKind.CHINE)
"""Lines with two figures at a station, that make a point."""


class Measure(StrEnum):
    """What the figures of a line say."""

    HEIGHT = "height"
    HALF_BREADTH = "half-breadth"
    DISTANCE = "distance along"


@dataclass(frozen=True)
class Station:
    """A plane across the boat: how its place is written, and where in the file, from 1."""

    name: str
    x_mm: float
    written: str = field(default="", compare=False)
    line: int = field(default=1, compare=False)
    column: int = field(default=1, compare=False)


@dataclass(frozen=True)
class Offset:
    """One figure of the table: in mm, as it was written, and its place in the file, from 1.

    The column of a CSV file counts its cells.
    """

    mm: float
    written: str
    line: int
    column: int = 1


@dataclass(frozen=True)
class Line:
    """One line of the table.

    Attributes
    ----------
    origin, direction
        In the plane of any station, (y, z): where its figures are measured from and which way,
        a unit vector: a waterline's from (0, its height) outward, a buttock's from (its
        half-breadth, 0) up. Sheer and rabbet have no origin: the two figures make the point.
    offsets
        One for every station; None where the line does not cross, or nobody measured.
    at
        Line and column of its name in the file.
    """

    kind: LineKind
    name: str
    measure: Measure
    offsets: tuple[Offset | None, ...]
    origin: tuple[float, float] = (0.0, 0.0)
    direction: tuple[float, float] = (1.0, 0.0)
    at: tuple[int, int] = field(default=(1, 1), compare=False)

    @property
    def title(self) -> str:
        """What a message calls the line: sheer and rabbet with what is measured."""
        twice = self.kind in EDGES
        return f"{self.name} {self.measure}" if twice else self.name

    def point(self, offset: Offset) -> tuple[float, float]:
        """Return where a figure of a waterline, buttock or diagonal puts the hull, (y, z)."""
        return (
            self.origin[0] + offset.mm * self.direction[0],
            self.origin[1] + offset.mm * self.direction[1],
        )


def waterline(name: str, height_mm: float, offsets: tuple[Offset | None, ...]) -> Line:
    """Return the line of half-breadths at a height."""
    return Line(LineKind.WATERLINE, name, Measure.HALF_BREADTH, offsets, (0.0, height_mm))


def buttock(name: str, half_breadth_mm: float, offsets: tuple[Offset | None, ...]) -> Line:
    """Return the line of heights at a distance from the centreline."""
    origin = (half_breadth_mm, 0.0)
    return Line(LineKind.BUTTOCK, name, Measure.HEIGHT, offsets, origin, (0.0, 1.0))


def diagonal(
    name: str,
    height_mm: float,
    through: tuple[float, float],
    offsets: tuple[Offset | None, ...],
) -> Line:
    """Return the diagonal that leaves the centreline at a height and runs through a point."""
    span = (through[0], through[1] - height_mm)
    length = math.hypot(*span)
    assert length > 0
    direction = (span[0] / length, span[1] / length)
    return Line(LineKind.DIAGONAL, name, Measure.DISTANCE, offsets, (0.0, height_mm), direction)


@dataclass(frozen=True)
class OffsetTable:
    """A whole table.

    Attributes
    ----------
    face, planking_mm
        Which side of the planking the offsets go to, and its thickness, square to the hull.
    stem, stern
        Further points (x, z) of the rabbet in profile beyond the stations: from the head of
        the stem down to the first station's rabbet, and from the last station's up to the
        head of a sternpost. Their ends lie on the sheer. Without, the hull ends at the
        station, at a transom or where the half-breadths vanish.
    transom
        Two points (x, z) of the transom's face on the centreline, foot and head; the surface
        runs on to the last station behind it.
    transom_at, stem_at, stern_at
        Line and column of each in the file.
    crown
        The mould that every deck beam is marked from, if given.
    unit
        What a bare number in it means.
    knuckles
        Points (x, z) at which the rabbet turns sharply in profile.
    is_round
        Whether the bilge is round, however hard it looks.
    keeps_odd
        Whether the hull follows the figures that are odd as they stand.
    read_to_mm
        How finely the figures were read, mm; None to tell it from how they are written.
    """

    name: str
    stations: tuple[Station, ...]
    lines: tuple[Line, ...]
    face: Face = Face.OUTSIDE
    planking_mm: float = 0.0
    stem: tuple[tuple[float, float], ...] = ()
    stern: tuple[tuple[float, float], ...] = ()
    transom: tuple[tuple[float, float], ...] = ()
    crown: Crown | None = None
    file: str = ""
    unit: Unit = Unit.MM
    read_to_mm: float | None = None
    knuckles: tuple[tuple[float, float], ...] = ()
    is_round: bool = False
    keeps_odd: bool = False
    transom_at: tuple[int, int] = (1, 1)
    stem_at: tuple[int, int] = (1, 1)
    stern_at: tuple[int, int] = (1, 1)

    @property
    def x(self) -> Points:
        """Where the stations stand, (n,)."""
        return np.array([station.x_mm for station in self.stations])

    @cached_property
    def written(self) -> frozenset[str]:
        """All its figures as they are written."""
        given = (offset for line in self.lines for offset in line.offsets)
        return frozenset(offset.written for offset in given if offset is not None)

    def place_of(self, line: Line) -> str:
        """Return file, line and column of the first figure of a line, for a message."""
        given = next((offset for offset in line.offsets if offset is not None), None)
        if not self.file or given is None:
            return self.file or self.name
        return f"{self.file}:{given.line}:{given.column}"

    def place_at(self, station: int) -> str:
        """Return file, line and column of the first figure of a station, for a message."""
        for line in self.lines:
            offset = line.offsets[station]
            if self.file and offset is not None:
                return f"{self.file}:{offset.line}:{offset.column}"
        return self.file or self.name

    def of_kind(self, kind: LineKind) -> tuple[Line, ...]:
        """Return the lines of a kind, in the table's order."""
        return tuple(line for line in self.lines if line.kind is kind)

    @property
    def chines(self) -> tuple[tuple[Line, Line], ...]:
        """Half-breadths and heights of each chine, the lowest and innermost first."""
        lines = self.of_kind(LineKind.CHINE)
        halves = {line.name: line for line in lines if line.measure is Measure.HALF_BREADTH}
        heights = {line.name: line for line in lines if line.measure is Measure.HEIGHT}
        both = [(halves[name], heights[name]) for name in halves if name in heights]
        return tuple(sorted(both, key=lambda pair: _mean(pair[0]) + _mean(pair[1])))

    def row(self, kind: LineKind, measure: Measure) -> Line | None:
        """Return the sheer's or the rabbet's line of heights or of half-breadths, or None."""
        return next((line for line in self.of_kind(kind) if line.measure is measure), None)


def _mean(line: Line) -> float:
    given = [offset.mm for offset in line.offsets if offset is not None]
    return sum(given) / max(len(given), 1)


def measured(section: Points, line: Line) -> float | None:
    """Return the figure a waterline, buttock or diagonal has on a section, mm.

    Parameters
    ----------
    section
        (n, 2) half-breadth and height, from the rabbet up.

    Returns
    -------
    float or None
        None where they do not meet. The meeting furthest out, of several.
    """
    out = np.array(line.direction)
    across = (section - line.origin) @ np.array([-out[1], out[0]])
    along = (section - line.origin) @ out
    on = np.flatnonzero(across == 0.0)
    cross = np.flatnonzero(across[:-1] * across[1:] < 0.0)
    share = across[cross] / (across[cross] - across[cross + 1])
    met = np.concatenate([along[on], along[cross] + share * (along[cross + 1] - along[cross])])
    if not len(met):
        return None
    return float(met.min() if line.kind is LineKind.BUTTOCK else met.max())
