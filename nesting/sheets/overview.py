"""The overview: every opened board small on one drawing, with totals and what is left over."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import product

import shapely

from nesting.accounts.account import BoardAccount, Shares
from nesting.accounts.left_over_words import told
from nesting.nest import CuttingPlan, Nest
from nesting.sheets.blocks import LETTER_MM, Block, Flow, Rows, flow, record_table, table
from nesting.sheets.board_view import seen_outline
from nesting.sheets.caution_list import caution_list
from nesting.sheets.drawing import (
    Anchor,
    Drawing,
    Entity,
    Polyline,
    Role,
    Tag,
    Text,
    View,
    moved,
)
from nesting.sheets.figures import board_size, taped_figure
from nesting.sheets.free_space import FreeSpace, heart_of, room_in
from nesting.sheets.lettering import cut_short, name_short, text_width, wrapped
from nesting.sheets.page import PAD, PAPERS, SCALES
from nesting.sheets.plan_tag import plan_tag
from nesting.sheets.symbols import role_of
from nesting.sheets.window import Window
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import taped_length

NAME_MM = 2.5
"""Height of lettering, paper mm."""

TITLE_WIDTH_MM = 96.0

WHY_MM = 120.0
"""Width of what is told of a part that was not placed."""

LEAST_NAME_SHARE = 0.3
"""Of the line that names a board, so much is its name's at the least."""

LEAST_LENGTH_MM = 70.0
"""The longest board is drawn at least so long on paper; else the paper must be larger."""


ROLL = ("a roll 841 mm wide", math.inf, PAPERS[-1][2])
"""For more boards than any sheet holds: hundreds of them."""


def overview(
    plan: CuttingPlan,
    accounts: Sequence[BoardAccount],
    *,
    project_name: str,
    unit: Unit = Unit.MM,
    seed: int = 0,
) -> Drawing:
    """Return the overview of a cutting plan; ``accounts`` are those of its nests, in order.

    It is for reading: nothing on it is at full size. ``seed`` is the one the plan began from.
    """
    pairs = [
        (nest, account, named(nest, account, unit))
        for nest, account in zip(plan.nests, accounts, strict=True)
    ]
    others: list[Block | Rows] = [_totals(plan, accounts, unit)]
    others += [_unplaced(plan, unit)] if plan.unplaced else []
    others.append(caution_list())
    for (paper, width, height), scale in _papers(plan):
        corner = _title(plan, accounts, project_name, scale, paper)
        boards = [board_block(*pair, scale) for pair in pairs]
        lists = flow([*boards, *others], corner, height - 2 * PAD)
        if lists and lists.width <= width - 2 * PAD:
            width = lists.width + 2 * PAD if math.isinf(width) else width
            entities = _placed(lists, width, height, plan_tag(plan, seed))
            return Drawing(
                f"{project_name}: overview", entities, (0.0, 0.0, width, height), 1.0, paper
            )
    raise AssertionError("a roll holds any number of boards, none larger than 40 m")


def _papers(plan: CuttingPlan) -> Iterator[tuple[tuple[str, float, float], float]]:
    """Yield papers and scales, the likelier first; at last a roll that is as long as it takes."""
    longest = max((nest.board.length_mm for nest in plan.nests), default=0.0)
    fitting = [scale for scale in SCALES if longest / scale >= LEAST_LENGTH_MM] or SCALES[:1]
    yield from product(PAPERS, map(float, fitting))
    yield from ((ROLL, float(scale)) for scale in SCALES if scale >= fitting[-1])


def _placed(lists: Flow, width: float, height: float, tag: Tag) -> tuple[Entity, ...]:
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    entities: list[Entity] = [Polyline(corners, Role.FRAME, is_closed=True, tag=tag)]
    *others, corner = lists.pieces
    for piece in others:
        entities.extend(piece.entities(1.0, (PAD, height - PAD)))
    shift = (width - PAD - corner.block.width, PAD + corner.block.height)
    entities.extend(moved(entity, 1.0, shift) for entity in corner.block.entities)
    return tuple(entities)


def named(nest: Nest, account: BoardAccount, unit: Unit, most_mm: float = math.inf) -> str:
    """Return the line that names a board; where it is too wide, its name is cut short first."""
    board = nest.board
    size = board_size(board, unit)
    thick = taped_length(board.thickness_mm, unit)
    scrap = f"scrap {account.scrap_percent:.1f} %"
    told = f": {board.species}, {size}, {thick} thick, {scrap}"
    room = max(most_mm - text_width(told, NAME_MM), LEAST_NAME_SHARE * most_mm)
    (name,) = name_short(board.name, NAME_MM, room)
    return cut_short(f"{name}{told}", NAME_MM, most_mm)[0]


def board_block(nest: Nest, account: BoardAccount, words: str, scale: float) -> Block:
    """Return one board, reduced, under the line that names it."""
    board = nest.board
    _, low_y, _, high_y = board.shape.bounds
    width = max(board.length_mm / scale, text_width(words, NAME_MM))
    height = (high_y - low_y) / scale + HEADED_MM
    return Block(width, height, partial(_board_drawn, nest, account, scale, words))


HEADED_MM = 2.0 * NAME_MM
"""From the top of the line that names a board to the board itself."""


