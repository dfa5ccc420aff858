"""The foot of a pattern's page: check square, ruler, what page it is, and how pages are joined."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from nesting.sheets.drawing import Anchor, Entity, Point, Polyline, Role, Text
from nesting.sheets.labelling import SMALL_PAPER_MM
from nesting.sheets.lettering import text_width
from nesting.shop.pattern_layout import Sheet
from nesting.shop.pattern_paper import FOOT_MM, Grid, Tile
from nesting.units import MM_PER_INCH, Unit

CAUTION = "Measure the square before you trust a pattern."

PRINTED = "Print at 100 %, never fitted to the page."

LETTER_MM, HEAD_MM, LINE_MM = 2.5, 3.5, 3.9

KEY_GAP_MM = 4.0

NAME_ROOM_MM = 3.4
"""Under a single row of pages, for their names."""

UNIT_AWAY_MM = 4.0
"""From the end of a ruler to its unit, clear of the last figure."""

LEAST_NAME_MM = 2.0
"""Names of pages in a key are left out where they would be smaller."""


@dataclass(frozen=True)
class Heading:
    """What every page says: project, day, the plan's word if there is a plan."""

    project: str
    date: datetime.date
    plan: str
    unit: Unit

    @property
    def line(self) -> str:
        """All of it in a line."""
        return f"{self.project}{self._behind}"

    @property
    def _behind(self) -> str:
        plan = f"plan {self.plan}" if self.plan else "no plan yet"
        return f", {self.date.isoformat()}, {plan}"

    def within(self, width: float) -> str:
        """Return all of it in a line no wider than given; the project's name is cut short."""
        room = width - text_width(self._behind, LETTER_MM)
        return f"{fitted(self.project, room)}{self._behind}"


def square_mm(unit: Unit) -> float:
    """Return the side of the check square on every page: 25 mm, or 1 in."""
    return MM_PER_INCH if unit.is_imperial else 25.0


def ruler_mm(unit: Unit) -> float:
    """Return the length of the ruler on every page: 100 mm, or 4 in."""
    return 4 * MM_PER_INCH if unit.is_imperial else 100.0


def length_words(mm: float, unit: Unit) -> str:
    """Return a round length in the family of the project's unit.

    >>> length_words(25.4, Unit.FOOT), length_words(100.0, Unit.M)
    ('1 in', '100 mm')
    """
    return f"{mm / MM_PER_INCH:g} in" if unit.is_imperial else f"{mm:g} mm"


def check_square(at: Point, side: float, unit: Unit) -> list[Entity]:
    """Return a square that must measure what is written in it, both ways."""
    x, y = at
    corners = ((x, y), (x + side, y), (x + side, y + side), (x, y + side))
    middle = x + side / 2
    words = length_words(side, unit)
    return [
        Polyline(corners, Role.RULER, is_closed=True),
        Text("must be", (middle, y + side / 2 + 1.2), LETTER_MM, Role.RULER, Anchor.CENTRE),
        Text(words, (middle, y + side / 2 - 3.6), LETTER_MM, Role.RULER, Anchor.CENTRE),
    ]


