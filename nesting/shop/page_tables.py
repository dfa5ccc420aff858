"""The page's tables: where the wood went, what is left over and why, what to buy, cautions."""

from __future__ import annotations

from typing import Any

from nesting import buy_words
from nesting.account import Shares
from nesting.cautions import CAUTIONS, HEADING
from nesting.left_over import told
from nesting.sheets.figures import size_text
from nesting.shop.folio import Folio
from nesting.strength import CAUTION as STRENGTH_CAUTION
from nesting.units import exact_length, format_area
from nesting.words import counted

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
        "bungs": [
            [exact_length(size, job.unit), count] for size, count in account.bung_counts.items()
        ],
        "offcuts": [
            [nest.board.name, number, nest.board.species,
             size_text(offcut.length_mm, offcut.width_mm, job.unit),
             exact_length(nest.board.thickness_mm, job.unit),
             ", ".join(counted(n, kind) for kind, n in offcut.defect_counts.items()) or "clear"]
            for number, (nest, board) in enumerate(
                zip(folio.plan.nests, account.boards, strict=True)
            )
            for offcut in board.offcuts
        ],
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
        "strength": STRENGTH_CAUTION,
    }  # fmt: skip


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
