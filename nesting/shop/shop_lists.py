"""The lists of a plan: one PDF for the wall, and a CSV file each."""

from __future__ import annotations

from collections.abc import Iterable

from nesting.accounts import buy_words
from nesting.sheets.drawing import Drawing
from nesting.sheets.pdf import pdf_content
from nesting.shop.folio import Folio
from nesting.shop.list_data import ShopList
from nesting.shop.list_rows import plan_lists
from nesting.shop.money import buying_lists
from nesting.shop.paging import Item, Lines, Pages
from nesting.shop.print_furniture import Furniture
from nesting.words import counted

LISTS = "lists.pdf"

NOTE_MM = 120.0


def made(folio: Folio) -> Iterable[tuple[str, bytes]]:
    """Yield every list as CSV, and all of them as one PDF."""
    lists = all_lists(folio)
    for one in lists:
        yield one.file, one.csv(folio.job.unit)
    yield LISTS, pdf_content(list_pages(folio, lists))


def all_lists(folio: Folio) -> list[ShopList]:
    """Return the lists of a plan; those of what there is none of have no rows."""
    return [*plan_lists(folio), *buying_lists(folio)]


def list_pages(folio: Folio, lists: Iterable[ShopList]) -> list[Drawing]:
    """Return the lists on paper, those without rows left out."""
    identity, unit = folio.identity, folio.job.unit
    parts = sum(len(nest.placements) for nest in folio.plan.nests)
    told = f"Lists: {counted(parts, 'part')} on {counted(len(folio.plan.nests), 'board')}"
    furniture = Furniture(
        folio.paper, folio.job.name, (told,),
        (f"plan {identity}",), f"PLAN {identity}", folio.date, is_to_scale=False,
    )  # fmt: skip
    pages = Pages(furniture.room)
    tables: list[Item] = [one.table(unit) for one in lists if one.on_paper]
    if folio.account.to_buy:
        allowances = buy_words.allowances(folio.account.to_buy[0].rules, unit)
        tables.append(Lines.of("On what there is to buy", [allowances], NOTE_MM))
    pages.flow(tables)
    leaves = pages.leaves
    return [
        furniture.page(leaf, number, len(leaves)) for number, leaf in enumerate(leaves, start=1)
    ]
