"""What differs between two plans as a drawing: each board on which anything changed, small.

It reads in black and white: what stays has a thin edge, what is new or moved here a heavy one and
a tint, what went a dashed one, and each says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import product

import shapely

from nesting.changes import HERE_NOW, BoardChange, Changes, Fate, PieceChange, told_changes
from nesting.need import Need
from nesting.sheets.blocks import Block, Rows, flow
from nesting.sheets.board_view import seen_outline
from nesting.sheets.drawing import (
    Anchor,
    Area,
    Drawing,
    Entity,
    Polyline,
    Role,
    Text,
    View,
    moved,
)
from nesting.sheets.free_space import FreeSpace, heart_of, room_in
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.overview import HEADED_MM, NAME_MM, ROLL, title_block
from nesting.sheets.page import PAD, PAPERS, SCALES
from nesting.sheets.symbols import role_of
from nesting.sheets.window import Window
from nesting.stock.board import Board

TITLE_WIDTH_MM = 110.0

TOLD_MM = 150.0
"""Width of what is told in words."""

LEAST_LENGTH_MM = 70.0
"""The longest board is drawn at least so long on paper; else the paper must be larger."""

TINT = 0.12
"""Shade of what is new on a board."""

EDGES: Mapping[Fate, Role] = {
    Fate.STAYS: Role.PART,
    Fate.MOVED: Role.SAW_OUTLINE,
    Fate.CAME: Role.SAW_OUTLINE,
    Fate.NEW: Role.SAW_OUTLINE,
    Fate.WENT: Role.MARK_FRAME,
    Fate.GONE: Role.MARK_FRAME,
}
"""The pen of each fate: thin, heavy, or dashed."""

KEY = (
    "thin edge: stays",
    "heavy edge and tint: new here, or moved",
    "dashed edge: was here, and is not any more",
)


def changes_drawing(
    changes: Changes, boards: Sequence[Board], needs: Sequence[Need], *, title: str
) -> Drawing:
    """Return a drawing of all boards on which anything changed; it is for reading alone."""
    board_of = {board.name: board for board in boards}
    shown = [
        (board_of[change.board], change)
        for change in changes.boards
        if change.board in board_of and not change.is_same
    ]
    told = _words("What differs", list(told_changes(changes, needs)))
    longest = max((board.length_mm for board, _ in shown), default=0.0)
    fitting = [s for s in SCALES if longest / s >= LEAST_LENGTH_MM] or SCALES[:1]
    sizes = [*product(PAPERS, map(float, fitting)), (ROLL, float(fitting[-1]))]
    for (paper, width, height), scale in sizes:
        blocks: list[Block | Rows] = [told, *(_block(board, own, scale) for board, own in shown)]
        lists = flow(blocks, _title(title, scale, paper), height - 2 * PAD)
        if lists and lists.width <= width - 2 * PAD:
            wide = lists.width + 2 * PAD if math.isinf(width) else width
            corners = ((0.0, 0.0), (wide, 0.0), (wide, height), (0.0, height))
            entities: list[Entity] = [Polyline(corners, Role.FRAME, is_closed=True)]
            *others, corner = lists.pieces
            for piece in others:
                entities.extend(piece.entities(1.0, (PAD, height - PAD)))
            shift = (wide - PAD - corner.block.width, PAD + corner.block.height)
            entities.extend(moved(entity, 1.0, shift) for entity in corner.block.entities)
            return Drawing(title, tuple(entities), (0.0, 0.0, wide, height), 1.0, paper)
    raise AssertionError("a roll holds any number of boards, none larger than 40 m")


def _title(title: str, scale: float, paper: str) -> Block:
    lines = (*KEY, f"Boards 1:{scale:g} printed to fit {paper}; not to be measured")
    return title_block(title, lines, width_mm=TITLE_WIDTH_MM)


def _words(heading: str, lines: Sequence[str]) -> Block:
    """Return lines of words under a heading."""
    entities: list[Entity] = [Text(heading, (0.0, -NAME_MM * 1.2), NAME_MM * 1.2, Role.TABLE)]
    y = -NAME_MM * 3.2
    for line in lines:
        for number, text in enumerate(wrapped(line, NAME_MM, TOLD_MM)):
            entities.append(Text(text, (3.0 * bool(number), y), NAME_MM, Role.NOTE))
            y -= NAME_MM * 1.8
        y -= NAME_MM * 0.5
    return Block(TOLD_MM + 3.0, -y, tuple(entities))


def _block(board: Board, change: BoardChange, scale: float) -> Block:
    """Return one board, reduced, under the line that says what to do with its sheet."""
    before, now = change.words
    marked = (
        f" (marked {before}{f', now {now}' if now else ''})" if before != now and before else ""
    )
    words = f"{board.name}, its sheet: {change.sheet}{marked}"
    _, low_y, _, high_y = board.shape.bounds
    width = max(board.length_mm / scale, text_width(words, NAME_MM))
    height = (high_y - low_y) / scale + HEADED_MM
    return Block(width, height, partial(_drawn, board, change, scale, words))


def _drawn(board: Board, change: BoardChange, scale: float, words: str) -> tuple[Entity, ...]:
    low_x, _, _, high_y = board.shape.bounds
    shift = (-low_x / scale, -HEADED_MM - high_y / scale)
    window = Window(1.0, times=1 / scale, shift=shift, view=View.COPY)
    entities: list[Entity] = [Text(words, (0.0, -NAME_MM), NAME_MM, Role.NOTE, view=View.COPY)]
    order = sorted(change.pieces, key=lambda piece: piece.fate in HERE_NOW)
    space = FreeSpace()
    space.take([window.seen(keep_out.polygon) for keep_out in board.keep_outs], is_soft=True)
    texts: list[Entity] = []
    for piece in order:
        entities += _edge(piece, window)
    for piece in reversed(order):
        texts += _label(piece, window, space)
    entities.extend(window.rings(board.shape, (Role.BOARD, Role.BOARD)))
    for keep_out in board.keep_outs:
        role = role_of(keep_out.kind)
        entities.extend(window.rings(keep_out.polygon, (role, role)))
    return (*entities, *texts)


def _lies(piece: PieceChange) -> shapely.Polygon | None:
    """Return the outline of a piece on the board: as it lies, or as it lay."""
    at = piece.now if piece.fate in HERE_NOW else piece.was
    return None if at is None else seen_outline(at.placement)


def _edge(piece: PieceChange, window: Window) -> Iterator[Entity]:
    polygon, role = _lies(piece), EDGES[piece.fate]
    if piece.fate is Fate.MOVED and piece.was is not None:
        was = EDGES[Fate.WENT]
        yield from window.rings(seen_outline(piece.was.placement), (was, was))
    if polygon is None:
        return
    rings = window.rings(polygon, (role, role))
    if piece.fate in HERE_NOW and piece.fate is not Fate.STAYS:
        outer = rings[-1]
        if isinstance(outer, Polyline):
            yield Area((outer.points,), role, TINT)
    yield from rings


def _label(piece: PieceChange, window: Window, space: FreeSpace) -> Iterator[Entity]:
    """Yield what a piece is called and its fate, where there is room in it."""
    polygon = _lies(piece)
    at = piece.now if piece.fate in HERE_NOW else piece.was
    if polygon is None or at is None:
        return
    shape, label = shapely.transform(polygon, window.at), at.placement.label
    fate = "" if piece.fate is Fate.STAYS else f": {piece.fate} {piece.other}".rstrip()
    for text in dict.fromkeys((f"{label}{fate}", fate.removeprefix(": ") or label)):
        size = (text_width(text, NAME_MM) + 1.0, 1.5 * NAME_MM)
        heart = heart_of(shape)
        centre = room_in(space, shape, size, heart) or room_in(
            space, shape, size, heart, heeds_soft=False
        )
        if centre:
            x, y = centre[0], centre[1] - NAME_MM / 2
            half = size[0] / 2
            space.take([shapely.box(x - half, y - 0.5, x + half, y + size[1])])
            yield Text(text, (x, y), NAME_MM, Role.PART_NAME, Anchor.CENTRE, View.COPY)
            return
