"""A bare table for the terminal, which becomes paragraphs where there is no room for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from nesting.unseen import shown


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
        """Give each column room for its longest word, and share out the rest fairly."""
        rooms = [self._measure_column(console, wide, column) for column in self.columns]
        least = [
            room.maximum if column.no_wrap else room.minimum
            for column, room in zip(self.columns, rooms, strict=True)
        ]
        more = [room.maximum - mine for room, mine in zip(rooms, least, strict=True)]
        left = width - sum(least)
        if not 0 <= left < sum(more):
            return
        asking = sorted(range(len(more)), key=more.__getitem__)
        for rank, place in enumerate(asking):  # Who asks for little gets it whole.
            given = min(more[place], left // (len(asking) - rank))
            left -= given
            self.columns[place].width = least[place] + given - self._get_padding_width(place)

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
        is_figure, name = column.startswith("#"), column.lstrip("#")
        table.add_column(
            name, justify="right" if is_figure else "left", no_wrap=is_figure,
            min_width=cell_len(name) if is_figure else None, vertical="bottom", overflow="fold",
        )  # fmt: skip
    return table
