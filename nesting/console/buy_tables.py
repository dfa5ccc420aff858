"""What to buy, as tables for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from nesting.accounts import buy_words
from nesting.accounts.buying import ToBuy
from nesting.console.bare_tables import bare_table
from nesting.units import Unit
from nesting.written_measures import format_length

if TYPE_CHECKING:
    from nesting.accounts.new_timber import NewPlank, SortedOut, TooWide


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
        wants = (f"{asked}." for plank in planks for asked in plank.wants)
        notes = [buy_words.CLEAR_WOOD, *buy_words.too_long(planks, unit), *wants]
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
            buy_words.at_least(plank.length_mm, unit),
            buy_words.at_most(plank.least_length_mm, unit),
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
