"""The first printed pages: what became of the wood, every board small, and on which page it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from nesting.accounts.account import BoardAccount
from nesting.nest import CuttingPlan, Nest
from nesting.sheets.blocks import Block, Rows
from nesting.sheets.caution_list import caution_list
from nesting.sheets.drawing import Anchor, Area, Entity, Point, Polyline, Role
from nesting.sheets.figures import board_width, figure, taped_figure
from nesting.sheets.lists import measures
from nesting.sheets.overview import HEADED_MM, board_block, named
from nesting.shop.folio import Folio
from nesting.shop.paging import Leaf, Lines, Pages, wrapped_table
from nesting.shop.print_ink import TINT
from nesting.shop.print_views import PRINT_SCALES
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import exact_length, format_area

SMALL_LENGTHS_MM = (182.0, 128.0)
"""Else the longest board is drawn so long: below the contents, or two side by side."""

TOLD_MM = 84.0
"""Width of the account in words."""

BOARD_MM, WOOD_MM, PARTS_MM, WHY_MM = 34.0, 42.0, 92.0, 80.0
"""Widest columns of names, woods, the parts of a board, and reasons."""

LEFT, RIGHT = Anchor.LEFT, Anchor.RIGHT


@dataclass(frozen=True)
class BoardPages:
    """One opened board, the word its sheet is known by, and the first of its pages.

    ``remark`` says what is wrong with its pages, if anything is.
    """

    nest: Nest
    account: BoardAccount
    identity: str
    page: int
    remark: str


def overview_leaves(folio: Folio, boards: Sequence[BoardPages], room: Point) -> list[Leaf]:
    """Return the pages of the overview on pages with so much room.

    Boards are drawn as long as a page where that takes no more pages.
    """
    tried = [_leaves(folio, boards, room, wide) for wide in (room[0], *SMALL_LENGTHS_MM)]
    return min(tried, key=len)


def _leaves(folio: Folio, boards: Sequence[BoardPages], room: Point, wide: float) -> list[Leaf]:
    unit, pages = folio.job.unit, Pages(room)
    longest = max((board.nest.board.length_mm for board in boards), default=1.0)
    highest = max((board.nest.board.width_mm for board in boards), default=1.0)
    high = room[1] - HEADED_MM
    fitting = (s for s in PRINT_SCALES if longest / s <= wide and highest / s <= high)
    scale = float(next(fitting, PRINT_SCALES[-1]))
    heads: list[Block | Rows] = [Lines.of("The plan", tuple(_told(folio, scale)), TOLD_MM)]
    remarks = [f"{board.nest.board.name}: {board.remark}" for board in boards if board.remark]
    if remarks:
        heads.append(Lines.of("Paper too small", remarks, TOLD_MM))
    small = [_tinted(_board(board, scale, unit, max(wide, 128.0))) for board in boards]
    lists = [contents(boards, unit)]
    lists += [_left_over(folio.plan)] if folio.plan.unplaced else []
    pages.flow([lists[0], *heads, *small, *lists[1:], caution_list()])
    return pages.leaves


def _board(pages: BoardPages, scale: float, unit: Unit, wide_mm: float) -> Block:
    """Return a board, reduced, with the line that names it."""
    words = named(pages.nest, pages.account, unit, wide_mm)
    return board_block(pages.nest, pages.account, words, scale)


def _tinted(block: Block) -> Block:
    """Return a small board with its parts tinted and their edges thin, once it is drawn."""
    return Block(block.width, block.height, partial(_tinted_drawn, block))


def _tinted_drawn(block: Block) -> tuple[Entity, ...]:
    found = list[Entity]()
    for entity in block.entities:
        if isinstance(entity, Polyline) and entity.role is Role.SAW_OUTLINE:
            found.append(Area((entity.points,), Role.SAW_OUTLINE, TINT))
            entity = replace(entity, role=Role.PART)
        found.append(entity)
    return tuple(found)


def _told(folio: Folio, scale: float) -> Iterator[str]:
    """Yield what became of the wood, in words."""
    area, plan = folio.account.area, folio.plan
    left = sum(unplaced.count for unplaced in plan.unplaced)
    yield (
        f"{counted(sum(len(nest.placements) for nest in plan.nests), 'part')} on "
        f"{counted(len(plan.nests), 'board')} of {len(folio.job.stock)}; {left or 'none'} left over"
    )
    yield f"{format_area(area.opened, folio.job.unit)} of wood opened"
    yield (
        f"Parts {area.percent('parts'):.1f} %, offcuts kept {area.percent('offcuts'):.1f} %, "
        f"scrap {area.scrap_percent:.1f} %"
    )
    for size, count in folio.account.bung_counts.items():
        yield f"{counted(count, 'bung')} of {exact_length(size, folio.job.unit)}"
    yield f"Boards here 1:{scale:g}, not to be measured; numbers are those of their own pages."
    yield "The word of a sheet changes when anything on it does: on other paper it is old."


def contents(boards: Sequence[BoardPages], unit: Unit) -> Rows:
    """Return one row a board: its page, and what lies on it."""
    rows = [
        (
            str(board.page),
            board.nest.board.name,
            board.nest.board.species,
            figure(board.nest.board.length_mm, unit),
            board_width(board.nest.board, unit)[0],
            taped_figure(board.nest.board.thickness_mm, unit),
            board.identity,
            "; ".join(
                f"{number} {placement.label}"
                for number, placement in enumerate(board.nest.placements, start=1)
            ),
        )
        for board in boards
    ]
    columns = (
        ("page", RIGHT, 20.0),
        ("board", LEFT, BOARD_MM),
        ("wood", LEFT, WOOD_MM),
        ("long", RIGHT, 30.0),
        ("wide", RIGHT, 30.0),
        ("thick", RIGHT, 30.0),
        ("sheet", LEFT, 30.0),
        ("parts on it, by number", LEFT, PARTS_MM),
    )
    return wrapped_table(f"Contents, {measures(unit)}", columns, rows)


def _left_over(plan: CuttingPlan) -> Rows:
    rows = [(left.need.part, str(left.count), left.reason.value) for left in plan.unplaced]
    columns = (("part", LEFT, BOARD_MM), ("count", RIGHT, 20.0), ("why", LEFT, WHY_MM))
    return wrapped_table("Left over: what to buy stands in the lists", columns, rows)
