"""Blocks and tables over as many pages as they need, in columns; lengths in paper mm."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, zip_longest

from nesting.sheets.blocks import (
    CARRIED,
    CELL_PAD_MM,
    GAP_MM,
    HEADING_MM,
    LETTER_MM,
    Block,
    Piece,
    Rows,
    Table,
    fitting,
    record_table,
    records_after,
    whole_records,
)
from nesting.sheets.drawing import Anchor, Entity, Point, Role, Text
from nesting.sheets.lettering import text_width, wrapped
from nesting.text_table import TextTable

LINE_MM = 4.0
"""From line to line of running text."""

ROUNDING_MM = 1e-6

NARROWEST_MM, LONGEST_MM = 16.0, 40.0
"""No column of words is squeezed below the first, nor for a long word above the second."""

Item = Block | Rows
Leaf = tuple[Piece, ...]
"""What stands on one page, from the upper left corner of its body."""


@dataclass
class _Column:
    """A column as it fills up; the last one of a page may grow as wide as there is room."""

    x: float
    top: float
    width: float = 0.0


class Pages:
    """Pages as they fill up: what is as wide as a page on top, then lists in columns."""

    def __init__(self, room: Point) -> None:
        self._width, self._height = room
        self._leaves: list[list[Piece]] = [[]]
        self._columns = [_Column(0.0, 0.0)]
        self._base = 0.0

    @property
    def leaves(self) -> list[Leaf]:
        """What stands on each page."""
        return [tuple(leaf) for leaf in self._leaves]

    def turn(self) -> None:
        """Begin another page, unless this one is still empty."""
        if self._leaves[-1]:
            self._leaves.append([])
        self._columns, self._base = [_Column(0.0, 0.0)], 0.0

    def stack(self, block: Block) -> None:
        """Set a block below what stands already, on the next page if it has to."""
        if (
            len(self._columns) > 1
            or self._columns[0].top + block.height > self._height + ROUNDING_MM
        ):
            self.turn()
        top = self._columns[0].top
        assert block.height <= self._height + ROUNDING_MM, "views are made as high as a page"
        self._leaves[-1].append(Piece(0.0, top, block))
        self._base = top + block.height + GAP_MM
        self._columns = [_Column(0.0, self._base)]

    def flow(self, items: Sequence[Item]) -> None:
        """Set lists in columns below what stands already, over as many pages as they take.

        What fits whole into a column that is begun goes there, else into a new one; a list that
        fits nowhere whole is cut.
        """
        left = deque(piece for item in items for piece in narrowed(item, self._width))
        while left:
            rest = self._set(left.popleft())
            if rest is not None:
                left.appendleft(rest)

    def _set(self, item: Item) -> Item | None:
        """Set a list, or its beginning, and return the rest."""
        for column in [*self._columns, None]:
            if self._room(item, column, is_whole=True):
                return self._put(item, column)
        for column in [*self._columns, None]:
            if self._room(item, column, is_whole=False):
                return self._put(item, column)
        assert self._leaves[-1], "a list is cut, and a block is no higher than a page"
        self.turn()
        return item

    def _begun(self) -> _Column:
        last = self._columns[-1]
        return _Column(last.x + last.width + (GAP_MM if last.width else 0.0), self._base)

    def _room(self, item: Item, column: _Column | None, *, is_whole: bool) -> bool:
        """Return whether a column, or a new one for None, takes a list or its beginning."""
        into = column or self._begun()
        is_last = column is None or column is self._columns[-1]
        block, rest = fitting(item, self._height - into.top)
        wide = self._width - into.x if is_last else into.width
        if block is None or block.width > wide + ROUNDING_MM:
            return False
        return rest is None or not is_whole

    def _put(self, item: Item, column: _Column | None) -> Item | None:
        if column is None:
            column = self._begun()
            self._columns.append(column)
        block, rest = fitting(item, self._height - column.top)
        assert block is not None, "asked only where there is room"
        self._leaves[-1].append(Piece(column.x, column.top, block))
        column.top += block.height + GAP_MM
        column.width = max(column.width, block.width)
        return rest


def narrowed(item: Item, width: float) -> Iterator[Item]:
    """Yield a table in parts no wider than a page, each with the first column; others as are."""
    if not isinstance(item, Table) or sum(item.widths) <= width:
        yield item
        return
    first, *others = item.widths
    shown = list[int]()
    for column, wide in enumerate(others, start=1):
        if shown and first + sum(item.widths[k] for k in shown) + wide > width:
            yield _columns(item, (0, *shown))
            shown = []
        shown.append(column)
    yield _columns(item, (0, *shown))


def _columns(item: Table, shown: tuple[int, ...]) -> Table:
    def only(row: Sequence[str]) -> tuple[str, ...]:
        return tuple(row[k] for k in shown)

    rows = tuple(only(row) for row in item.rows)
    anchors = tuple(item.anchors[k] for k in shown)
    widths = tuple(item.widths[k] for k in shown)
    return replace(item, columns=only(item.columns), anchors=anchors, rows=rows, widths=widths)


def wrapped_table(
    heading: str,
    columns: tuple[tuple[str, Anchor, float], ...],
    rows: Sequence[Sequence[str]],
) -> Table:
    """Return a table whose longer texts run over several rows.

    ``columns`` says of each its name, how its texts hang, and how wide it is at most, paper mm.
    """
    names, anchors, most = zip(*columns, strict=True)
    records = list[list[tuple[str, ...]]]()
    for row in rows:
        cells = [wrapped(text, LETTER_MM, wide) for text, wide in zip(row, most, strict=True)]
        records.append(list(zip_longest(*cells, fillvalue="")))
    return record_table(heading, names, anchors, records)


def squeezed_table(given: TextTable, width: float) -> Table:
    """Return a table no wider than given: figures as wide as they are, words share what is left."""
    names = tuple(column.removeprefix("#") for column in given.columns)
    rows = [names, *given.rows]
    natural = [max(text_width(row[k], LETTER_MM) for row in rows) for k in range(len(names))]
    anchors = [Anchor.RIGHT if column.startswith("#") else Anchor.LEFT for column in given.columns]
    kept = [
        wide if anchor is Anchor.RIGHT else min(wide, max(NARROWEST_MM, _longest_word(rows, k)))
        for k, (anchor, wide) in enumerate(zip(anchors, natural, strict=True))
    ]
    room, lacking = width - sum(kept) - 2 * CELL_PAD_MM * len(names), sum(natural) - sum(kept)
    share = min(1.0, max(0.0, room) / lacking) if lacking > 0 else 0.0
    # Rounding breaks no word that has just its room.
    most = [
        low + share * (high - low) + ROUNDING_MM for low, high in zip(kept, natural, strict=True)
    ]
    return wrapped_table(given.title, tuple(zip(names, anchors, most, strict=True)), given.rows)


def _longest_word(rows: Sequence[Sequence[str]], column: int) -> float:
    words = (word for row in rows for word in row[column].split())
    return min(LONGEST_MM, max((text_width(word, LETTER_MM) for word in words), default=0.0))


@dataclass(frozen=True)
class Lines:
    """A heading and running text in lines; carried on in the next column like a table.

    ``texts`` says how many lines each text takes.
    """

    heading: str
    lines: tuple[str, ...]
    width: float
    texts: tuple[int, ...]

    @classmethod
    def of(cls, heading: str, texts: Sequence[str], width: float) -> Lines:
        """Return texts broken into lines no wider than given."""
        broken = [wrapped(text, LETTER_MM, width) for text in texts]
        lines = tuple(line for text in broken for line in text)
        return cls(heading, lines, width, tuple(map(len, broken)))

    @property
    def count(self) -> int:
        """Number of lines."""
        return len(self.lines)

    @property
    def narrowest(self) -> float:
        """Width of any piece of it: its own."""
        return self.width

    def height_of(self, rows: int) -> float:
        """Return the height with so many lines."""
        return HEADING_MM + 2.0 + LINE_MM * rows

    def whole(self, rows: int) -> int:
        """Return after how many lines, no more than given, the list may be cut."""
        return whole_records(self.texts, rows)

    def cut(self, rows: int) -> tuple[Block, Lines | None]:
        """Return the first lines as a block, and the rest."""
        entities: list[Entity] = [Text(self.heading, (0.0, -HEADING_MM), HEADING_MM, Role.TABLE)]
        steps = accumulate([-HEADING_MM - 2.0 - LETTER_MM, *[-LINE_MM] * (rows - 1)])
        for line, y in zip(self.lines[:rows], steps, strict=True):
            entities.append(Text(line, (0.0, y), LETTER_MM, Role.TABLE))
        width = max(self.width, text_width(self.heading, HEADING_MM))
        block = Block(width, self.height_of(rows), tuple(entities))
        if rows == self.count:
            return block, None
        heading = self.heading.removesuffix(CARRIED) + CARRIED
        left, texts = self.lines[rows:], records_after(self.texts, rows)
        return block, replace(self, heading=heading, lines=left, texts=texts)
