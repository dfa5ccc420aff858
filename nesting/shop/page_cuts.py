"""Break-down cuts for the page: their lines and where the saw stops, and the lists of the sheet."""

from __future__ import annotations

from typing import Any

from shapely.geometry import Point

from nesting.accounts.account import BoardAccount
from nesting.marking.base_line import BaseLine
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.break_down_lists import (
    CUT_COLUMNS,
    LEFT_COLUMNS,
    cut_rows,
    cuts_heading,
    left_heading,
    left_rows,
    run_out_words,
)
from nesting.sheets.break_down_sheet import EDGE_MM, stops_of, stops_together
from nesting.units import Unit

DIGITS = 3
"""Digits of a place behind the mm, and of a direction."""

NEAR_MM = 12.0
"""Stops nearer to each other than this have one name."""

Json = dict[str, Any]


def cuts_data(nest: Nest, account: BoardAccount, base: BaseLine, rules: Rules, unit: Unit) -> Json:
    """Return the cuts of one board as lines and as lists, in the words of its sheet.

    Of each cut there is its line, x, y, x, y; which of its ends lie on the board's edge, 0 the
    first; and of each stop the place and the direction in which the saw comes there.
    """
    edge, cuts = nest.board.shape.exterior, account.break_down.cuts
    return {
        "lines": [
            {
                "line": _rounded(*cut.start, *cut.end),
                "edges": [
                    number
                    for number, end in enumerate((cut.start, cut.end))
                    if edge.distance(Point(end)) <= EDGE_MM
                ],
                "stops": [_rounded(*at, *way) for at, way in stops_of(cut)],
            }
            for cut in cuts
        ],
        "stops": [[*_rounded(*at), words] for at, words in stops_together(cuts, NEAR_MM)],
        "list": _list(cuts_heading(unit), CUT_COLUMNS, cut_rows(nest, account, base, unit)),
        "left": _list(left_heading(account, unit), LEFT_COLUMNS, left_rows(nest, account, unit)),
        "told": run_out_words(nest, account, rules, unit),
    }


def _rounded(*figures: float) -> list[float]:
    return [round(figure, DIGITS) + 0.0 for figure in figures]


def _list(heading: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> Json:
    return {"heading": heading, "columns": columns, "rows": rows}
