"""Boxes of lettering beside the board: tables, lists, and how they flow into columns.

All in paper mm. A block hangs from its upper-left corner: x to the right from 0, y down to
minus its height.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import accumulate, pairwise
from typing import Protocol

from nesting.sheets.drawing import Anchor, Entity, Polyline, Role, Text, moved
from nesting.sheets.lettering import text_width

ROW_MM = 4.2
"""Height of a row: 2.5 mm lettering with air."""

LETTER_MM = 2.5
"""Height of a table's capitals: read at arm's length."""

HEADING_MM = 3.5
CELL_PAD_MM = 1.0

GAP_MM = 5.0
"""Between blocks."""

LEAST_ROWS = 4
"""A table is not begun at the foot of a column with fewer rows than this."""

MOST_TOGETHER = 10
"""A text, or whatever takes several rows, of no more rows than this is never torn apart."""


@dataclass(frozen=True)
class Block:
    """Entities in a box of paper: there already, or to be made once the box has its place."""

    width: float
    height: float
    content: tuple[Entity, ...] | Callable[[], tuple[Entity, ...]]

    @property
    def entities(self) -> tuple[Entity, ...]:
        """What is drawn in the box."""
        return self.content() if callable(self.content) else self.content


class Rows(Protocol):
    """A list that may be carried on in the next column."""

    @property
    def count(self) -> int:
        """Number of rows."""
        ...

    @property
    def narrowest(self) -> float:
        """Width of any piece of it at the least."""
        ...

    def height_of(self, rows: int) -> float:
        """Return the height with so many rows."""
        ...

    def whole(self, rows: int) -> int:
        """Return after how many rows, no more than given, the list may be cut."""
        ...

    def cut(self, rows: int) -> tuple[Block, Rows | None]:
        """Return the first rows as a block, and the list of the rest."""
        ...


@dataclass(frozen=True)
class Table:
    """A heading, column names and rows of text; it may be carried on in the next column.

    ``anchors`` says for each column how its texts hang; figures hang right. ``records`` are the
    numbers of rows that belong together, in order; empty if each row stands for itself.
    """

    heading: str
    columns: tuple[str, ...]
    anchors: tuple[Anchor, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    records: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """Number of rows."""
        return len(self.rows)

    @property
    def narrowest(self) -> float:
        """Width of its columns, which every piece has."""
        return sum(self.widths)

    def height_of(self, rows: int) -> float:
        """Return the height of the table with so many rows."""
        return ROW_MM * (rows + 1) + HEADING_MM + 3.0

    def whole(self, rows: int) -> int:
        """Return after how many rows, no more than given, the table may be cut."""
        return whole_records(self.records, rows)

    def cut(self, rows: int) -> tuple[Block, Table | None]:
        """Return the first rows as a block, and the table of the rest.

        Where a long record is torn, the rest says again what it is of: its first cell. A page is
        set many times, at every height and scale: each cut is made once.
        """
        if rows not in self._cuts:
            rest, records = self.rows[rows:], records_after(self.records, rows)
            if rest and not rest[0][0]:
                rest = ((self._begun_at(rows), *rest[0][1:]), *rest[1:])
            # The unit was told where the table began; the short heading keeps its column narrow.
            heading = self.heading.removesuffix(CARRIED).partition(",")[0] + CARRIED
            carried = None
            if rest:
                carried = replace(self, heading=heading, rows=rest, records=records)
            self._cuts[rows] = self._block(self.rows[:rows]), carried
        return self._cuts[rows]

    def _begun_at(self, rows: int) -> str:
        """Return the first cell of the record that a row belongs to; nothing if it begins one."""
        begins = {0, *accumulate(self.records)} if self.records else set(range(self.count))
        return self.rows[max(begin for begin in begins if begin <= rows)][0]

    @cached_property
    def _cuts(self) -> dict[int, tuple[Block, Table | None]]:
        """What was cut so far, by the number of rows."""
        return {}

    def _block(self, rows: Sequence[tuple[str, ...]]) -> Block:
        width = max(sum(self.widths), text_width(self.heading, HEADING_MM))
        return Block(width, self.height_of(len(rows)), partial(self._drawn, rows))

    def _drawn(self, rows: Sequence[tuple[str, ...]]) -> tuple[Entity, ...]:
        entities: list[Entity] = [Text(self.heading, (0.0, -HEADING_MM), HEADING_MM, Role.TABLE)]
        top = -HEADING_MM - 2.0
        for number, row in enumerate([self.columns, *rows]):
            entities.extend(self._row(row, top - ROW_MM * number - 3.3))
        for y in (top, top - ROW_MM, top - ROW_MM * (len(rows) + 1)):
            entities.append(Polyline(((0.0, y), (sum(self.widths), y)), Role.TABLE))
        return tuple(entities)

    def _row(self, row: tuple[str, ...], y: float) -> list[Entity]:
        entities: list[Entity] = []
        x = 0.0
        for text, width, anchor in zip(row, self.widths, self.anchors, strict=True):
            at = {Anchor.LEFT: x + CELL_PAD_MM, Anchor.CENTRE: x + width / 2}.get(
                anchor, x + width - CELL_PAD_MM
            )
            if text:
                entities.append(Text(text, (at, y), LETTER_MM, Role.TABLE, anchor))
            x += width
        return entities


CARRIED = " (continued)"


def whole_records(records: Sequence[int], rows: int) -> int:
    """Return the most rows, up to so many, that tear no record apart but a long one.

    >>> whole_records((3, 4), 5), whole_records((3, 40), 9), whole_records((), 5)
    (3, 9, 5)
    """
    if not records:
        return rows
    done = 0
    for record in records:
        if done + record > rows:
            return rows if record > MOST_TOGETHER else done
        done += record
    return done


def records_after(records: Sequence[int], rows: int) -> tuple[int, ...]:
    """Return what is left of records once so many rows are taken.

    >>> records_after((3, 4), 3), records_after((3, 40), 9)
    ((4,), (34,))
    """
    ends = [end - rows for end in accumulate(records) if end > rows]
    return tuple(end - begin for begin, end in pairwise([0, *ends]))


def table(
    heading: str,
    columns: tuple[str, ...],
    anchors: tuple[Anchor, ...],
    rows: tuple[tuple[str, ...], ...],
) -> Table:
    """Return a table whose columns are as wide as their widest text."""
    cells = [columns, *rows]
    widths = tuple(
        max(text_width(row[column], LETTER_MM) for row in cells) + 2 * CELL_PAD_MM
        for column in range(len(columns))
    )
    return Table(heading, columns, anchors, rows, widths)


def record_table(
    heading: str,
    columns: tuple[str, ...],
    anchors: tuple[Anchor, ...],
    records: Sequence[Sequence[tuple[str, ...]]],
) -> Table:
    """Return a table of records, each of some rows that belong together."""
    rows = tuple(row for record in records for row in record)
    found = table(heading, columns, anchors, rows)
    return replace(found, records=tuple(map(len, records)))


@dataclass(frozen=True)
class Piece:
    """A block at its place in a flow."""

    x: float
    top: float
    block: Block

    def entities(self, scale: float, corner: tuple[float, float]) -> list[Entity]:
        """Return its entities in mm of the drawing, from the flow's upper-left corner."""
        shift = (corner[0] + self.x * scale, corner[1] - self.top * scale)
        return [moved(entity, scale, shift) for entity in self.block.entities]