def ruler(at: Point, length: float, unit: Unit) -> list[Entity]:
    """Return a ruler from a point to the right, with figures at its inches or centimetres."""
    x, y = at
    step, parts = (MM_PER_INCH, 8) if unit.is_imperial else (10.0, 2)
    entities: list[Entity] = [Polyline(((x, y), (x + length, y)), Role.RULER)]
    for number in range(round(length / step * parts) + 1):
        place = x + number * step / parts
        is_whole = number % parts == 0
        tall = 3.0 if is_whole else 2.0 if number % (parts // 2) == 0 else 1.2
        entities.append(Polyline(((place, y), (place, y + tall)), Role.RULER))
        if is_whole:
            count = number // parts
            words = str(count) if unit.is_imperial else str(round(count * step))
            # Its unit stands behind the last figure alone.
            entities.append(
                Text(words, (place, y - 3.0), SMALL_PAPER_MM, Role.RULER, Anchor.CENTRE)
            )
    words = "in" if unit.is_imperial else "mm"
    entities.append(Text(words, (x + length + UNIT_AWAY_MM, y - 3.0), SMALL_PAPER_MM, Role.RULER))
    return entities


def foot(
    sheet: Sheet, tile: Tile, page: tuple[int, int], heading: Heading, wide: float
) -> Iterator[Entity]:
    """Yield the foot of a page, in the page's frame; ``page`` is its number and their count."""
    unit = heading.unit
    yield Polyline(((0.0, FOOT_MM - 0.5), (wide, FOOT_MM - 0.5)), Role.FRAME)
    yield from check_square((1.0, 1.2), square_mm(unit), unit)
    left = square_mm(unit) + 5.0
    yield from ruler((left + 1.0, 3.6), ruler_mm(unit), unit)
    room = ruler_mm(unit) + 8.0
    yield from _words(sheet, tile, page, heading, (left, room))
    start = left + room + KEY_GAP_MM
    yield from key(sheet, tile, (start, 1.0, wide - 0.5, FOOT_MM - 2.0))


def _words(
    sheet: Sheet, tile: Tile, page: tuple[int, int], heading: Heading, room: tuple[float, float]
) -> Iterator[Entity]:
    left, width = room
    name = f"Sheet {sheet.number}, page {sheet.grid.name(tile)}"
    count = f"page {page[0]} of {page[1]}"
    top = FOOT_MM - 5.0
    yield Text(name, (left, top), HEAD_MM, Role.TITLE)
    yield Text(count, (left + width, top), LETTER_MM, Role.TITLE, Anchor.RIGHT)
    box = shapely.box(*sheet.grid.window(tile))
    here = [laid.pattern for laid in sheet.laid if laid.shape.intersects(box)]
    names = "; ".join(f"{pattern.number} {pattern.name}" for pattern in here)
    lines = (fitted(names, width), heading.within(width))
    for row, line in enumerate(lines, start=1):
        yield Text(line, (left, top - LINE_MM * row), LETTER_MM, Role.TITLE)
    for row, line in enumerate((CAUTION, PRINTED), start=3):
        yield Text(fitted(line, width), (left, top - LINE_MM * row), LETTER_MM, Role.CAUTION)


def fitted(text: str, width: float, height: float = LETTER_MM) -> str:
    """Return a text, cut short with dots where it would be wider than given."""
    if text_width(text, height) <= width:
        return text
    while text and text_width(f"{text}...", height) > width:
        text = text[:-1]
    return f"{text.rstrip()}..."


def key(sheet: Sheet, tile: Tile, box: tuple[float, float, float, float]) -> Iterator[Entity]:
    """Yield how the pages of a sheet join, small: this page has the thick frame."""
    grid = sheet.grid
    low_x, low_y, high_x, high_y = box
    if len(grid.tiles) == 1:
        yield Text("one page, nothing to join", (low_x, low_y + 1.0), LETTER_MM, Role.NOTE)
        return
    words = _first_fitting(_over_key(grid), high_x - low_x)
    yield Text(words, (low_x, high_y - LETTER_MM), LETTER_MM, Role.NOTE)
    high_y -= 4.6
    below = NAME_ROOM_MM if grid.rows == 1 else 0.0
    rows = _rows_shown(sheet, tile)
    shown = [other for other in grid.in_order if other[1] in rows]
    wide, (bottom, top) = grid.size[0], _heights(sheet, rows)
    high = top - bottom
    share = min((high_x - low_x) / wide, (high_y - low_y - below) / high)
    left, floor = low_x, high_y - share * high

    def at(x: float, y: float) -> Point:
        return left + share * x, floor + share * (min(max(y, bottom), top) - bottom)

    for other in shown:
        x0, y0, x1, y1 = grid.core(other)
        frame = [at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)]
        yield Polyline(tuple(frame), Role.GRID, is_closed=True)
        corners = at(x0, y0), at(x1, y1)
        if grid.columns == 1 and grid.rows > 1:
            # Too slim for its name, which stands beside it.
            middle = (corners[0][1] + corners[1][1]) / 2 - 1.0
            yield Text(grid.name(other), (corners[1][0] + 1.0, middle), 2.0, Role.NOTE)
            continue
        yield from _tile_name(grid.name(other), corners, below=below, is_this=other == tile)
    seen = shapely.box(0.0, bottom, wide, top)
    for laid in sheet.laid:
        for part in shapely.get_parts(laid.shape.intersection(seen)):
            if isinstance(part, Polygon):
                ring = part.exterior.simplify(0.3 / share)
                points = tuple(at(x, y) for x, y in ring.coords[:-1])
                if len(points) > 2:
                    yield Polyline(points, Role.NOTE, is_closed=True)
    x0, y0, x1, y1 = grid.core(tile)
    frame = [at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)]
    yield Polyline(tuple(frame), Role.FRAME, is_closed=True)


def _over_key(grid: Grid) -> tuple[str, ...]:
    """Return what is said over a key, the fullest wording first."""
    if grid.rows > MOST_ROWS:
        return (f"join as below; {grid.rows} rows in all", f"join {grid.rows} rows")
    if grid.left_out:
        count = len(grid.left_out)
        names = ", ".join(grid.left_out)
        return (f"left out, empty: {names}", f"{count} empty, left out", f"{count} left out")
    return ("join as below, cross on cross", "join, cross on cross", "join as below")


def _first_fitting(wordings: Sequence[str], width: float) -> str:
    """Return the first wording that a width has room for, the last cut short if none."""
    fits = (words for words in wordings if text_width(words, LETTER_MM) <= width)
    return next(fits, fitted(wordings[-1], width))


MOST_ROWS = 5
"""Of a sheet of more rows than this a key shows those about its page: so many can be read."""


def _rows_shown(sheet: Sheet, tile: Tile) -> range:
    """Return the rows of pages that a key shows."""
    rows = sheet.grid.rows
    first = min(max(0, tile[1] - MOST_ROWS // 2), max(0, rows - MOST_ROWS))
    return range(first, min(rows, first + MOST_ROWS))


def _heights(sheet: Sheet, rows: range) -> tuple[float, float]:
    """Return from where to where some rows of pages reach on a sheet."""
    high, up = sheet.grid.leaf.window[1], sheet.grid.leaf.pitch[1]
    return rows.start * up, (rows.stop - 1) * up + high


def _tile_name(
    name: str, corners: tuple[Point, Point], *, below: float, is_this: bool
) -> Iterator[Entity]:
    """Yield a page's name under its place in the key, or in it, if it can be read there."""
    low, high = corners
    height = min(SMALL_PAPER_MM, (high[0] - low[0] - 0.6) / text_width(name, 1.0))
    if height < LEAST_NAME_MM and not is_this:
        return
    height = max(height, LEAST_NAME_MM)
    y = low[1] - height - 0.8 if below else (low[1] + high[1] - height) / 2
    yield Text(name, ((low[0] + high[0]) / 2, y), height, Role.NOTE, Anchor.CENTRE)
