"""The picture of a judgement: read at arm's length on the shop's paper, however many members."""

import datetime
import re

import pytest
import shapely
from printed import clashes, faults

from nesting.sheets.drawing import Polyline, Role, Text
from nesting.sheets.verdict_plan import VerdictRow, verdict_bars, verdict_plan
from nesting.shop.kinds import Paper
from nesting.shop.paging import Pages
from nesting.shop.print_furniture import Furniture

VERDICTS = ("save", "save only if hours are cheap", "scrap")
ROWS = [
    VerdictRow(
        f"{'w' * 70 if n % 9 == 0 else 'deck plank'} {n}",
        VERDICTS[n % 3],
        37.0 * n,
        4000 - 60.0 * n,
    )
    for n in range(60)
]


def pages_on(paper, rows=ROWS):
    furniture = Furniture(paper, "Alder", ("told",), (), "", datetime.date(2026, 11, 28), False)
    pages = Pages(furniture.room)
    pages.flow([verdict_bars(rows, currency="EUR", width=furniture.room[0])])
    return [furniture.page(leaf, n, len(pages.leaves)) for n, leaf in enumerate(pages.leaves, 1)]


@pytest.mark.parametrize("paper", Paper)
def test_members_go_over_as_many_pages_as_they_need_and_are_read_there(paper):
    pages = pages_on(paper)
    assert faults(pages) == []
    for page in pages:
        assert sorted(side + 20 for side in page.size_mm) == pytest.approx(sorted(paper.size_mm))
    said = [text.text for page in pages for text in page.entities if isinstance(text, Text)]
    assert sum(bool(re.fullmatch(r"(deck plank|w+) \d+", text)) for text in said) >= 53


@pytest.mark.parametrize("paper", Paper)
def test_bars_are_as_long_as_their_money_and_stay_on_the_page(paper):
    pages = pages_on(paper)
    frame = shapely.box(*pages[0].frame)
    bars = [
        e
        for page in pages
        for e in page.entities
        if isinstance(e, Polyline) and e.role is Role.PART
    ]
    assert len(bars) == 2 * len(ROWS)
    assert all(frame.contains(shapely.LineString(bar.points)) for bar in bars)
    lengths = [bar.points[1][0] - bar.points[0][0] for bar in bars]
    money = [value for row in ROWS for value in (row.worth, row.cost)]
    each = max(lengths) / max(money)
    assert lengths == pytest.approx([max(value * each, 0.2) for value in money])


def test_sheet_for_a_screen_has_all_members_and_no_two_texts_overlap():
    drawing = verdict_plan(ROWS, title="what is worth pulling " * 8, currency="EUR")
    assert clashes(drawing) == []
    frame = shapely.box(*drawing.frame)
    texts = [e for e in drawing.entities if isinstance(e, Text)]
    assert all(frame.contains(shapely.box(*text.box)) for text in texts)
    assert {"deck plank 1", "deck plank 59"} <= {text.text for text in texts}
