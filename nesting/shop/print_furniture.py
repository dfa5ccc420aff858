"""What stands on every printed page: whose it is, which plan's, which page, and the cautions."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import segno
import shapely

from nesting.cautions import IN_SHORT
from nesting.sheets.blocks import HEADING_MM, LETTER_MM
from nesting.sheets.drawing import (
    RISE,
    TAIL,
    Anchor,
    Area,
    Drawing,
    Entity,
    Point,
    Polyline,
    Role,
    Text,
)
from nesting.sheets.lettering import cut_short, name_short, text_width, wrapped
from nesting.sheets.pdf import MARGIN_MM
from nesting.shop.kinds import Paper
from nesting.shop.paging import LINE_MM, Leaf

NAME_MM = 7.0
"""Height of the name that a page is found by."""

CODE_MM = 19.0
"""Side of the code that a telephone reads, its white border included."""

QUIET = 4
"""Modules of white about the code (ISO/IEC 18004, from memory)."""

MARK_WIDTH_MM = 44.0
"""Width of page, identity and date, left of the code."""

MOST_LINES = 4
"""A name that takes more lines is cut short: all of it stands in the tables."""

LINE_PITCH = 1.45
"""From line to line of a name, over the height of its capitals: tails and accents stay apart."""

UNDER_HEAD_MM, OVER_FOOT_MM = 4.0, 3.0

FOOT_LINE_MM = 3.6

AT_FULL_SIZE = "print at 100 %"


@dataclass(frozen=True)
class Furniture:
    """Head and foot of one board's pages, or of the overview's.

    Attributes
    ----------
    name
        What the page is found by.
    lines
        What stands below the name, in small letters.
    marks
        What old paper is known by, below each other.
    code
        What the code says; there is none if it says nothing.
    is_to_scale
        Whether anything on the pages is to be measured.
    """

    paper: Paper
    name: str
    lines: tuple[str, ...]
    marks: tuple[str, ...]
    code: str
    date: datetime.date
    is_to_scale: bool = True

    @property
    def size(self) -> Point:
        """Width and height inside the margin; boards are long, and so the page lies on its side."""
        short, long = self.paper.size_mm
        return long - 2 * MARGIN_MM, short - 2 * MARGIN_MM

    @property
    def room(self) -> Point:
        """Width and height of the body."""
        wide, high = self.size
        return wide, high - self._head_height - self._foot_height

    @property
    def _head_height(self) -> float:
        return max(CODE_MM, self._letters[-1][1] + 2.0 if self._letters else 0.0) + UNDER_HEAD_MM

    @property
    def _foot_height(self) -> float:
        return OVER_FOOT_MM + FOOT_LINE_MM * len(self._cautions)

    @property
    def _cautions(self) -> tuple[str, ...]:
        return _cautions(self.size[0], is_to_scale=self.is_to_scale)

    @property
    def _letters(self) -> list[tuple[str, float, float]]:
        """Return the lines at the left with their depth and height."""
        width = self.size[0] - CODE_MM - MARK_WIDTH_MM - 4.0
        is_short = text_width(self.name, NAME_MM) <= width
        height = NAME_MM if is_short else HEADING_MM
        depth, found = 0.0, list[tuple[str, float, float]]()
        for line in name_short(self.name, height, width, most=MOST_LINES):
            depth += LINE_PITCH * height if found else RISE * height
            found.append((line, depth, height))
        depth += 1.0
        for text in self.lines:
            for line in cut_short(text, LETTER_MM, width, most=MOST_LINES):
                depth += LINE_MM
                found.append((line, depth, LETTER_MM))
        return found

    def page(self, leaf: Leaf, number: int, count: int) -> Drawing:
        """Return a page with its head and foot about what stands on it."""
        wide, high = self.size
        entities = [*self._head(number, count), *self._foot()]
        top = high - self._head_height
        for piece in leaf:
            entities.extend(piece.entities(1.0, (0.0, top)))
        # Tints lie below lines, and lines below lettering.
        entities.sort(key=lambda entity: isinstance(entity, Text) - isinstance(entity, Area))
        title = f"{self.name}, page {number} of {count}"
        return Drawing(title, tuple(entities), (0.0, 0.0, wide, high), 1.0, self.paper.value)

    def _head(self, number: int, count: int) -> Iterator[Entity]:
        wide, high = self.size
        for line, depth, height in self._letters:
            yield Text(line, (0.0, high - depth), height, Role.TITLE)
        x, y = wide - (CODE_MM + 2.0 if self.code else 0.0), high - RISE * HEADING_MM
        yield Text(f"page {number} of {count}", (x, y), HEADING_MM, Role.TITLE, Anchor.RIGHT)
        for mark in (*self.marks, self.date.isoformat()):
            y -= LINE_MM
            yield Text(mark, (x, y), LETTER_MM, Role.TITLE, Anchor.RIGHT)
        if self.code:
            yield code_area(self.code, (wide - CODE_MM, high - CODE_MM), CODE_MM)
        rule = high - self._head_height + UNDER_HEAD_MM / 2
        yield Polyline(((0.0, rule), (wide, rule)), Role.FRAME)

    def _foot(self) -> Iterator[Entity]:
        y = self._foot_height - OVER_FOOT_MM
        yield Polyline(((0.0, y + 1.0), (self.size[0], y + 1.0)), Role.TITLE)
        for line in self._cautions:
            y -= FOOT_LINE_MM
            yield Text(line, (0.0, y + TAIL * LETTER_MM), LETTER_MM, Role.CAUTION)


@lru_cache(maxsize=10)
def _cautions(width: float, *, is_to_scale: bool) -> tuple[str, ...]:
    scale = (f"Drawn to scale: {AT_FULL_SIZE}.",) if is_to_scale else ()
    return wrapped(" ".join((*IN_SHORT, *scale)), LETTER_MM, width)


@lru_cache(maxsize=100)
def _modules(said: str) -> tuple[int, tuple[tuple[Point, ...], ...]]:
    """Return how many modules a code is wide, and the rings around its dark ones."""
    rows = [bytes(row) for row in segno.make(said, error="m", micro=False).matrix]
    y, x = np.nonzero([list(row) for row in rows])
    boxes = shapely.box(x, -y - 1, x + 1, -y)
    rings = list[tuple[Point, ...]]()
    dark = shapely.coverage_union_all(boxes)
    for part in shapely.get_parts(shapely.simplify(dark, 0.0)):
        for ring in (part.exterior, *part.interiors):
            rings.append(tuple((x, y) for x, y, *_ in ring.coords[:-1]))
    return len(rows), tuple(rings)


def code_area(said: str, low: Point, side: float) -> Area:
    """Return a code (ISO/IEC 18004) in a square of white, by its lower left corner and side."""
    count, rings = _modules(said)
    module = side / (count + 2 * QUIET)
    left, top = low[0] + QUIET * module, low[1] + side - QUIET * module
    placed = tuple(tuple((left + x * module, top + y * module) for x, y in ring) for ring in rings)
    return Area(placed, Role.TITLE)
