"""What to buy, as tables for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from nesting import buy_words
from nesting.buying import ToBuy
from nesting.units import Unit, format_length
from nesting.unseen import shown

if TYPE_CHECKING:
    from nesting.new_timber import NewPlank, SortedOut, TooWide


class BareTable(Table):
    """A table; on a terminal too narrow for it, a paragraph a row that leaves nothing out."""

    def add_row(self, *cells: RenderableType | None, **options: Any) -> None:
        """Add a row, each text as it is: no markup in it, what nobody sees written out.

        A figure needs all its room: short of its unit it would say something else.
        """
        told = [Text(shown(cell)) if isinstance(cell, str) else cell for cell in cells]
        super().add_row(*told, **options)
        for column, cell in zip(self.columns, told, strict=False):
            if isinstance(cell, Text) and (column.no_wrap or cell.cell_len > LONG):
                least = cell.cell_len if column.no_wrap else LEAST_OF_LONG
                column.min_width = max(column.min_width or 0, least)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield the table, or its rows in words."""
        wide = options.update(max_width=VERY_WIDE)
        if self.__rich_measure__(console, wide).minimum <= options.max_width:
            self._share_out(console, wide, options.max_width)
            yield from super().__rich_console__(console, options)
            return
        if self.title:
            yield Text(str(self.title), style="bold")
        rows = zip(*(column.cells for column in self.columns), strict=True)
        yield from (Text(f"{row}") for row in map(self._in_words, rows) if row)

    def _share_out(self, console: Console, wide: ConsoleOptions, width: int) -> None:
        """Give each column room for its longest word, the rest to those with most to say."""
        rooms = [self._measure_column(console, wide, column) for column in self.columns]
        least = [
            room.maximum if column.no_wrap else room.minimum
            for column, room in zip(self.columns, rooms, strict=True)
        ]
        more = [room.maximum - mine for room, mine in zip(rooms, least, strict=True)]
        left = width - sum(least)
        if not 0 <= left < sum(more):
            return
        for place, column in enumerate(self.columns):
            room = least[place] + left * more[place] // sum(more)
            column.width = room - self._get_padding_width(place)

    def _in_words(self, cells: Sequence[RenderableType]) -> str:
        """Return a row as ``D-07: thick 40 mm, pieces 4``; empty cells are left out."""
        first, *rest = (str(cell).strip() for cell in cells)
        names = [str(column.header).strip() for column in self.columns[1:]]
        told = [f"{name} {cell}" for name, cell in zip(names, rest, strict=True) if cell]
        return ": ".join(filter(None, (first, ", ".join(told))))


LONG, LEAST_OF_LONG = 40, 22
"""A cell of so many characters is prose, and needs so many columns: narrower, nobody reads it."""

VERY_WIDE = 10_000
"""Columns of no terminal: in so many, a table says how many it needs."""


def bare_table(title: str, *columns: str) -> Table:
    """Return a bare table; a column whose name begins with a # holds figures."""
    table = BareTable(
        title=shown(title), title_justify="left", title_style="bold", box=None, pad_edge=False
    )
    for column in columns:
        is_figure = column.startswith("#")
        table.add_column(
            column.lstrip("#"), justify="right" if is_figure else "left",
            no_wrap=is_figure, vertical="bottom", overflow="fold",
        )  # fmt: skip
    return table


def buy_tables(
    lines: Sequence[ToBuy], unit: Unit, title: str = "Left to buy"
) -> list[RenderableType]:
    """Return what to order, a table of its pieces under each line."""
    if not lines:
        return []
    shown: list[RenderableType] = [Text(f"\n{title}", style="bold")]
    for line in lines:
        remarks = f" ({'; '.join(line.remarks)})" if line.remarks else ""
        shown.append(Text(f"{buy_words.heading(line, unit)}{remarks}"))
        table = bare_table("", "  for", "#pieces", "each")
        for column in table.columns:
            column.vertical = "top"
        for piece in line.pieces:
            size = buy_words.size(piece, line.form, unit)
            more = buy_words.remarks(piece, line.form, unit)
            each = "; ".join(filter(None, (size, more)))
            table.add_row(
                f"  {buy_words.several(piece.part, piece.count)}", str(piece.pieces), each
            )
        shown.append(table)
    return [*shown, Text(buy_words.allowances(lines[0].rules, unit))]


def plank_report(planks: Sequence[NewPlank], found: SortedOut, unit: Unit) -> RenderableType:
    """Return the planks to buy, what is bought otherwise, and what is wider than the plank."""
    shown: list[RenderableType] = []
    if planks:
        notes = [buy_words.CLEAR_WOOD, *buy_words.too_long(planks, unit)]
        shown += [_planks_table(planks, unit), Text(" ".join(notes))]
    if found.too_wide:
        shown.append(_too_wide_table(found.too_wide, unit))
    return Group(*shown, *buy_tables(found.not_planks, unit, "Not out of a straight plank"))


def _planks_table(planks: Sequence[NewPlank], unit: Unit) -> Table:
    volume = "#board feet" if unit.is_imperial else "#m3"
    table = bare_table(
        f"Planks to buy, {format_length(planks[0].width_mm, unit)} wide",
        "wood", "#thick", "#long", "#no shorter", volume, "#waste %", "for",
    )  # fmt: skip
    for plank in planks:
        table.add_row(
            plank.species, buy_words.thickness(plank.thickness_mm, unit).partition(" (")[0],
            buy_words.at_least(plank.length_mm, unit), format_length(plank.least_length_mm, unit),
            f"{plank.board_feet:.1f}" if unit.is_imperial else f"{plank.rough_mm3 * 1e-9:.4f}",
            f"{plank.waste_percent:.0f}",
            ", ".join(buy_words.several(part, count) for part, count in plank.parts),
        )  # fmt: skip
    return table


def _too_wide_table(parts: Sequence[TooWide], unit: Unit) -> Table:
    table = bare_table("\nToo wide for such a plank", "part", "#how many", "#least plank")
    for part in parts:
        width = buy_words.at_least(part.least_width_mm, unit)
        table.add_row(part.part, str(part.count), width)
    return table
