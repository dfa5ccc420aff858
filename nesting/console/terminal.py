"""The terminal: names shown as they are, cautions in full, tables of words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.console import Console, ConsoleOptions, Group, RenderableType
from rich.segment import Segment
from rich.text import Text

from nesting.cautions import CAUTIONS, HEADING
from nesting.console.bare_tables import bare_table as _table
from nesting.unseen import is_seen, shown

if TYPE_CHECKING:
    from nesting.text_table import TextTable


class _Terminal(Console):
    """A console that writes out whatever nobody sees, wherever the text came from."""

    def on_broken_pipe(self) -> None:
        """Leave it to whoever prints: what is piped into a command that ended is no mistake."""
        raise BrokenPipeError

    def render(
        self, renderable: RenderableType, options: ConsoleOptions | None = None
    ) -> Iterator[Segment]:
        for segment in super().render(renderable, options):
            is_plain = segment.control or is_seen(segment.text)
            yield segment if is_plain else segment._replace(text=shown(segment.text))


def terminal(*, is_for_errors: bool = False) -> Console:
    """Return a console that shows every name as it is: no markup in it, no picture words."""
    return _Terminal(stderr=is_for_errors, markup=False, emoji=False)


def cautions() -> RenderableType:
    """Return what can hurt somebody, in full, as every command for the bench prints it."""
    told = [Text.assemble((f"{c.about}: ", "bold"), c.full) for c in CAUTIONS]
    return Group(Text(f"\n{HEADING}", style="bold"), *told)


def text_table(told: TextTable) -> RenderableType:
    """Return a table of words."""
    table = _table(f"\n{told.title}", *told.columns)
    for row in told.rows:
        table.add_row(*row)
    return table
