"""The first pages of the patterns: how to print and join them, a large square, what there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import shapely

from nesting.outline import Bevel
from nesting.sheets.drawing import Entity, Polyline, Role, Text
from nesting.sheets.lettering import wrapped
from nesting.sheets.part_notes import bevel_texts
from nesting.shop.pattern_foot import Heading, check_square, length_words, ruler, ruler_mm
from nesting.shop.pattern_layout import Sheet
from nesting.shop.pattern_paper import OVERLAP_MM, Leaf
from nesting.shop.pattern_subject import Pattern
from nesting.units import MM_PER_INCH, Unit

TITLE_MM, LETTER_MM, PITCH_MM = 5.0, 2.5, 4.4

HANG_MM = 9.0
"""From a pattern's number to what is said of it."""


@dataclass(frozen=True)
class Line:
    """One line of the list: its words, how far in, in which role and how high."""

    words: str
    left_mm: float = 0.0
    role: Role = Role.TABLE
    height_mm: float = LETTER_MM


def large_square_mm(unit: Unit) -> float:
    """Return the side of the first page's square: 100 mm, or 4 in."""
    return 4 * MM_PER_INCH if unit.is_imperial else 100.0


def how_to(unit: Unit) -> tuple[str, ...]:
    """Return how the pages are printed and joined."""
    side = length_words(large_square_mm(unit), unit)
    half = f"{OVERLAP_MM / 2:g} mm"
    return (
        "Print every page at 100 %, never fitted to the page.",
        f"Measure the square below, both ways, and the ruler: the square must be {side}. A printer "
        "that is off one way only is off on the patterns too. Do so again for each new paper.",
        "Columns of a sheet are lettered from the left, its rows numbered from the top. The key "
        "on each page shows where it belongs; pages that would be empty are left out.",
        f"Neighbours share a strip. Cut one of the two along the thin chain line {half} inside its "
        "edge, lay the cut on the other's chain line so that each cross, cut in half, falls on the "
        "cross with the same number, and tape it.",
        "The middle of the thick line is the finished edge. Leave the trim outside it. Bevels are "
        "measured from square, standing where the far face is larger.",
        "Turned over, a pattern gives the mirror image: prick its marks through.",
    )


def index_pages(
    patterns: Sequence[Pattern],
    sheets: Sequence[Sheet],
    heading: Heading,
    leaf: Leaf,
    remarks: Sequence[str] = (),
) -> list[tuple[Entity, ...]]:
    """Return what stands on the pages before the patterns."""
    width = leaf.wide_mm - 2.0
    top = [
        Line(words, role=Role.TITLE, height_mm=TITLE_MM)
        for words in wrapped(f"Patterns at full size: {heading.project}", TITLE_MM, width)
    ]
    lines = [*top, Line(""), *_wrapped((heading.line,), width), Line("")]
    for number, text in enumerate(how_to(heading.unit), start=1):
        lines += _numbered(str(number), (text,), width)
    first = _set(lines, leaf.high_mm)
    floor = leaf.high_mm - sum(_pitch(line) for line in lines)
    first += _proof(floor, heading.unit)
    floor -= large_square_mm(heading.unit) + 10.0
    listed = [line for text in remarks for line in _wrapped((text,), width)]
    listed += [Line("")] * bool(remarks)
    for pattern in patterns:
        listed += _told(pattern, sheets, heading.unit, width)
    return [
        (*first, *page) if not n else page for n, page in enumerate(_paged(listed, floor, leaf))
    ]


def _proof(top: float, unit: Unit) -> list[Entity]:
    side = large_square_mm(unit)
    at = (1.0, top - side - 2.0)
    beside = (side + 12.0, at[1] + side / 2)
    words = [
        Text(line, (beside[0], beside[1] + 22.0 - PITCH_MM * row), LETTER_MM, Role.CAUTION)
        for row, line in enumerate(wrapped(CAUTION, LETTER_MM, 66.0))
    ]
    half = ruler((beside[0], beside[1] - 20.0), ruler_mm(unit) / 2, unit)
    return [*check_square(at, side, unit), *words, *half]


