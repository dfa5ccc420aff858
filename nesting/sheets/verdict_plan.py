"""A judgement as a picture: what each member is worth beside what its hours cost.

Whole on one sheet, as high as it must be, for a screen; for paper as a list that is carried on
from page to page.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from nesting.sheets.blocks import CARRIED, GAP_MM, HEADING_MM, LETTER_MM, Block
from nesting.sheets.drawing import Drawing, Entity, Polyline, Role, Text, moved
from nesting.sheets.lettering import cut_short, text_width, wrapped

ROW_MM, BAR_MM = 11.0, 3.2
SIDE_MM, TITLE_MM, TOP_MM = 8.0, 5.0, 14.0
HEAD_MM = 10.0
"""Of a list: its heading and the key."""

BETWEEN_MM = 5.0

NAME_MM, VERDICT_MM = 62.0, 46.0
"""Widest columns of members and verdicts: longer ones run over two lines, the rest is left out."""

BARS_MM = 110.0
"""Length of the longest bar on a sheet that is as wide as it must be."""

FULL_MM, HATCH_MM = 0.35, 2.0
"""From stroke to stroke in what is full, and in what is hatched."""


@dataclass(frozen=True)
class VerdictRow:
    """A member in the picture; worth and cost are money."""

    member: str
    verdict: str
    worth: float
    cost: float


@dataclass(frozen=True)
class VerdictBars:
    """A pair of bars for each member: worth filled, cost of hours hatched; carried on like a table.

    ``bars`` is the length of a bar for ``most``, the largest sum of all.
    """

    rows: tuple[VerdictRow, ...]
    key: str
    widths: tuple[float, float]
    bars: float
    most: float
    heading: str = "Worth and cost"

    @property
    def count(self) -> int:
        """Number of members."""
        return len(self.rows)

    @property
    def width(self) -> float:
        """Width of the list, figures behind the bars included."""
        return sum(self.widths) + self.bars + _figure_width(self.most)

    @property
    def narrowest(self) -> float:
        """Width of any piece of it: its own."""
        return self.width

    def height_of(self, rows: int) -> float:
        """Return the height with so many members."""
        return HEAD_MM + ROW_MM * rows

    def whole(self, rows: int) -> int:
        """Return after how many members, no more than given, the list may be cut: any."""
        return rows

    def cut(self, rows: int) -> tuple[Block, VerdictBars | None]:
        """Return the first members as a block, and the list of the rest."""
        block = Block(self.width, self.height_of(rows), partial(self._drawn, self.rows[:rows]))
        rest, heading = self.rows[rows:], self.heading.removesuffix(CARRIED) + CARRIED
        return block, replace(self, rows=rest, heading=heading) if rest else None

    def _drawn(self, rows: Sequence[VerdictRow]) -> tuple[Entity, ...]:
        found: list[Entity] = [
            Text(self.heading, (0.0, -HEADING_MM), HEADING_MM, Role.TABLE),
            Text(self.key, (0.0, -HEADING_MM - 4.5), LETTER_MM, Role.NOTE),
        ]
        for place, row in enumerate(rows, start=1):
            y = -HEAD_MM - ROW_MM * place
            found.extend(_words(row.member, 0.0, y, NAME_MM))
            found.extend(_words(row.verdict, self.widths[0], y, VERDICT_MM))
            found.extend(_bars(row, sum(self.widths), y, self.bars / self.most))
            found.append(Polyline(((0.0, y), (self.width, y)), Role.GRID))
        return tuple(found)


def verdict_bars(rows: Sequence[VerdictRow], *, currency: str, width: float) -> VerdictBars:
    """Return the pairs of bars in a list of a width."""
    found = _listed(rows, currency)
    return replace(found, bars=width - (found.width - found.bars))


def verdict_plan(rows: Sequence[VerdictRow], *, title: str, currency: str) -> Drawing:
    """Return all pairs of bars on one sheet, as high as it must be."""
    bars = _listed(rows, currency)
    block, _ = bars.cut(bars.count)
    wide = max(block.width, text_width(bars.key, LETTER_MM))
    titles = wrapped(title, TITLE_MM, wide)
    height = TOP_MM + 1.5 * TITLE_MM * (len(titles) - 1) + block.height + SIDE_MM
    width = wide + 2 * SIDE_MM
    entities: list[Entity] = [
        Text(line, (SIDE_MM, height - 10.0 - 1.5 * TITLE_MM * row), TITLE_MM, Role.TITLE)
        for row, line in enumerate(titles)
    ]
    entities += [moved(entity, 1.0, (SIDE_MM, SIDE_MM + block.height)) for entity in block.entities]
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    return Drawing(title, tuple(entities), (0.0, 0.0, width, height), 1.0, "as large as it is")


def _listed(rows: Sequence[VerdictRow], currency: str) -> VerdictBars:
    money = f", in {currency}" if currency else ""
    key = f"Upper bar, full: what its wood saves{money}. Lower bar, hatched: what its hours cost."
    widths = (
        min(NAME_MM, max(text_width(row.member, LETTER_MM) for row in rows)) + BETWEEN_MM,
        min(VERDICT_MM, max(text_width(row.verdict, LETTER_MM) for row in rows)) + BETWEEN_MM,
    )
    most = max(1.0, *(value for row in rows for value in (row.worth, row.cost)))
    return VerdictBars(tuple(rows), key, widths, BARS_MM, most)


def _figure(value: float) -> str:
    return f"{value:.0f}"


def _figure_width(most: float) -> float:
    return text_width(_figure(most), LETTER_MM) + GAP_MM


def _words(text: str, x: float, y: float, width: float) -> Iterator[Text]:
    """Yield a text about the middle of a row, in two lines at most."""
    lines = cut_short(text, LETTER_MM, width, most=2)
    top = y + ROW_MM / 2 - LETTER_MM / 2 + (len(lines) - 1) * 0.8 * LETTER_MM
    for number, line in enumerate(lines):
        yield Text(line, (x, top - 1.6 * LETTER_MM * number), LETTER_MM, Role.TABLE)


def _bars(row: VerdictRow, x: float, y: float, scale: float) -> Iterator[Entity]:
    upper, lower = y + ROW_MM / 2 + 0.6, y + ROW_MM / 2 - 0.6 - BAR_MM
    for value, foot, step in ((row.worth, upper, FULL_MM), (row.cost, lower, HATCH_MM)):
        end = x + max(value * scale, 0.2)
        corners = ((x, foot), (end, foot), (end, foot + BAR_MM), (x, foot + BAR_MM))
        yield Polyline(corners, Role.PART, is_closed=True)
        at = x + step
        while at < end:
            yield Polyline(((at, foot), (at, foot + BAR_MM)), Role.SECTION)
            at += step
        middle = foot + BAR_MM / 2 - LETTER_MM / 2
        yield Text(_figure(value), (end + 1.5, middle), LETTER_MM, Role.TABLE)
