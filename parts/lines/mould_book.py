"""The mould loft's book: every figure that a section is laid down by, for all sections at once.

Stations go to the side of the planking that the table goes to; frames to the inside of planking,
where their moulded edge lies.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points, distances_along
from parts.lines.hull import Hull
from parts.lines.surface import Surface
from parts.lines.table import Face, Line, LineKind, measured

SECTION_POINTS = 801
"""Points of a section: its girth is short by less than 0.01 mm in a metre."""

BESIDE = 1e-4
"""How far beside a chine, of the girth, the bevels of both sides are taken."""

HEIGHTS, HALF_BREADTHS, DIAGONALS, BEVELS, GIRTHS = (
    "heights", "half-breadths", "diagonals", "bevels, degrees", "girths from the lower edge",
)  # fmt: skip


@dataclass(frozen=True)
class Upright:
    """A plane across the boat that the book has figures of: a station or a frame."""

    name: str
    x_mm: float


@dataclass(frozen=True)
class BookRow:
    """One line of the book: a figure of every section, mm or degrees; None where it has none."""

    heading: str
    name: str
    figures: tuple[float | None, ...]

    @property
    def is_angle(self) -> bool:
        """Whether the figures are degrees."""
        return self.heading == BEVELS


@dataclass(frozen=True)
class Book:
    """All sections of a kind."""

    kind: str
    face: Face
    sections: tuple[Upright, ...]
    rows: tuple[BookRow, ...]


def book_of(hull: Hull, kind: str, sections: Sequence[Upright], face: Face) -> Book:
    """Return the book of some sections, to one face of the planking.

    Bevels are off square, square to the edge as the gauge is held, above 0 where the hull draws in
    going aft. Rows that have no figure at all are left out.
    """
    found = [_Section(hull, place.x_mm, face) for place in sections]
    measures = list(_measures(hull, face))
    rows = [
        BookRow(heading, name, tuple(section.asked(ask) for section in found))
        for heading, name, ask in measures
    ]
    kept = [row for row in rows if any(figure is not None for figure in row.figures)]
    return Book(kind, face, tuple(sections), tuple(kept))


Ask = Callable[["_Section"], "float | None"]


class _Section:
    """One section: its points from the rabbet up, the girth to each, and their parameters."""

    def __init__(self, hull: Hull, x: float, face: Face) -> None:
        self.hull, self.x, self.face = hull, x, face
        surface: Surface = hull.surface(face)
        low, high = hull.ends
        self.surface = surface
        self.points: Points = np.zeros((0, 2))
        self.u: Points = np.zeros(0)
        if low <= x <= high:
            self.points, parameters = surface.section(x, surface.across(SECTION_POINTS))
            self.u = parameters[:, 1]
        self.along = distances_along(self.points)

    def asked(self, ask: Ask) -> float | None:
        """Return a figure; None where the section does not have it."""
        if len(self.points) < 2:
            return None
        try:
            return ask(self)
        except ShapeError:
            return None

    def at(self, edge: int) -> int | None:
        """Return the number of the point on an edge, the rabbet being edge 0; None if none is.

        Forward of where a chine meets the stem the panel above it begins at the rabbet.
        """
        many = len(self.surface.patches)
        if edge == 0:
            foot = float(self.u[0]) * many
            return 0 if abs(foot - round(foot)) < BESIDE * many else None
        near = int(np.abs(self.u - edge / many).argmin())
        return near if near > 0 and abs(self.u[near] - edge / many) < BESIDE else None

    def bevel(self, u: float) -> float | None:
        """Return the bevel at a place over the girth."""
        t, passes = self.surface.way(self.x, np.array([u]))
        if not passes[0]:
            return None
        ahead, out, up = self.surface.normals(t, np.array([u]))[0]
        return math.degrees(math.atan2(ahead, math.hypot(out, up)))

    def reaches(self, z: float) -> bool:
        """Return whether it goes up or down to a height."""
        return bool(self.points[0, 1] <= z <= self.points[-1, 1])

    def girth_to(self, z: float) -> float | None:
        """Return the girth from the rabbet up to a height."""
        if not self.reaches(z):
            return None
        return float(np.interp(z, self.points[:, 1], self.along))


def _measures(hull: Hull, face: Face) -> Iterator[tuple[str, str, Ask]]:
    """Yield heading, name and way to find each line of the book."""
    foot = "rabbet" if face is hull.table.face else "bearding line"
    many = len(hull.table.chines) + 1
    edges = [("sheer", many)]
    edges += [(pair[0].name, n + 1) for n, pair in enumerate(hull.table.chines)][::-1]
    edges.append((foot, 0))
    for heading, column in ((HEIGHTS, 1), (HALF_BREADTHS, 0)):
        for name, edge in edges:
            yield heading, name, _edge(edge, column)
        kind = LineKind.BUTTOCK if heading == HEIGHTS else LineKind.WATERLINE
        for line in hull.table.of_kind(kind):
            yield heading, line.name, _met(line)
    for line in hull.table.of_kind(LineKind.DIAGONAL):
        yield DIAGONALS, line.name, _met(line)
    yield from _bevels(hull, edges)
    for line in hull.table.of_kind(LineKind.WATERLINE):
        z = line.origin[1]
        yield GIRTHS, f"to {line.name}", _girth_to(z)
    for name, edge in edges[-2::-1]:
        yield GIRTHS, f"to {name}", _girth(edge)


def _edge(edge: int, column: int) -> Ask:
    def ask(section: _Section) -> float | None:
        at = section.at(edge)
        return None if at is None else float(section.points[at, column])

    return ask


def _girth(edge: int) -> Ask:
    def ask(section: _Section) -> float | None:
        at = section.at(edge)
        return None if at is None else float(section.along[at])

    return ask


def _bevels(hull: Hull, edges: list[tuple[str, int]]) -> Iterator[tuple[str, str, Ask]]:
    """Yield the bevels at every edge and waterline; at a chine those of both panels."""
    for name, edge in edges:
        if 0 < edge < len(hull.table.chines) + 1:
            for word, beside in (("above", BESIDE), ("below", -BESIDE)):
                yield BEVELS, f"{word} {name}", _bevel_beside(edge, beside)
        else:
            yield BEVELS, f"at {name}", _bevel_beside(edge)
    for line in hull.table.of_kind(LineKind.WATERLINE):
        z = line.origin[1]
        yield BEVELS, f"at {line.name}", _bevel_at(z)


def _met(line: Line) -> Ask:
    return lambda section: measured(section.points, line)


def _girth_to(z: float) -> Ask:
    return lambda section: section.girth_to(z)


def _bevel_beside(edge: int, beside: float = 0.0) -> Ask:
    def ask(section: _Section) -> float | None:
        at = section.at(edge)
        return None if at is None else section.bevel(float(section.u[at]) + beside)

    return ask


def _bevel_at(z: float) -> Ask:
    return lambda section: section.hull.bevel(section.x, z, section.face)
