"""The files of a judgement: a picture, tables to print, and the same as a spreadsheet."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from pathlib import Path

from nesting.folders.whole_folder import replaced_whole, require_free
from nesting.judging.choice import Choice
from nesting.judging.words import as_csv_rows, headline
from nesting.sheets.drawing import Drawing
from nesting.sheets.pdf import write_pdf
from nesting.sheets.svg import write_svg
from nesting.sheets.verdict_plan import VerdictRow, verdict_bars, verdict_plan
from nesting.sheets.whole_file import write_whole
from nesting.shop.kinds import Paper
from nesting.shop.paging import Lines, Pages, squeezed_table
from nesting.shop.print_furniture import Furniture
from nesting.spreadsheet import spreadsheet
from nesting.text_table import TextTable

FOLDER = "judged"
FILES = ("verdicts.svg", "judged.pdf", "judged.csv")


def write_judged(
    choice: Choice,
    tables: Sequence[TextTable],
    folder: Path,
    *,
    about: str,
    paper: Paper = Paper.A4,
    overwrite: bool = False,
) -> tuple[Path, ...]:
    """Write everything into a folder, all of it or nothing, and return the files.

    Parameters
    ----------
    about
        What is said of all figures.

    Raises
    ------
    OutputError
        If a file is there and may not be overwritten, or the folder cannot be written.
    """
    paths = [folder / name for name in FILES]
    require_free(paths, overwrite=overwrite)
    rows, currency = verdict_rows(choice), choice.question.boat.rates.currency
    title = f"{choice.question.boat.name}: what is worth pulling"
    with replaced_whole(folder) as fresh:
        picture = verdict_plan(rows, title=title, currency=currency)
        write_svg(picture, fresh / "verdicts.svg")
        write_pdf([*_pages(choice, rows, tables, about, paper)], fresh / "judged.pdf")
        write_whole(fresh / "judged.csv", spreadsheet([[headline(choice)], [about], [],
                                                        *as_csv_rows(tables)]))  # fmt: skip
    return tuple(paths)


def verdict_rows(choice: Choice) -> list[VerdictRow]:
    """Return what is worth and cost of each member, the best first."""
    boat = choice.question.boat
    rows = [
        VerdictRow(one.member, one.verdict.value, one.worth, boat.rates.hour * one.hours)
        for one in choice.judged
    ]
    return sorted(rows, key=lambda row: row.cost - row.worth)


def _pages(
    choice: Choice,
    rows: Sequence[VerdictRow],
    tables: Sequence[TextTable],
    about: str,
    paper: Paper,
) -> Iterator[Drawing]:
    """Yield the picture and the tables on pages as those of a plan's lists are."""
    furniture = Furniture(
        paper, choice.question.boat.name, (headline(choice),), (), "", datetime.date.today(),
        is_to_scale=False,
    )  # fmt: skip
    pages, wide = Pages(furniture.room), furniture.room[0]
    bars = verdict_bars(rows, currency=choice.question.boat.rates.currency, width=wide)
    words = Lines.of("What the figures are", [about], wide)
    pages.flow([bars, words, *(squeezed_table(one, wide) for one in tables if one.rows)])
    for number, leaf in enumerate(pages.leaves, start=1):
        yield furniture.page(leaf, number, len(pages.leaves))
