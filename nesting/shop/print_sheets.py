"""All sheets of a plan as one PDF: an overview with its contents, then board after board."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nesting.accounts.account import BoardAccount
from nesting.marking.marking_out import MarkingOut, marking_out
from nesting.marking.tape import Tape
from nesting.nest import Nest
from nesting.sheets.cut_sheet import lists_of
from nesting.sheets.drawing import Drawing, Point
from nesting.sheets.pdf import pdf_content
from nesting.sheets.title import origin, shares_and_rules, wood
from nesting.shop.folio import Folio
from nesting.shop.kinds import Paper
from nesting.shop.paging import Item, Leaf, Lines, Pages
from nesting.shop.print_furniture import Furniture
from nesting.shop.print_overview import BoardPages, overview_leaves
from nesting.shop.print_views import BoardViews, board_views
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import exact_length

SHEETS = "sheets.pdf"

ACCOUNT_MM = 66.0
"""Width of what is told of a board beside its lists."""

LARGER: dict[Paper, Paper] = {Paper.A4: Paper.A3, Paper.LETTER: Paper.TABLOID}
"""The next size of each paper in its own family, where there is one."""


def made(folio: Folio) -> Iterable[tuple[str, bytes]]:
    """Yield the sheets of a plan, as one file."""
    yield SHEETS, pdf_content(sheet_pages(folio))


def sheet_pages(folio: Folio) -> list[Drawing]:
    """Return all pages, the overview first."""
    whole, words = folio.identities
    told_of = zip(folio.plan.nests, folio.account.boards, words, strict=True)
    boards = [_board(folio, nest, account, word) for nest, account, word in told_of]
    for board in boards:
        if board.remark:
            folio.on_remark(f"board {board.nest.board.name}: {board.remark}")
    front = _front(folio, whole)
    leaves = _overview(folio, boards, front.room)
    told = [(front, leaf) for leaf in leaves]
    told += [(board.furniture, leaf) for board in boards for leaf in board.leaves]
    return [
        furniture.page(leaf, number, len(told))
        for number, (furniture, leaf) in enumerate(told, start=1)
    ]


@dataclass(frozen=True)
class _Board:
    """The pages of one board; ``remark`` says what is wrong with them, if anything is."""

    nest: Nest
    account: BoardAccount
    identity: str
    furniture: Furniture
    leaves: list[Leaf]
    remark: str


def _overview(folio: Folio, boards: Sequence[_Board], room: Point) -> list[Leaf]:
    """Return the overview's pages; the contents count them, and so they are set until they fit."""
    leaves, count = list[Leaf](), 0
    while len(leaves) > count or not leaves:
        count = max(1, len(leaves))
        first, rows = count + 1, list[BoardPages]()
        for board in boards:
            rows.append(BoardPages(board.nest, board.account, board.identity, first, board.remark))
            first += len(board.leaves)
        leaves = overview_leaves(folio, rows, room)
    return [*leaves, *[()] * (count - len(leaves))]


def _front(folio: Folio, identity: str) -> Furniture:
    parts = sum(len(nest.placements) for nest in folio.plan.nests)
    told = f"{counted(parts, 'part')} on {counted(len(folio.plan.nests), 'board')}"
    return Furniture(
        folio.paper, folio.job.name, (f"The plan at a glance: {told}",),
        (f"plan {identity}",), f"PLAN {identity}", folio.date,
    )  # fmt: skip


def _furniture(folio: Folio, nest: Nest, identity: str, whole: str) -> Furniture:
    """Return head and foot of a board's pages; ``whole`` is the plan's word."""
    job = folio.job
    lines = (f"Project {job.name}", *origin(nest), wood(nest, job.rules, job.unit))
    return Furniture(
        folio.paper, f"Board {nest.board.name}", lines,
        (f"sheet {identity}", f"plan {whole}"), f"SHEET {identity} PLAN {whole}", folio.date,
    )  # fmt: skip


def _board(folio: Folio, nest: Nest, account: BoardAccount, identity: str) -> _Board:
    """Return the pages of one board, whose sheet has a word: its views, its account and lists."""
    job = folio.job
    furniture = _furniture(folio, nest, identity, folio.identity)
    marked = marking_out(nest, Tape.of(job.unit))
    views = board_views(nest, account, marked, job.unit, furniture.room)
    remark = _remark(folio, nest, account, marked, views)
    told = [*shares_and_rules(nest, account, job.rules, job.unit), *_bungs(account, job.unit)]
    told += [remark] if remark else []
    *tables, signs = lists_of(nest, account, job.rules, marked, job.unit)
    this_board = Lines.of("This board", told, ACCOUNT_MM)
    leaves = _fewest_leaves(furniture.room, views, tables, this_board, signs)
    return _Board(nest, account, identity, furniture, leaves, remark)


def _fewest_leaves(
    room: Point, views: BoardViews, tables: Sequence[Item], this_board: Item, signs: Item
) -> list[Leaf]:
    """Return the pages of a board in that order of its lists which takes fewest.

    Signs come last if they can; never alone on a last page.
    """
    orders = (
        [*tables, this_board, signs],
        [this_board, *tables, signs],
        [tables[0], this_board, signs, *tables[1:]] if tables else [this_board, signs],
        [signs, this_board, *tables],
        [this_board, signs, *reversed(tables)],
    )
    found = list[tuple[int, bool, list[Leaf]]]()
    for items in orders:
        pages = Pages(room)
        for block in views.blocks:
            pages.stack(block)
        pages.flow(items)
        leaves = pages.leaves
        found.append((len(leaves), items[-1] is signs and len(leaves[-1]) == 1, leaves))
    return min(found, key=lambda way: way[:2])[2]


def is_read_on(
    paper: Paper, nest: Nest, account: BoardAccount, marked: MarkingOut, unit: Unit
) -> bool:
    """Return whether a paper is large enough for a board."""
    plain = Furniture(paper, "", (), (), "", datetime.date.min)
    return board_views(nest, account, marked, unit, plain.room).is_read


def _bungs(account: BoardAccount, unit: Unit) -> list[str]:
    counts = Counter(bung.diameter_mm for bung in account.bungs)
    told = [f"{count} of {exact_length(size, unit)}" for size, count in sorted(counts.items())]
    return [f"Bungs: {', '.join(told)}"] if told else []


def _remark(
    folio: Folio, nest: Nest, account: BoardAccount, marked: MarkingOut, views: BoardViews
) -> str:
    """Return what is said where a paper is too small for a board, with the size that is not."""
    if views.is_read:
        return ""
    said = (
        f"{folio.paper} is too small for this board: at 1:{views.scale:g} its parts are hard to "
        "read"
    )
    larger = LARGER.get(folio.paper)
    if larger is not None and is_read_on(larger, nest, account, marked, folio.job.unit):
        return f"{said}; print on {larger}."
    return f"{said}; plot its cut sheet, {folio.sheets[nest.board.name]}."