def _board_drawn(nest: Nest, account: BoardAccount, scale: float, words: str) -> tuple[Entity, ...]:
    board = nest.board
    low_x, _, _, high_y = board.shape.bounds
    shift = (-low_x / scale, -HEADED_MM - high_y / scale)
    window = Window(1.0, times=1 / scale, shift=shift, view=View.COPY)
    entities: list[Entity] = [Text(words, (0.0, -NAME_MM), NAME_MM, Role.NOTE, view=View.COPY)]
    entities.extend(window.rings(board.shape, (Role.BOARD, Role.BOARD)))
    parts = _parts(nest, window)
    lettered = shapely.union_all([shapely.box(*e.box) for e in parts if isinstance(e, Text)])
    shapely.prepare(lettered)
    for keep_out, seen in zip(
        board.keep_outs, window.all_seen([k.polygon for k in board.keep_outs]), strict=True
    ):
        role = role_of(keep_out.kind)
        if not keep_out.is_circle:
            entities.extend(window.rings(keep_out.polygon, (role, role)))
        elif not lettered.intersects(seen):
            entities.extend(window.circle(*keep_out.bounding_circle, role))
    for offcut in account.offcuts:
        entities.extend(window.rings(offcut.shape, (Role.OFFCUT, Role.OFFCUT)))
    return (*entities, *parts)


def _parts(nest: Nest, window: Window) -> list[Entity]:
    """Return the cuts, each with its name or at least its number where that fits."""
    entities: list[Entity] = []
    space = FreeSpace()
    space.take([window.seen(k.polygon) for k in nest.board.keep_outs], is_soft=True)
    for number, placement in enumerate(nest.placements, start=1):
        polygon = seen_outline(placement)
        entities.extend(window.rings(polygon, (Role.SAW_OUTLINE, Role.SAW_OPENING)))
        shape = shapely.transform(polygon, window.at)
        heart, whole = heart_of(shape), f"{number} {placement.label}"
        # A number takes the place of a hole at the worst: the board's own sheet shows both.
        for text, heeds_soft in ((whole, True), (str(number), True), (str(number), False)):
            size = (text_width(text, NAME_MM) + 1.0, 1.5 * NAME_MM)
            centre = room_in(space, shape, size, heart, heeds_soft=heeds_soft)
            if centre:
                at = (centre[0], centre[1] - NAME_MM / 2)
                entities.append(Text(text, at, NAME_MM, Role.PART_NAME, Anchor.CENTRE, View.COPY))
                break
    return entities


def _totals(plan: CuttingPlan, accounts: Sequence[BoardAccount], unit: Unit) -> Rows:
    rows = [
        (
            nest.board.name,
            nest.board.species,
            taped_figure(nest.board.thickness_mm, unit),
            str(len(nest.placements)),
            str(len(account.bungs)),
            *_shares(account.area),
        )
        for nest, account in zip(plan.nests, accounts, strict=True)
    ]
    area = sum((account.area for account in accounts), Shares())
    parts = sum(len(nest.placements) for nest in plan.nests)
    bungs = sum(len(account.bungs) for account in accounts)
    rows.append(
        ("all", counted(len(plan.nests), "board"), "", str(parts), str(bungs), *_shares(area))
    )
    columns = ("board", "species", "thick", "parts", "bungs", "parts %", "kept %", "scrap %")
    anchors = (Anchor.LEFT, Anchor.LEFT, *[Anchor.RIGHT] * 6)
    return table("Boards opened", columns, anchors, tuple(rows))


def _shares(area: Shares) -> tuple[str, str, str]:
    used, kept = area.percent("parts"), area.percent("offcuts")
    return f"{used:.1f}", f"{kept:.1f}", f"{area.scrap_percent:.1f}"


def _unplaced(plan: CuttingPlan, unit: Unit) -> Rows:
    records = []
    for left in plan.unplaced:
        rows = [(left.need.part, str(left.count), left.reason.value)]
        for text in told(left.prospect, unit):
            rows += [("", "", line) for line in wrapped(text, LETTER_MM, WHY_MM)]
        records.append(rows)
    return record_table(
        "Not placed",
        ("part", "count", "why, and what would help"),
        (Anchor.LEFT, Anchor.RIGHT, Anchor.LEFT),
        records,
    )


def _title(
    plan: CuttingPlan,
    accounts: Sequence[BoardAccount],
    project_name: str,
    scale: float,
    paper: str,
) -> Block:
    area = sum((account.area for account in accounts), Shares())
    left = sum(unplaced.count for unplaced in plan.unplaced)
    lines = [
        f"{counted(sum(len(nest.placements) for nest in plan.nests), 'part')} on "
        f"{counted(len(plan.nests), 'board')}; "
        f"{left or 'none'} left over",
        f"Parts {area.percent('parts'):.1f} %, offcuts kept {area.percent('offcuts'):.1f} %, "
        f"scrap {area.scrap_percent:.1f} % ({area.uncredited_scrap_percent:.1f} % if no offcut "
        "were kept)",
        "Numbers are those of each board's own cut sheet.",
        f"Boards 1:{scale:g} printed to fit {paper}; not to be measured",
    ]
    return title_block(project_name, lines, width_mm=TITLE_WIDTH_MM)


TITLE_LETTER_MM = 5.0


def title_block(title: str, lines: Sequence[str], *, width_mm: float) -> Block:
    """Return a title and lines below it, wrapped, in a frame of a width."""
    inner, y = width_mm - 6.0, -8.0
    entities: list[Entity] = []
    for text in wrapped(title, TITLE_LETTER_MM, inner):
        entities.append(Text(text, (3.0, y), TITLE_LETTER_MM, Role.TITLE))
        y -= 1.5 * TITLE_LETTER_MM
    for text in (piece for line in lines for piece in wrapped(line, NAME_MM, inner)):
        entities.append(Text(text, (3.0, y), NAME_MM, Role.TITLE))
        y -= 4.0
    height = 1.0 - y
    corners = ((0.0, 0.0), (width_mm, 0.0), (width_mm, -height), (0.0, -height))
    entities.append(Polyline(corners, Role.TITLE, is_closed=True))
    return Block(width_mm, height, tuple(entities))
