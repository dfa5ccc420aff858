"""The faired hull: everything a part has to know of the shape it fits.

Frame: x aft, y out from the centreline to one side, z up, as in the table of offsets. Degrees.
The *outside* and the *inside of planking* are two surfaces, the plank's thickness apart, square
to the hull and not just level: in a bow of 45 degrees the level distance is 1.4 times as much.
Parts inside the boat fit the inside, which is what every question answers unless it is asked
for the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.develop import Development, develop
from parts.lines.fairing import fair
from parts.lines.planking_faces import Faces
from parts.lines.read_table import read_table
from parts.lines.table import Face, OffsetTable


@dataclass(frozen=True, eq=False)
class Hull(Faces):
    """A hull faired from a table of offsets."""

    # ---- edges ----------------------------------------------------------------------------

    def sheer(self, x: float, face: Face = Face.INSIDE) -> tuple[float, float]:
        """Return half-breadth and height of the sheer: the upper edge of the planking."""
        y, z = self.section(x, face)[-1]
        return float(y), float(z)

    def keel(self, x: float, face: Face = Face.OUTSIDE) -> tuple[float, float]:
        """Return half-breadth and height of the rabbet.

        On the outside of planking it is the rabbet line, on the inside the bearding line where
        the plank's inner edge lies.
        """
        y, z = self.section(x, face)[0]
        return float(y), float(z)

    # ---- lines that run the boat's length -------------------------------------------------

    def waterline(self, z: float, face: Face = Face.OUTSIDE, count: int = 201) -> Points:
        """Return a waterline, (n, 2) x and half-breadth, as far as the hull has that height.

        It ends where it meets rabbet or sheer.
        """
        rows = list[tuple[float, float]]()
        before: tuple[float, Points] | None = None
        for x, section in self._sections(face, count):
            is_in = bool(section[0, 1] <= z <= section[-1, 1])
            was_in = before is not None and bool(before[1][0, 1] <= z <= before[1][-1, 1])
            if before is not None and is_in != was_in:
                rows.append(_meeting(before, (x, section), z))
            if is_in:
                rows.append((x, float(np.interp(z, section[:, 1], section[:, 0]))))
            before = x, section
        return np.array(rows).reshape(-1, 2)

    def buttock(self, y: float, face: Face = Face.OUTSIDE, count: int = 201) -> Points:
        """Return a buttock, (n, 2) x and height, as far as the hull is so wide."""
        rows = []
        for x, section in self._sections(face, count):
            if section[0, 0] <= y <= section[:, 0].max():
                first = int(np.flatnonzero(section[:, 0] >= y)[0])
                pair = section[max(first - 1, 0) : first + 1]
                rows.append((x, float(np.interp(y, pair[:, 0], pair[:, 1]))))
        return np.array(rows).reshape(-1, 2)

    def _sections(self, face: Face, count: int) -> list[tuple[float, Points]]:
        """Return places along the boat, close together at its ends, with their sections."""
        low, high = self.ends
        surface = self.surface(face)
        turn = np.linspace(0.0, math.pi, count)
        found = []
        for x in (low + high) / 2 - np.cos(turn) * (high - low) / 2:
            points, _ = surface.section(float(x), surface.girth)
            if len(points) > 1:
                found.append((float(x), points))
        return found

    def transom(self, face: Face = Face.OUTSIDE) -> Points:
        """Return half the transom's outline in its own plane, from its foot up to the sheer.

        Returns
        -------
        Points
            (n, 2) half-breadth, and distance up the slope from the foot.

        Raises
        ------
        ShapeError
            If the table gives no transom, or it does not cut the hull.
        """
        if len(self.table.transom) != 2:
            raise ShapeError(f"{self.table.name or 'the table'} gives no transom: foot and head")
        (foot_x, foot_z), (head_x, head_z) = self.table.transom
        up = np.array([head_x - foot_x, head_z - foot_z])
        up = up / np.hypot(*up)
        surface = self.surface(face)
        past = (surface.net[..., 0] - foot_x) * up[1] - (surface.net[..., 2] - foot_z) * up[0]
        rows = []
        for column in range(len(surface.u)):
            crossed = np.flatnonzero((past[:-1, column] < 0) & (past[1:, column] >= 0))
            if len(crossed):
                k = int(crossed[-1])
                share = past[k, column] / (past[k, column] - past[k + 1, column])
                t = surface.t[k] + share * (surface.t[k + 1] - surface.t[k])
                x, y, z = surface.at(np.array([t]), surface.u[column : column + 1])[0]
                rows.append((y, (x - foot_x) * up[0] + (z - foot_z) * up[1]))
        if len(rows) < 2:
            raise ShapeError("the transom does not cut the hull: check its foot and head")
        return np.array(rows)

    def strip(
        self, lower: Points, upper: Points, face: Face = Face.OUTSIDE, across: int = 7
    ) -> Points:
        """Return the net of a strip between two edges on the hull, (n, across, 3).

        Parameters
        ----------
        lower, upper
            (n, 2) places along each edge, x and height; the k-th of one lies across from the
            k-th of the other.
        """
        if lower.shape != upper.shape or lower.ndim != 2 or len(lower) < 2:
            raise ShapeError(
                f"a strip has two edges of as many places, 2 or more; got {lower.shape} and "
                f"{upper.shape}"
            )
        edges = [
            np.array([np.concatenate(self._place(float(x), float(z), face)) for x, z in edge])
            for edge in (lower, upper)
        ]
        share = np.linspace(0.0, 1.0, across)[:, None]
        net = edges[0][:, None] * (1 - share) + edges[1][:, None] * share
        points = self.surface(face).at(net[..., 0].ravel(), net[..., 1].ravel())
        return points.reshape(len(lower), across, 3)

    def develop(
        self, lower: Points, upper: Points, face: Face = Face.OUTSIDE, across: int = 7
    ) -> Development:
        """Return the strip between two edges on the hull laid flat; see :meth:`strip`."""
        return develop(self.strip(lower, upper, face, across))


def _meeting(
    one: tuple[float, Points], other: tuple[float, Points], z: float
) -> tuple[float, float]:
    """Return where a height passes out through rabbet or sheer between two sections."""
    for end in (0, -1):
        first, second = one[1][end], other[1][end]
        if (first[1] - z) * (second[1] - z) <= 0 and first[1] != second[1]:
            share = (z - first[1]) / (second[1] - first[1])
            return (
                one[0] + share * (other[0] - one[0]),
                float(first[0] + share * (second[0] - first[0])),
            )
    return other[0], float(other[1][0, 0])


def hull_of(table: OffsetTable) -> Hull:
    """Return the hull of a table.

    Raises
    ------
    ShapeError
        If the table has too little to make a surface of.
    """
    return Hull(fair(table))


@lru_cache(maxsize=8)
def _read(path: Path, _changed: int) -> Hull:
    return hull_of(read_table(path))


def read_hull(path: Path) -> Hull:
    """Read a table of offsets and fair it; the same file unchanged is faired once.

    Raises
    ------
    ProjectFileError
        With everything wrong in the file.
    ShapeError
        If the table has too little to make a surface of.
    """
    changed = path.stat().st_mtime_ns if path.is_file() else 0
    return _read(path.resolve(), changed)