@dataclass(frozen=True)
class Flow:
    """Blocks set in columns."""

    pieces: tuple[Piece, ...]
    width: float
    height: float

    @property
    def columns(self) -> int:
        """Number of columns."""
        return len({piece.x for piece in self.pieces})


def flow(items: Sequence[Block | Rows], corner: Block, height: float) -> Flow | None:
    """Return blocks in columns of a height, the corner block at the right foot; None if higher.

    Tables are carried on from column to column; the corner block stands below the last
    column's blocks if there is room, else in a column of its own.
    """
    if any(block.height > height for block in [*items, corner] if isinstance(block, Block)):
        return None
    columns = _columns(items, height)
    if columns is None:
        return None
    return _with_corner(columns, corner, height)


def least_area(items: Sequence[Block | Rows]) -> float:
    """Return what items cover at the least, mm2: no flow of less height times width holds them."""
    return sum(
        item.width * item.height
        if isinstance(item, Block)
        else item.narrowest * item.height_of(item.count)
        for item in items
    )


Column = list[tuple[float, Block]]


def _foot(column: Column) -> float:
    return column[-1][0] + column[-1][1].height if column else 0.0


def _columns(items: Sequence[Block | Rows], height: float) -> list[Column] | None:
    columns: list[Column] = [[]]
    for item in items:
        left: Block | Rows | None = item
        while left is not None:
            top = _foot(columns[-1]) + (GAP_MM if columns[-1] else 0.0)
            block, rest = fitting(left, height - top)
            if block is None:
                if not columns[-1]:
                    return None
                columns.append([])
                continue
            columns[-1].append((top, block))
            left = rest
    return columns


def fitting(item: Block | Rows, room: float) -> tuple[Block | None, Rows | None]:
    """Return what of an item fits a height, and what is left of it."""
    if isinstance(item, Block):
        return (item, None) if item.height <= room else (None, None)
    a_row = item.height_of(1) - item.height_of(0)
    rows = item.whole(min(int((room - item.height_of(0)) / a_row + 1e-9), item.count))
    if rows < min(item.count, LEAST_ROWS):
        return None, None
    return item.cut(rows)


def _with_corner(columns: list[Column], corner: Block, height: float) -> Flow:
    is_room = _foot(columns[-1]) + GAP_MM + corner.height <= height
    if columns[-1] and not is_room:
        columns.append([])
    columns[-1].append((height - corner.height, corner))
    pieces: list[Piece] = []
    x = 0.0
    for column in columns:
        pieces.extend(Piece(x, top, block) for top, block in column)
        x += max((block.width for _, block in column), default=0.0) + GAP_MM
    return Flow(tuple(pieces), x - GAP_MM, height)
