"""The page's tables: where the wood went, what is left over and why, what to buy, cautions."""

from __future__ import annotations

from typing import Any

from nesting.accounts import buy_words
from nesting.accounts.account import Shares
from nesting.accounts.left_over_words import told
from nesting.accounts.strength import CAUTION as STRENGTH_CAUTION
from nesting.cautions import CAUTIONS, HEADING, IN_SHORT
from nesting.shop.folio import Folio
from nesting.shop.list_data import Kind, ShopList
from nesting.shop.list_rows import plan_lists
from nesting.shop.money import buying_lists
from nesting.words import counted
from nesting.written_measures import format_area

SHARES = {
    "parts": "parts",
    "offcuts": "offcuts kept",
    "defects": "defects",
    "kerf_and_trim": "kerf and trim",
    "oddments": "oddments",
}
"""What opened wood becomes, as people call it."""

Json = dict[str, Any]


def page_tables(folio: Folio) -> Json:
    """Return all that the page shows as tables and text."""
    job, account = folio.job, folio.account
    return {
        "whole": _whole(account.area, folio),
        "boards": [
            {"name": board.board_name, "number": number, "shares": _shares(board.area),
             "scrap": f"{board.scrap_percent:.1f}"}
            for number, board in enumerate(account.boards)
        ],
        "names": SHARES,
        "lists": [_list(one, folio) for one in _lists(folio) if one.on_paper],
        "left": [
            {"part": left.need.part, "count": left.count, "why": str(left.reason),
             "help": list(told(left.prospect, job.unit))}
            for left in folio.plan.unplaced
        ],
        "buy": [
            {
                "heading": buy_words.heading(line, job.unit),
                "remarks": list(line.remarks),
                "pieces": [
                    [buy_words.several(piece.part, piece.count), piece.pieces,
                     buy_words.size(piece, line.form, job.unit),
                     buy_words.remarks(piece, line.form, job.unit)]
                    for piece in line.pieces
                ],
            }
            for line in account.to_buy
        ],
        "allowances": buy_words.allowances(job.rules.new_timber, job.unit),
        "cautions": CAUTIONS,
        "cautions_heading": HEADING,
        "in_short": IN_SHORT,
        "strength": STRENGTH_CAUTION,
    }  # fmt: skip


LISTED = ("order", "bungs", "holes", "offcuts", "money")
"""Lists that the page has beside its boards, its index of parts and what is to be bought."""


def _lists(folio: Folio) -> list[ShopList]:
    found = {one.word: one for one in (*plan_lists(folio), *buying_lists(folio))}
    return [found[word] for word in LISTED if word in found]


def _list(one: ShopList, folio: Folio) -> Json:
    """Return a list as it is on paper; ``boards`` has the number of each row's board."""
    unit, names = folio.job.unit, [column.name for column in one.columns]
    numbers = {nest.board.name: number for number, nest in enumerate(folio.plan.nests)}
    place = names.index("board") if "board" in names else None
    return {
        "word": one.word,
        "title": one.title,
        "heads": one.heads(unit),
        "figures": [column.kind is not Kind.TEXT for column in one.columns],
        "rows": one.cells(unit),
        "place": place,
        "boards": [None if place is None else numbers[str(row[place])] for row in one.on_paper],
    }


def _shares(area: Shares) -> list[Json]:
    """Return each share with where its bar begins, in per cent."""
    found, begins = [], 0.0
    for name in SHARES:
        percent = area.percent(name)
        found.append({"name": name, "percent": percent, "begins": begins})
        begins += percent
    return found


def _whole(area: Shares, folio: Folio) -> Json:
    unit = folio.job.unit
    shares = [
        {**share, "area": format_area(getattr(area, share["name"]), unit)}
        for share in _shares(area)
    ]
    return {
        "shares": shares,
        "opened": format_area(area.opened, unit),
        "boards": counted(len(folio.account.boards), "board"),
        "scrap": f"{area.scrap_percent:.1f}",
        "uncredited": f"{area.uncredited_scrap_percent:.1f}",
    }
