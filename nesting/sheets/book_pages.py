"""Tables of many columns on pages that are read at arm's length, as at the scrive board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.sheets.drawing import Anchor, Drawing, Entity, Polyline, Role, Text
from nesting.sheets.lettering import cut_short, text_width
from nesting.shop.kinds import Paper

LETTER_MM, TITLE_MM, NOTE_MM = 3.5, 5.0, 2.5
"""Height of a capital: a two-hundredth of the way to the eye at arm's length, 640 mm (common
practice, no source)."""

PITCH_MM, HEAD_MM, FOOT_MM, SIDE_MM, BETWEEN_MM = 5.6, 24.0, 4.0, 4.0, 4.5

RULE_MM = 1.4
"""From the foot of the letters down to the rule: clear of tails, and of the row below."""


@dataclass(frozen=True)
class BookTable:
    """One table: its title, notes, columns, and rows; a row without cells is a heading."""

    title: str
    notes: tuple[str, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def book_pages(tables: Sequence[BookTable], paper: Paper) -> tuple[Drawing, ...]:
    """Return the pages of tables, one after another; each page has its own head."""
    parts = [(table, *part) for table in tables for part in _parts(table, paper)]
    return tuple(
        _page(table, columns, rows, f"page {number} of {len(parts)}", paper)
        for number, (table, columns, rows) in enumerate(parts, start=1)
    )


Rows = Sequence[tuple[str, tuple[str, ...]]]


def _name_width(table: BookTable) -> float:
    return max(text_width(name, LETTER_MM) for name, _ in table.rows) + BETWEEN_MM


def _column_width(table: BookTable) -> float:
    cells = [*table.columns, *(cell for _, row in table.rows for cell in row)]
    return max(text_width(cell, LETTER_MM) for cell in cells) + BETWEEN_MM


def _parts(table: BookTable, paper: Paper) -> Iterator[tuple[range, Rows]]:
    """Yield the columns and the rows of each page of a table, columns evenly shared out."""
    wide, high = paper.lying_mm
    room = wide - 2 * SIDE_MM - _name_width(table)
    most = max(1, int(room // _column_width(table)))
    pages = -(-len(table.columns) // most)
    for rows in _blocks(table.rows, int((high - HEAD_MM - FOOT_MM) // PITCH_MM) - 1):
        for number in range(pages):
            first, last = (len(table.columns) * n // pages for n in (number, number + 1))
            yield range(first, last), rows


def _blocks(rows: Rows, most: int) -> Iterator[Rows]:
    """Yield rows in blocks of a page; a block begins with its heading, said again if need be."""
    block, heading = list[tuple[str, tuple[str, ...]]](), ""
    for place, (name, cells) in enumerate(rows):
        is_heading = not cells
        long = 1 + next(
            (n for n, (_, more) in enumerate(rows[place + 1 :]) if not more), len(rows) - place - 1
        )
        if block and (len(block) >= most or (is_heading and len(block) + min(long, 6) > most)):
            yield block
            block = [] if is_heading else [(f"{heading}, continued", ())]
        if is_heading:
            heading = name
        block.append((name, cells))
    yield block


def _page(table: BookTable, columns: range, rows: Rows, number: str, paper: Paper) -> Drawing:
    entities = list[Entity]()
    wide, high = paper.lying_mm
    top = high - 8.0
    room = wide - 2 * SIDE_MM - BETWEEN_MM - text_width(number, LETTER_MM)
    (title,) = cut_short(table.title, TITLE_MM, room)
    entities.append(Text(title, (SIDE_MM, top), TITLE_MM, Role.TITLE))
    entities.append(Text(number, (wide - SIDE_MM, top), LETTER_MM, Role.TITLE, Anchor.RIGHT))
    for line, note in enumerate(table.notes):
        entities.append(Text(note, (SIDE_MM, top - 5.5 - 4.0 * line), NOTE_MM, Role.NOTE))
    width, begin = _column_width(table), SIDE_MM + _name_width(table)
    y = high - HEAD_MM - PITCH_MM
    for place, column in enumerate(columns):
        at = (begin + (place + 1) * width - BETWEEN_MM, y)
        entities.append(Text(table.columns[column], at, LETTER_MM, Role.LEGEND, Anchor.RIGHT))
    end = begin + len(columns) * width
    entities.append(_rule(y, end, Role.TABLE))
    for name, cells in rows:
        y -= PITCH_MM
        entities.append(Text(name, (SIDE_MM, y), LETTER_MM, Role.TABLE if cells else Role.LEGEND))
        for place, column in enumerate(columns if cells else ()):
            at = (begin + (place + 1) * width - BETWEEN_MM, y)
            entities.append(Text(cells[column], at, LETTER_MM, Role.TABLE, Anchor.RIGHT))
        entities.append(_rule(y, end, Role.GRID if cells else Role.TABLE))
    corners = ((0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    return Drawing(table.title, tuple(entities), (0.0, 0.0, wide, high), 1.0, paper)


def _rule(y: float, end: float, role: Role) -> Polyline:
    return Polyline(((SIDE_MM, y - RULE_MM), (end, y - RULE_MM)), role)
