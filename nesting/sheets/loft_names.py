"""Names of the lines of a lines drawing, each where it touches nothing.

Where a line has no room for its name, that stands farther off, with a leader.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely

from nesting.sheets.drawing import RISE, TAIL, Anchor, Entity, Point, Polyline, Role, Text
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.lettering import text_width
from nesting.sheets.lines_plan import Box, View

SMALL_MM = 2.0
"""Height of a name's capitals on paper."""

ROLES = {
    "section": Role.SECTION,
    "waterline": Role.WATERLINE,
    "buttock": Role.BUTTOCK,
    "diagonal": Role.DIAGONAL,
    "sheer": Role.SHEER,
    "chine": Role.CHINE,
    "rabbet": Role.RABBET,
    "transom": Role.TRANSOM,
    "grid": Role.GRID,
}
"""What each kind of line is drawn as; a straight one of the grid keeps to the grid's layer."""

SHORT = {"waterline": "WL", "buttock": "B", "diagonal": "D"}
"""How long lines are called on the drawing."""

LEVEL = 0.35
"""Rise over run of a line past which no level name is set along it."""

ASIDE_MM = (0.0, 1.3, -1.3)
"""How far beside a section's head its name is tried: off a line of the grid through it."""

APART_MM = 0.8
"""Paper mm at least between one name and the next on a level: nearer, 7 and 9 are read as 79."""

LED_AWAY_MM, LED_WAYS_DEG = (4.0, 7.0, 10.0, 14.0), (120, 60, 150, 30, 240, 300, 210, 330)
"""How far off, and which ways, the name of a line is tried that has no room along it."""

END_AWAY_MM = (1.2, 4.0, 6.5, 9.0)
"""How far off its end a level line's name is tried, within the room for names at the side."""

ROWS_BELOW = 4
"""In so many rows below a view names of plumb lines are tried, within the room for them there."""

TRIED = 61
"""Places along a line at which its name is tried."""

FIRST_SHARE = 0.3
"""Where along a line its name is tried first."""


@dataclass(frozen=True)
class Line:
    """A named line, moved to its place on the sheet."""

    kind: str
    name: str
    points: tuple[Point, ...]


def box_of(view: Iterable[Line] | View) -> Box:
    """Return low x, low y, high x, high y of a view's lines."""
    x, y = np.array([point for line in view for point in line.points]).T
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def short(name: str) -> str:
    """Return what a line is called on the drawing.

    >>> short("waterline 3-0-0"), short("sheer")
    ('WL 3-0-0', 'sheer')
    """
    first, _, rest = name.partition(" ")
    return f"{SHORT[first]} {rest}" if first in SHORT else name


