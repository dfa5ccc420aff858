"""A board on paper: whole, and in lengths large enough to be read at arm's length."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from nesting.accounts.account import BoardAccount
from nesting.marking.marking_out import MarkingOut
from nesting.nest import Nest
from nesting.sheets.blocks import GAP_MM as BLOCKS_APART_MM
from nesting.sheets.blocks import Block
from nesting.sheets.board_view import grain_arrow
from nesting.sheets.cut_sheet import BESIDE_MM, GRAIN_WORDS, WORTH_LEAVING, breadth_of
from nesting.sheets.drawing import Anchor, Arrow, Entity, Point, Polyline, Role, Text, View
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.lettering import text_width
from nesting.sheets.page import SCALES, WORTH_ENLARGING, Surround
from nesting.sheets.ruler import FIGURE_PAPER_MM
from nesting.sheets.symbols import uncrowded_scale
from nesting.sheets.title import face_up
from nesting.sheets.view import draw_view
from nesting.sheets.window import Window
from nesting.shop.print_ink import UNSEEN_MM, leaned, tints
from nesting.stock.keep_out import KeepOutKind
from nesting.units import MM_PER_INCH, Unit
from nesting.words import counted
from nesting.written_measures import format_length

PRINT_SCALES = (*SCALES, 150, 200)
"""A board of 40 m goes on the smallest paper at the last of them."""

WHOLE = Surround(18.0, 10.0, 7.0, 19.5, 8.5)
LENGTH = Surround(18.0, 10.0, 7.0, 12.5, 7.5)
"""What is kept free about a whole board, and about a length of one."""

READ_MM = 6.0
"""A part this broad on paper holds its number and its name."""

LEAST_MM = 4.4
"""One this broad holds its number, in lettering of 2.5 mm."""

BROAD_MM = 24.0
"""A length shows the board at least so broad, so that defects and marks are told apart."""


GRAIN_MM, GAP_MM, END_ARROW_MM = 22.0, 6.0, 7.0
"""The longest arrow of the board's grain, the gap between words, the arrow at a board's end."""


BAR_MM = 20.0
"""A scale bar is at least so long on paper."""

BARS_MM = (20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
BAR_INCHES = (1, 2, 4, 6, 12, 24, 48, 96, 192)
"""Lengths that a scale bar stands for."""


@dataclass(frozen=True)
class BoardViews:
    """How a board is shown on a paper: the views, and whether its parts can be read on them."""

    blocks: tuple[Block, ...]
    scale: float
    is_read: bool


@dataclass(frozen=True)
class _Board:
    nest: Nest
    account: BoardAccount
    unit: Unit
    marked: MarkingOut

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        return self.nest.board.shape.bounds

    @property
    def size(self) -> Point:
        low_x, low_y, high_x, high_y = self.bounds
        return high_x - low_x, high_y - low_y

    @property
    def stretch(self) -> tuple[float, float]:
        """From where to where there is anything to saw, or all of it."""
        low, _, high, _ = self.bounds
        pieces = [p.polygon.bounds for p in self.nest.placements]
        pieces += [offcut.shape.bounds for offcut in self.account.offcuts]
        if not pieces:
            return low, high
        first = max(low, min(piece[0] for piece in pieces) - BESIDE_MM)
        last = min(high, max(piece[2] for piece in pieces) + BESIDE_MM)
        return (first, last) if last - first < WORTH_LEAVING * (high - low) else (low, high)


def board_views(
    nest: Nest, account: BoardAccount, marked: MarkingOut, unit: Unit, room: Point
) -> BoardViews:
    """Return the views of a board on pages with so much room, whole first."""
    board = _Board(nest, account, unit, marked)
    whole = whole_scale(board.size, room)
    wanted = _reading_scale(board, room[1])
    if whole / wanted < WORTH_ENLARGING:
        wanted, blocks = whole, [_whole(board, whole, is_read=True)]
    else:
        wanted = _filling(board, wanted, room)
        blocks = [_whole(board, whole, is_read=False), *_lengths(board, wanted, room[0])]
    least = min((breadth_of(p.need.outline.shape) for p in nest.placements), default=math.inf)
    # What is too fine at full size is so on any paper.
    is_read = whole <= COARSEST and least / wanted >= min(LEAST_MM, least)
    return BoardViews(tuple(blocks), wanted, is_read)


COARSEST = 50
"""A board drawn smaller than 1 to this is a line on the paper."""


def whole_scale(size: Point, room: Point) -> float:
    """Return the scale at which a whole board goes on a page."""
    wide = room[0] - WHOLE.left - WHOLE.right
    high = room[1] - WHOLE.top - WHOLE.bottom
    fitting = (s for s in PRINT_SCALES if size[0] <= wide * s and size[1] <= high * s)
    return float(next(fitting, PRINT_SCALES[-1]))


def _reading_scale(board: _Board, high: float) -> float:
    """Return the coarsest scale at which every part, board and sign can be read, if it fits."""
    width = board.size[1]
    least = [breadth_of(p.need.outline.shape) / READ_MM for p in board.nest.placements]
    most = min([*least, max(1.0, width / BROAD_MM), uncrowded_scale(board.nest.board)])
    coarsest = max((scale for scale in PRINT_SCALES if scale <= most), default=PRINT_SCALES[0])
    room = high - LENGTH.top - LENGTH.bottom
    return float(next(s for s in PRINT_SCALES if s >= coarsest and width <= room * s))


def _count(board: _Board, scale: float, room: float) -> int:
    """Return in how many lengths a board is shown at a scale."""
    first, last = board.stretch
    across = room - LENGTH.left - LENGTH.right
    return max(1, math.ceil((last - first) / (across * scale) - 1e-9))


def _filling(board: _Board, scale: float, room: Point) -> float:
    """Return the largest scale that takes no more lengths and no more pages than the one given."""
    counts = _count(board, scale, room[0]), _lengths_on_a_page(board, scale, room[1])

    def is_as_short(other: float) -> bool:
        found = _count(board, other, room[0]), _lengths_on_a_page(board, other, room[1])
        return found[0] == counts[0] and found[1] >= min(counts)

    return float(next(s for s in PRINT_SCALES if s == scale or is_as_short(s)))


def _lengths_on_a_page(board: _Board, scale: float, high: float) -> int:
    each = board.size[1] / scale + LENGTH.top + LENGTH.bottom
    return int((high + BLOCKS_APART_MM) / (each + BLOCKS_APART_MM))


def _whole(board: _Board, scale: float, *, is_read: bool) -> Block:
    length, width = board.size
    needed = max(length / scale, _heading_width(board, scale))
    wide, high = needed + WHOLE.left + WHOLE.right, width / scale + WHOLE.top + WHOLE.bottom
    return Block(wide, high, partial(_whole_drawn, board, scale, is_read=is_read))


def _whole_drawn(board: _Board, scale: float, *, is_read: bool) -> tuple[Entity, ...]:
    low_x, _, _, high_y = board.bounds
    shift = WHOLE.left - low_x / scale, -WHOLE.top - high_y / scale
    window = Window(1.0, times=1 / scale, shift=shift, view=View.COPY)
    heading = [*_heading(board, window), *_ends(board, window, WHOLE)]
    return _drawn(board, window, WHOLE, heading, is_read=is_read)


def _drawn(
    board: _Board,
    window: Window,
    surround: Surround,
    heading: list[Entity],
    *,
    is_read: bool = True,
) -> tuple[Entity, ...]:
    space = FreeSpace()
    space.take_drawn(heading)
    given = board.nest, board.account, board.unit, window, surround, space, board.marked
    view = draw_view(*given, is_read=is_read)
    within = UNSEEN_MM * window.times
    lean = (leaned(entity, within) for entity in view)
    return (*tints(board.nest, window), *lean, *heading)


def _bar(at: Point, scale: float, unit: Unit) -> list[Entity]:
    """Return a bar of a round length of wood, long enough to be held against a rule."""
    inches = (MM_PER_INCH * count for count in BAR_INCHES)
    length = next(mm for mm in (inches if unit.is_imperial else BARS_MM) if mm >= BAR_MM * scale)
    x, y = at
    wide, rise, parts = length / scale, 1.2, 4 if unit.is_imperial else 5
    corners = ((x, y), (x + wide, y), (x + wide, y + rise), (x, y + rise))
    bar: list[Entity] = [Polyline(corners, Role.RULER, is_closed=True, view=View.COPY)]
    for tick in (x + wide * number / parts for number in range(1, parts)):
        bar.append(Polyline(((tick, y), (tick, y + rise)), Role.RULER, view=View.COPY))
    words = format_length(length, unit)
    at = (x + wide + 1.0, y)
    return [*bar, Text(words, at, FIGURE_PAPER_MM, Role.RULER, view=View.COPY)]


def _heading_words(board: _Board, scale: float) -> tuple[str, str]:
    grain = GRAIN_WORDS[board.nest.board.grain.is_straight]
    return grain, f"the whole board at 1:{scale:g}, {face_up(board.nest.board)}"


def _heading_width(board: _Board, scale: float) -> float:
    bar = _bar((0.0, 0.0), scale, board.unit)
    end = max(entity.box[2] for entity in bar if isinstance(entity, Text))
    words = sum(text_width(text, FIGURE_PAPER_MM) for text in _heading_words(board, scale))
    return end + words + GRAIN_MM + 3 * GAP_MM + 2.0


def _heading(board: _Board, window: Window) -> list[Entity]:
    """Return the scale bar, the board's grain and what is seen, above the balloons."""
    bounds, grain = board.bounds, board.nest.board.grain
    scale = 1 / window.times
    x, y = window.point(bounds[0], bounds[3])
    y += WHOLE.top - 5.0
    bar = _bar((x, y), scale, board.unit)
    end = max(entity.box[2] for entity in bar if isinstance(entity, Text))
    angle = grain.angle_at((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    steep = max(abs(math.sin(math.radians(angle))), 1e-9)
    reach = min(GRAIN_MM, 5.0 / steep)
    arrow = grain_arrow((end + GAP_MM + GRAIN_MM / 2, y + 1.0), angle, reach, window)
    texts = list[Entity]()
    x = end + GAP_MM + GRAIN_MM + 2.0
    for words, role in zip(_heading_words(board, scale), (Role.GRAIN, Role.NOTE), strict=True):
        texts.append(Text(words, (x, y), FIGURE_PAPER_MM, role, view=View.COPY))
        x += text_width(words, FIGURE_PAPER_MM) + GAP_MM
    return [*bar, arrow, *texts]


def _ends(board: _Board, window: Window, surround: Surround) -> Iterator[Entity]:
    """Yield which end is which, with an arrow to it, where a view shows it."""
    low_x, _, high_x, high_y = board.bounds
    is_first, is_last = window.from_mm <= low_x, window.to_mm >= high_x
    left, y = window.point(low_x, high_y)
    right = window.point(high_x, high_y)[0]
    y += surround.balloons + 1.0
    ends = [(left, 1.0, Anchor.LEFT, "left end")] * is_first
    if right - left > 60.0 or not is_first:
        ends += [(right, -1.0, Anchor.RIGHT, "right end")] * is_last
    for x, sign, anchor, words in ends:
        start = x + sign * END_ARROW_MM
        yield Arrow((start, y + 1.0), (x, y + 1.0), 2.2, Role.RULER, view=View.COPY)
        at = (start + sign * 1.5, y)
        yield Text(words, at, FIGURE_PAPER_MM, Role.RULER, anchor, View.COPY)


def _lengths(board: _Board, scale: float, room: float) -> Iterator[Block]:
    """Yield lengths of a board, one below another, as wide as a page at most."""
    first, last = board.stretch
    count = _count(board, scale, room)
    step = (last - first) / count
    high = board.size[1] / scale + LENGTH.top + LENGTH.bottom
    for number in range(count):
        begin = first + number * step
        end = last if number == count - 1 else begin + step
        words = _length_words(board, (begin, end), scale, f"length {number + 1} of {count}")
        wide = max((end - begin) / scale, text_width(words, FIGURE_PAPER_MM) + 50.0)
        draw = partial(_length_drawn, board, (begin, end), scale, words)
        yield Block(min(room, wide + LENGTH.left + LENGTH.right), high, draw)


def _length_words(board: _Board, part: tuple[float, float], scale: float, which: str) -> str:
    """Return what stands above a length: which it is, its scale, and how much metal is in it."""
    metal = [k.polygon.bounds for k in board.nest.board.keep_outs if k.kind is KeepOutKind.METAL]
    count = sum(bounds[0] <= part[1] and bounds[2] >= part[0] for bounds in metal)
    told = f"METAL in {counted(count, 'place')}" if count else "no metal recorded"
    return f"{which} at 1:{scale:g}, {face_up(board.nest.board)}; {told}"


def _length_drawn(
    board: _Board, part: tuple[float, float], scale: float, words: str
) -> tuple[Entity, ...]:
    _, _, _, high_y = board.bounds
    shift = LENGTH.left - part[0] / scale, -LENGTH.top - high_y / scale
    window = Window(1.0, *part, times=1 / scale, shift=shift, view=View.COPY)
    x, y = window.point(part[0], high_y)
    ends = list(_ends(board, window, LENGTH))
    at = (x + (25.0 if ends else 0.0), y + LENGTH.balloons + 1.0)
    heading = Text(words, at, FIGURE_PAPER_MM, Role.NOTE, view=View.COPY)
    return _drawn(board, window, LENGTH, [heading, *ends])
