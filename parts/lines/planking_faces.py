"""Both faces of a hull's planking, and what can be asked at one place of a section."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nesting.errors import Finding, ShapeError
from parts.curves import Points, distances_along
from parts.lines.faired_edges import Edges
from parts.lines.fairing import Fairing, OddOffset
from parts.lines.surface import Surface
from parts.lines.table import Face, OffsetTable

AT_CHINE = 1e-9
"""Panels take equal parts of the girth's parameter: a point of a section whose share is as near to
a whole number of them is that of a chine."""

MOST_SECTIONS = 4096
"""Sections of a hull that are kept; then the first go."""


@dataclass(frozen=True, eq=False)
class Faces:
    """The inside and the outside of planking of a faired table."""

    fairing: Fairing

    @property
    def table(self) -> OffsetTable:
        """The table it was made from."""
        return self.fairing.table

    @property
    def odd(self) -> tuple[OddOffset, ...]:
        """Figures of the table that are off the fair hull by more than an eighth of an inch."""
        return self.fairing.odd

    @property
    def whole(self) -> tuple[Finding, ...]:
        """The line, label or station of the table that is wrong as a whole; none if none is."""
        return (self.fairing.whole.finding,) if self.fairing.whole else ()

    @property
    def notes(self) -> tuple[Finding, ...]:
        """What the table lacks at its ends, and what was taken for it."""
        return self.fairing.notes

    @property
    def ends(self) -> tuple[float, float]:
        """Where the hull begins and ends, x."""
        return self.edges.ends

    @property
    def edges(self) -> Edges:
        """Sheer and rabbet, faired."""
        return self.fairing.edges

    @cached_property
    def _surfaces(self) -> dict[Face, Surface]:
        given, thick = self.fairing.surface, self.table.planking_mm
        other = Face.INSIDE if self.table.face is Face.OUTSIDE else Face.OUTSIDE
        out = thick if other is Face.OUTSIDE else -thick
        return {self.table.face: given, other: given.moved(out) if thick else given}

    def surface(self, face: Face = Face.INSIDE) -> Surface:
        """Return one face of the planking."""
        return self._surfaces[face]

    @cached_property
    def _known_sections(self) -> dict[tuple[float, Face], tuple[Points, Points]]:
        """Those asked for so far, the first first; they go with the hull."""
        return {}

    def _section(self, x: float, face: Face) -> tuple[Points, Points]:
        """Return a section's points and their parameters, rabbet to sheer; each is made once."""
        known, key = self._known_sections, (x, face)
        if key not in known:
            if len(known) == MOST_SECTIONS:
                del known[next(iter(known))]
            known[key] = self._cut(x, face)
        return known[key]

    def _cut(self, x: float, face: Face) -> tuple[Points, Points]:
        low, high = self.ends
        if not low - 1e-6 <= x <= high + 1e-6:
            raise ShapeError(
                f"there is no hull at {x:g} mm: it runs from {low:.0f} to {high:.0f} mm"
            )
        surface = self.surface(face)
        points, parameters = surface.section(x, surface.girth)
        if len(points) < 2:
            raise ShapeError(
                f"the {face} has no section at {x:g} mm: that close to the end is only planking"
            )
        points.flags.writeable = parameters.flags.writeable = False
        return points, parameters

    def section(self, x: float, face: Face = Face.INSIDE) -> Points:
        """Return a section, (n, 2) half-breadth and height, from the rabbet up to the sheer."""
        return self._section(float(x), face)[0]

    def chines(self, x: float, face: Face = Face.INSIDE) -> Points:
        """Return half-breadth and height of every chine of a section, (k, 2), from below.

        Points of :meth:`section`, at which it is broken.
        """
        section, parameters = self._section(float(x), face)
        many = len(self.surface(face).patches)
        across = parameters[1:-1, 1] * many
        return section[1:-1][np.abs(across - np.round(across)) < AT_CHINE]

    def half_breadth(self, x: float, z: float, face: Face = Face.INSIDE) -> float:
        """Return the half-breadth at a height.

        Raises
        ------
        ShapeError
            If the section does not reach that height.
        """
        return float(self._point(x, z, face)[1])

    def height_at(self, x: float, y: float, face: Face = Face.INSIDE) -> float:
        """Return the height at which a section passes a half-breadth, the lowest of several.

        Raises
        ------
        ShapeError
            If the section does not reach so far out, or the keel stands there.
        """
        section, parameters = self._section(float(x), face)
        across = section[:, 0] - y
        found = np.flatnonzero(across[:-1] * across[1:] <= 0.0)
        if not len(found):
            low, high = section[:, 0].min(), section[:, 0].max()
            raise ShapeError(
                f"the section at {x:g} mm does not cross a half-breadth of {y:g} mm; it goes "
                f"from {low:.1f} to {high:.1f} mm"
            )
        t, u = self._refined(x, face, parameters, int(found[0]), (1, y))
        return float(self.surface(face).at(t, u)[0, 2])

    def normal(self, x: float, z: float, face: Face = Face.INSIDE) -> Points:
        """Return the (3,) unit normal at a height of a section, outward."""
        t, u = self._place(x, z, face)
        return np.asarray(self.surface(face).normals(t, u)[0])

    def bevel(self, x: float, z: float, face: Face = Face.INSIDE) -> float:
        """Return the bevel of a frame's edge at a height of a section.

        Degrees off square, measured square to the edge as the bevel gauge is held. Positive
        where the hull draws in going aft: the frame's after face is the smaller there.
        """
        ahead, out, up = self.normal(x, z, face)
        return math.degrees(math.atan2(ahead, math.hypot(out, up)))

    def girth(
        self, x: float, z0: float | None = None, z1: float | None = None, face: Face = Face.INSIDE
    ) -> float:
        """Return the girth of a section between two heights; from rabbet to sheer by default."""
        section, _ = self._section(float(x), face)
        along = distances_along(section)
        ends = [
            default if z is None else float(np.interp(z, section[:, 1], along))
            for z, default in ((z0, 0.0), (z1, float(along[-1])))
        ]
        return ends[1] - ends[0]

    def section_area(self, x: float, z: float, face: Face = Face.OUTSIDE) -> float:
        """Return the area of both sides of a section up to a height, mm2."""
        section, _ = self._section(float(x), face)
        if z <= section[0, 1]:
            return 0.0
        top = min(z, float(section[-1, 1]))
        below = section[section[:, 1] < top]
        cut = [float(np.interp(top, section[:, 1], section[:, 0])), top]
        wet = np.vstack([below, cut])
        return float(2 * np.trapezoid(wet[:, 0], wet[:, 1]))

    def _point(self, x: float, z: float, face: Face) -> Points:
        t, u = self._place(x, z, face)
        return np.asarray(self.surface(face).at(t, u)[0])

    def point(self, x: float, z: float, face: Face = Face.INSIDE) -> Points:
        """Return the (3,) point of the hull at a height of a section."""
        return self._point(x, z, face)

    def _place(self, x: float, z: float, face: Face) -> tuple[Points, Points]:
        """Return the parameters at a height of a section."""
        section, parameters = self._section(float(x), face)
        up = section[:, 1] - z
        found = np.flatnonzero(up[:-1] * up[1:] <= 0.0)
        if not len(found):
            raise ShapeError(
                f"the section at {x:g} mm goes from {section[0, 1]:.1f} to "
                f"{section[-1, 1]:.1f} mm high and has nothing at {z:g} mm"
            )
        return self._refined(x, face, parameters, int(found[-1]), (2, z))

    def _refined(
        self, x: float, face: Face, parameters: Points, first: int, wanted: tuple[int, float]
    ) -> tuple[Points, Points]:
        """Return the parameters between two points of a section where a coordinate is met."""
        surface, (axis, value) = self.surface(face), wanted
        u = parameters[first : first + 2, 1]
        off = self._coordinate(surface, x, u, axis) - value
        for _ in range(4):
            share = off[0] / (off[0] - off[1]) if off[0] != off[1] else 0.5
            middle = np.array([u[0] + share * (u[1] - u[0])])
            at = float(self._coordinate(surface, x, middle, axis)[0]) - value
            side = 0 if at * off[0] > 0 else 1
            u, off = u.copy(), off.copy()
            u[side], off[side] = middle[0], at
        return surface.way(x, middle)[0], middle

    def _coordinate(self, surface: Surface, x: float, u: Points, axis: int) -> Points:
        return np.asarray(surface.at(surface.way(x, u)[0], u)[:, axis])