class Names:
    """The names of all lines, each where it touches nothing."""

    def __init__(self, views: Sequence[list[Line]], scale: float) -> None:
        self.views, self.scale = views, scale
        self.space = FreeSpace()
        for line in (line for view in views for line in view):
            self.space.take([shapely.LineString(line.points)], is_soft=line.kind == "grid")

    def all(self) -> list[Entity]:
        """Return every name."""
        body, profile, plan = self.views
        # Names of straight lines have few places, those of stations many.
        found: list[Entity] = [*self._grid(body, is_body=True), *self._stations(body)]
        for view in (profile, plan):
            found += self._grid(view, is_body=False)
        for view in (profile, plan):
            found += self._long_lines(view)
        return found

    def _text(self, name: str, at: Point, anchor: Anchor, role: Role) -> Text:
        text = Text(name, at, SMALL_MM * self.scale, role, anchor)
        self.space.take_box(text.box)
        return text

    def _stations(self, body: list[Line]) -> Iterator[Text]:
        """Yield each station's name over its section, above those that stand there already."""
        heads: dict[str, Point] = {}
        for line in body:
            if line.kind == "section":
                heads[line.name] = max(line.points[-1], heads.get(line.name, line.points[-1]))
        step = 1.5 * SMALL_MM * self.scale
        for name, (x, y) in heads.items():
            rows = [
                (x + aside * self.scale, y + (row - 0.5) * step)
                for row in range(1, 9)
                for aside in ASIDE_MM
            ]
            tried = ((at, heeds) for heeds in (True, False) for at in rows)
            free = (at for at, heeds in tried if self._is_free(name, at, Anchor.CENTRE, heeds))
            at = next(free, (x, y))
            yield self._text(name, at, Anchor.CENTRE, Role.NOTE)

    def _grid(self, view: list[Line], *, is_body: bool) -> Iterator[Entity]:
        """Yield the names of straight lines: level ones at their ends, plumb ones below."""
        floor = box_of(view)[1] - (SMALL_MM + 1.5) * self.scale
        for line in view:
            if line.kind != "grid":
                continue
            start, end = line.points[0], line.points[-1]
            name = short(line.name)
            if start[0] == end[0]:
                yield from self._below(name, (start[0], floor))
            elif is_body and start[1] != end[1]:
                yield from self._at_an_end(name, [(end, np.sign(end[0] - start[0]))])
            else:
                yield from self._at_an_end(name, [(start, -1.0), (end, 1.0)])

    def _at_an_end(self, name: str, ends: Sequence[tuple[Point, float]]) -> Iterator[Entity]:
        """Yield a line's name level with one of its ends, the nearest that has room.

        ``ends`` are places with the side on which the name stands, -1 the left. One that stands
        farther off has a leader.
        """
        middle = SMALL_MM * self.scale / 2
        for away, ((x, y), side) in product(END_AWAY_MM, ends):
            at = (x + side * away * self.scale, y - middle)
            anchor = Anchor.LEFT if side > 0 else Anchor.RIGHT
            if self._is_free(name, at, anchor):
                yield self._text(name, at, anchor, Role.NOTE)
                if away > END_AWAY_MM[0]:
                    off = side * END_AWAY_MM[0] * self.scale / 2
                    yield Polyline(((x + off, y), (at[0] - off, y)), Role.LEADER)
                return

    def _is_free(self, name: str, at: Point, anchor: Anchor, heeds_grid: bool = False) -> bool:
        text = Text(name, at, SMALL_MM * self.scale, Role.NOTE, anchor)
        low_x, low_y, high_x, high_y = text.box
        aside = APART_MM * self.scale
        box = np.array([shapely.box(low_x - aside, low_y, high_x + aside, high_y)])
        return bool(self.space.are_free(box, heeds_soft=heeds_grid).all())

    def _below(self, name: str, at: Point) -> Iterator[Text]:
        """Yield the name of a plumb line below it, in a lower row where the first is taken."""
        for row in range(ROWS_BELOW):
            place = (at[0], at[1] - row * 1.4 * SMALL_MM * self.scale)
            if self._is_free(name, place, Anchor.CENTRE):
                yield self._text(name, place, Anchor.CENTRE, Role.NOTE)
                return

    def _long_lines(self, view: list[Line]) -> Iterator[Entity]:
        for line in view:
            if line.kind not in ("grid", "section"):
                name = short(line.name)
                if found := self._place(line, name):
                    yield self._text(name, *found, ROLES[line.kind])
                else:
                    yield from self._led(name, line)

    def _place(self, line: Line, name: str) -> tuple[Point, Anchor] | None:
        """Return where a line's name stands: over it, else at its end, at worst across the grid."""
        if at := self._along(line, heeds_grid=True):
            return at, Anchor.CENTRE
        x, y = line.points[-1]
        end = x + 1.2 * self.scale, y - SMALL_MM / 2 * self.scale
        if self._is_free(name, end, Anchor.LEFT):
            return end, Anchor.LEFT
        at = self._along(line, heeds_grid=False)
        return (at, Anchor.CENTRE) if at else None

    def _led(self, name: str, line: Line) -> Iterator[Entity]:
        """Yield a line's name off it, with a leader to its middle that runs through no other."""
        foot = np.array(line.points[len(line.points) // 2])
        middle = np.array([0.0, SMALL_MM * self.scale / 2])
        for away, way in product(LED_AWAY_MM, LED_WAYS_DEG):
            turn = math.radians(way)
            end = foot + away * self.scale * np.array([math.cos(turn), math.sin(turn)])
            anchor = Anchor.LEFT if math.cos(turn) > 0 else Anchor.RIGHT
            off = math.copysign(END_AWAY_MM[0] / 2 * self.scale, math.cos(turn))
            at = (float(end[0] + off), float(end[1] - middle[1]))
            leader = shapely.LineString([foot, end])
            is_off = bool(self.space.are_off_words(np.array([leader])).all())
            if is_off and self._is_free(name, at, anchor):
                yield self._text(name, at, anchor, ROLES[line.kind])
                yield Polyline(
                    ((float(foot[0]), float(foot[1])), (float(end[0]), float(end[1]))), Role.LEADER
                )
                return

    def _along(self, line: Line, *, heeds_grid: bool) -> Point | None:
        """Return where over a line its name touches nothing, or nothing but the grid."""
        points = np.array(line.points)
        if points[-1, 0] <= points[0, 0]:
            return None
        height = SMALL_MM * self.scale
        half = text_width(short(line.name), height) / 2
        shares = np.linspace(0.03, 0.97, TRIED)
        shares = shares[np.abs(shares - FIRST_SHARE).argsort()]
        for share in shares:
            x = points[0, 0] + share * (points[-1, 0] - points[0, 0])
            spans = np.interp([x - half, x, x + half], points[:, 0], points[:, 1])
            if np.ptp(spans) > LEVEL * 2 * half:
                continue
            at = (float(x), float(spans.max()) + (TAIL + 0.25) * height)
            box = shapely.box(x - half, at[1] - TAIL * height, x + half, at[1] + RISE * height)
            if self.space.are_free(np.array([box]), heeds_soft=heeds_grid).all():
                return at
        return None