CAUTION = (
    "Measure the square before you trust a pattern. A pattern is a proposal: try it in its place "
    "before anything is cut. Structure is for licensed practice."
)


def _told(pattern: Pattern, sheets: Sequence[Sheet], unit: Unit, width: float) -> list[Line]:
    """Return what the list says of a pattern."""
    texts = [
        f"{pattern.name}: {pattern.pieces}; pattern {pattern.identity}; {_where(pattern, sheets)}"
    ]
    texts += [pattern.sources] if pattern.sources else []
    texts += bevel_words(pattern.outline.bevels, unit)
    return [*_numbered(str(pattern.number), (*texts, *pattern.notes), width), Line("")]


def _where(pattern: Pattern, sheets: Sequence[Sheet]) -> str:
    """Return the sheet and pages that a pattern is on."""
    for sheet in sheets:
        for laid in sheet.laid:
            if laid.pattern is pattern:
                names = [
                    sheet.grid.name(tile)
                    for tile in sheet.grid.in_order
                    if laid.shape.intersects(shapely.box(*sheet.grid.core(tile)))
                ]
                if len(sheet.grid.tiles) == 1:
                    return f"sheet {sheet.number}"
                return f"sheet {sheet.number}, {_pages(names, rows=sheet.grid.rows)}"
    return "not here"


def _pages(names: Sequence[str], *, rows: int) -> str:
    """Return pages in words; those of a single row have no gap between them."""
    if len(names) == 1:
        return f"page {names[0]}"
    return f"pages {names[0]} to {names[-1]}" if rows == 1 else f"pages {', '.join(names)}"


def bevel_words(bevels: Sequence[Bevel], unit: Unit) -> list[str]:
    """Return a line for every bevelled edge."""
    told = []
    for edge, found in groupby(bevels, key=lambda bevel: bevel.edge):
        places, begin, angles = bevel_texts(list(found), unit)
        along = f" at {places} from {begin}" if begin else f" {places}"
        told.append(f"bevel, {edge}: {angles}{along}")
    return told


def _numbered(number: str, texts: Sequence[str], width: float) -> list[Line]:
    """Return texts beside a number, which stands in a line of its own height."""
    lines = _wrapped(texts, width - HANG_MM, HANG_MM)
    # The number shares the first line: a line without a pitch of its own.
    return [Line(number, role=Role.PART_NAME, height_mm=LETTER_MM), *lines]


def _wrapped(texts: Sequence[str], width: float, left: float = 0.0) -> list[Line]:
    return [Line(line, left) for text in texts for line in wrapped(text, LETTER_MM, width)]


def _pitch(line: Line) -> float:
    if line.role is Role.PART_NAME:
        return 0.0
    return PITCH_MM * line.height_mm / LETTER_MM if line.words else PITCH_MM / 2


def _set(lines: Sequence[Line], top: float) -> list[Entity]:
    """Return lines one below another, from the top."""
    entities, y = list[Entity](), top
    for line in lines:
        step = _pitch(line)
        at = (line.left_mm + 1.0, y - (step or PITCH_MM))
        if line.words:
            entities.append(Text(line.words, at, line.height_mm, line.role))
        y -= step
    return entities


def _paged(lines: Sequence[Line], first: float, leaf: Leaf) -> Iterator[tuple[Entity, ...]]:
    """Yield the list page by page; a pattern's number never stands alone at a foot."""
    room, page = first, list[Line]()
    for number, line in enumerate(lines):
        ahead = lines[number + 1] if line.role is Role.PART_NAME else line
        if sum(map(_pitch, page)) + _pitch(ahead) > room - 2.0:
            yield tuple(_set(page, room))
            room, page = leaf.high_mm, []
        page.append(line)
    yield tuple(_set(page, room))


def framed(leaf: Leaf) -> tuple[float, float, float, float]:
    """Return the frame of a page."""
    return 0.0, 0.0, leaf.wide_mm, leaf.high_mm


def page_edge(leaf: Leaf) -> Polyline:
    """Return the edge of what a page prints."""
    low_x, low_y, high_x, high_y = framed(leaf)
    corners = ((low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y))
    return Polyline(corners, Role.GRID, is_closed=True)
