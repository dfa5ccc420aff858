"""Tables of words on pages: long texts are wrapped in their columns, tables run on over pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Protocol

from nesting.sheets.drawing import Anchor, Drawing, Entity, Polyline, Role, Text
from nesting.sheets.lettering import text_width, wrapped

WIDE_MM, HIGH_MM, PAPER = 277.0, 190.0, "A4"
"""The frame of a page, inside a margin of 10 mm."""

LETTER_MM, TITLE_MM = 2.4, 3.4
LINE_MM, SIDE_MM, BETWEEN_MM, HEAD_MM, FOOT_MM = 4.1, 5.0, 3.5, 14.0, 5.0

NARROWEST_MM = 16.0
"""No column of words is squeezed below this."""


class Tabled(Protocol):
    """A table: a column whose name begins with a # holds figures, and is never wrapped."""

    @property
    def title(self) -> str:
        """What stands over it."""
        ...

    @property
    def columns(self) -> tuple[str, ...]:
        """Heads of the columns."""
        ...

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Cells, row by row."""
        ...


@dataclass(frozen=True)
class _Line:
    """One line of a page: texts at their places, and whether a rule is drawn below it."""

    texts: tuple[tuple[float, str, Anchor], ...]
    height_mm: float = LETTER_MM
    role: Role = Role.TABLE
    is_ruled: bool = False


Group = list[_Line]
"""Lines that stay together on a page."""


def text_pages(title: str, notes: Sequence[str], tables: Iterable[Tabled]) -> tuple[Drawing, ...]:
    """Return the pages of notes and tables, with page numbers."""
    groups = [_note(note) for note in notes]
    pages = list[list[_Line]]([[]])
    for group in groups:
        _add(pages, group)
    for table in tables:
        for heading, group in _table(table):
            # A row that begins a page has its table's head over it again.
            is_new = _add(pages, group)
            if is_new and group is not heading:
                pages[-1][:0] = heading
    return tuple(
        _page(title, lines, f"page {number} of {len(pages)}")
        for number, lines in enumerate(pages, start=1)
    )


def _most_lines() -> int:
    return int((HIGH_MM - HEAD_MM - FOOT_MM) // LINE_MM)


def _add(pages: list[list[_Line]], group: Group) -> bool:
    """Put a group on the last page, or on a new one; return whether it is new."""
    is_new = bool(pages[-1]) and len(pages[-1]) + len(group) > _most_lines()
    if is_new:
        pages.append([])
    pages[-1].extend(group)
    return is_new


def _note(note: str) -> Group:
    width = WIDE_MM - 2 * SIDE_MM
    lines = wrapped(note, LETTER_MM, width)
    return [_Line(((SIDE_MM, line, Anchor.LEFT),), role=Role.NOTE) for line in lines]


def _table(table: Tabled) -> Iterator[tuple[Group, Group]]:
    """Yield a table's head and each of its groups, the head with the first row among them."""
    if not table.rows:
        return
    widths = _widths(table)
    heads = [column.lstrip("#") for column in table.columns]
    heading = [
        _Line(()),
        _Line(((SIDE_MM, table.title, Anchor.LEFT),), TITLE_MM, Role.LEGEND),
        *_cells(table, heads, widths, Role.LEGEND),
    ]
    first, *others = (_cells(table, row, widths, Role.TABLE) for row in table.rows)
    yield heading, [*heading, *first]
    for group in others:
        yield heading, group


def _cells(table: Tabled, row: Sequence[str], widths: Sequence[float], role: Role) -> Group:
    """Return a row as lines: as many as its longest cell needs."""
    columns = list(zip(table.columns, row, widths, strict=True))
    cells = [wrapped(cell, LETTER_MM, width + 0.01) or ("",) for _, cell, width in columns]
    begins = list(accumulate((width + BETWEEN_MM for width in widths), initial=SIDE_MM))
    count = max(map(len, cells))
    lines = []
    for number in range(count):
        texts = [
            (begin + width, cell[number], Anchor.RIGHT)
            if column.startswith("#")
            else (begin, cell[number], Anchor.LEFT)
            for column, cell, begin, width in zip(
                table.columns, cells, begins, widths, strict=False
            )
            if number < len(cell)
        ]
        lines.append(_Line(tuple(texts), role=role, is_ruled=number == count - 1))
    return lines


def _widths(table: Tabled) -> list[float]:
    """Return the columns' widths: figures as wide as they are, words share what is left."""
    rows = [tuple(column.lstrip("#") for column in table.columns), *table.rows]
    natural = [max(text_width(row[k], LETTER_MM) for row in rows) for k in range(len(rows[0]))]
    kept = [
        width if column.startswith("#") else min(width, max(NARROWEST_MM, _longest_word(rows, k)))
        for k, (column, width) in enumerate(zip(table.columns, natural, strict=True))
    ]
    room = WIDE_MM - 2 * SIDE_MM - BETWEEN_MM * (len(natural) - 1) - sum(kept)
    lacking = sum(natural) - sum(kept)
    share = min(1.0, max(0.0, room) / lacking) if lacking > 0 else 0.0
    return [low + share * (high - low) for low, high in zip(kept, natural, strict=True)]


def _longest_word(rows: Sequence[Sequence[str]], column: int) -> float:
    words = (word for row in rows for word in row[column].split())
    return min(40.0, max((text_width(word, LETTER_MM) for word in words), default=0.0))


def _page(title: str, lines: Sequence[_Line], number: str) -> Drawing:
    top = HIGH_MM - 8.0
    entities: list[Entity] = [
        Text(title, (SIDE_MM, top), TITLE_MM, Role.TITLE),
        Text(number, (WIDE_MM - SIDE_MM, top), LETTER_MM, Role.TITLE, Anchor.RIGHT),
    ]
    y = HIGH_MM - HEAD_MM
    for line in lines:
        y -= LINE_MM
        entities.extend(
            Text(text, (x, y), line.height_mm, line.role, anchor)
            for x, text, anchor in line.texts
            if text
        )
        if line.is_ruled:
            foot = y - 1.2
            entities.append(Polyline(((SIDE_MM, foot), (WIDE_MM - SIDE_MM, foot)), Role.GRID))
    corners = ((0.0, 0.0), (WIDE_MM, 0.0), (WIDE_MM, HIGH_MM), (0.0, HIGH_MM))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    return Drawing(title, tuple(entities), (0.0, 0.0, WIDE_MM, HIGH_MM), 1.0, PAPER)
