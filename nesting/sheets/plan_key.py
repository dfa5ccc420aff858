"""Numbers for the parts on the lines drawing, and the key that says what they are."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Polygon

from nesting.sheets.drawing import Anchor, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import FreeSpace, first_free, heart_of, room_in
from nesting.sheets.lettering import text_width

LETTER_MM, ROW_MM, NUMBER_MM, COLUMN_GAP_MM = 2.2, 3.7, 8.0, 6.0
"""Paper mm: lettering, from row to row, room for the number, and between columns."""

HEADING_MM = 5.0

RINGS_MM = (2.2, 3.2, 4.5, 6.0, 8.0, 10.5, 13.5)
"""Paper mm: how far off its part a number is tried, the nearest first."""

TURNS = np.radians(np.arange(90.0, 450.0, 15.0))
"""In which directions: above first."""

LEADER_MM = 2.6
"""A number farther off than this has a line to its part."""


@dataclass(frozen=True)
class KeyRow:
    """One row: a number, what it is, where it came from, and the names of its lines."""

    number: int
    part: str
    source: str
    names: tuple[str, ...]

    @property
    def text(self) -> str:
        """What stands beside the number."""
        return f"{self.part}: {self.source}" if self.source else self.part


@dataclass(frozen=True)
class Key:
    """The rows, set in columns as high as there is room."""

    rows: tuple[KeyRow, ...]

    @property
    def column_mm(self) -> float:
        """Width of a column with its gap, paper mm."""
        widest = max((text_width(row.text, LETTER_MM) for row in self.rows), default=0.0)
        return NUMBER_MM + widest + COLUMN_GAP_MM

    def columns(self, height_mm: float) -> int:
        """Return how many columns a height of paper asks for."""
        return math.ceil(len(self.rows) / self._rows_in(height_mm))

    def width_mm(self, height_mm: float) -> float:
        """Return the width of paper that the rows need within a height."""
        return self.columns(height_mm) * self.column_mm

    def _rows_in(self, height_mm: float) -> int:
        return max(1, int((height_mm - HEADING_MM) / ROW_MM))

    def drawn(self, at: Point, floor: float, scale: float) -> list[Entity]:
        """Return the key with its upper left corner at a point, no lower than ``floor``."""
        x, y = at
        deep = self._rows_in((y - floor) / scale)
        # Even columns read better than full ones and a rest.
        deep = math.ceil(len(self.rows) / math.ceil(len(self.rows) / deep))
        heading = Text("No.  part: board", at, LETTER_MM * scale, Role.TABLE)
        found: list[Entity] = [heading]
        for k, row in enumerate(self.rows):
            column, line = divmod(k, deep)
            left = x + column * self.column_mm * scale
            base = y - (HEADING_MM + line * ROW_MM) * scale
            height = LETTER_MM * scale
            right = left + (NUMBER_MM - 2.0) * scale
            found.append(Text(str(row.number), (right, base), height, Role.PART_NAME, Anchor.RIGHT))
            found.append(Text(row.text, (left + NUMBER_MM * scale, base), height, Role.TABLE))
        return found


def numbers_on(
    views: Sequence[Mapping[str, Sequence[Polyline]]], key: Key, scale: float
) -> list[Entity]:
    """Return a number for every row, in the view that shows most of its part.

    Parameters
    ----------
    views
        The lines of every part by name, in each view, all on one sheet; the first is the body
        plan, in which much lies behind each other: it has the number of nothing that any other
        view shows.
    """
    taken = FreeSpace()
    taken.take(
        LineString(line.points) for view in views for lines in view.values() for line in lines
    )
    found = list[Entity]()
    for row in key.rows:
        body, *seen = [[line for n in row.names for line in view.get(n, ())] for view in views]
        most = max(seen, key=_length) or body
        if most:
            found += _numbered(row, most, taken, scale)
    return found


def _length(lines: Sequence[Polyline]) -> float:
    return sum(LineString(line.points).length for line in lines)


def _numbered(
    row: KeyRow, lines: Sequence[Polyline], taken: FreeSpace, scale: float
) -> list[Entity]:
    """Return a number inside its part, or beside it with a line to it."""
    height, label = LETTER_MM * scale, str(row.number)
    size = (text_width(label, height) + 0.3 * height, 1.1 * height)
    drawn = MultiLineString([line.points for line in lines])
    face = _largest_face(drawn)
    anchor = heart_of(face) if face is not None else _middle_of(drawn)
    inside = room_in(taken, face, size, anchor) if face is not None else None
    at = inside or first_free(taken, _round_about(anchor, scale), size) or anchor
    taken.take_box(
        (at[0] - size[0] / 2, at[1] - size[1] / 2, at[0] + size[0] / 2, at[1] + size[1] / 2)
    )
    number = Text(label, (at[0], at[1] - height / 2), height, Role.PART_NAME, Anchor.CENTRE)
    if inside is not None:
        return [number]
    return [number, *_leader(at, anchor, size, scale)]


def _round_about(anchor: Point, scale: float) -> NDArray[np.float64]:
    rings = np.array(RINGS_MM)[:, None, None] * scale
    ways = np.column_stack([np.cos(TURNS), np.sin(TURNS)])
    return np.asarray((np.asarray(anchor) + rings * ways).reshape(-1, 2))


def _largest_face(drawn: MultiLineString) -> Polygon | None:
    """Return the largest area that lines enclose."""
    faces = shapely.get_parts(shapely.polygonize([shapely.union_all(shapely.get_parts(drawn))]))
    return max(faces, key=lambda face: face.area, default=None)


def _middle_of(drawn: MultiLineString) -> Point:
    """Return the middle of the longest line."""
    longest = max(shapely.get_parts(drawn), key=lambda line: line.length)
    middle = longest.interpolate(0.5, normalized=True)
    return float(middle.x), float(middle.y)


def _leader(at: Point, anchor: Point, size: Point, scale: float) -> list[Entity]:
    """Return a line from the edge of a number to its part, where it stands off."""
    gap = math.dist(at, anchor)
    if gap <= LEADER_MM * scale:
        return []
    ux, uy = (anchor[0] - at[0]) / gap, (anchor[1] - at[1]) / gap
    clear = min(size[0] / 2 / max(abs(ux), 1e-9), size[1] / 2 / max(abs(uy), 1e-9))
    start = (at[0] + ux * clear, at[1] + uy * clear)
    return [Polyline((start, anchor), Role.PART_NAME)]
