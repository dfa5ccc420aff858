"""How a sheet is laid out: paper, scale, where the board, its enlargements and lists stand.

All in paper mm, from the frame's lower-left corner, until a :class:`Layout` turns them into
mm of the drawing. The largest scale wins at which everything fits an A3 sheet; a nest with
lists too long for that goes to the next larger paper, never to smaller lettering.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.sheets.blocks import Block, Flow, Rows, flow, least_area
from nesting.sheets.drawing import Point

PAPERS: tuple[tuple[str, float, float], ...] = (
    ("A3", 400.0, 277.0),
    ("A2", 574.0, 400.0),
    ("A1", 821.0, 574.0),
    ("A0", 1169.0, 821.0),
    ("two A0 end to end", 2338.0, 821.0),
    ("four A0 end to end", 4676.0, 821.0),
)
"""Name, and width and height inside a margin of 10 mm (ISO 216 sizes, landscape)."""

SCALES = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100)
"""Wood mm to one of paper: those of a drawing office's rule, and steps between."""

PAD = 5.0
"""Inside the frame."""

BALLOONS = 8.5
"""Above the full-size view for balloons; scale bar and grain arrow stand above those."""


@dataclass(frozen=True)
class Surround:
    """What is kept free around a view for rulers and balloons."""

    left: float
    bottom: float
    right: float
    top: float
    balloons: float


FULL_SURROUND = Surround(18.0, 10.0, 7.0, 14.0, BALLOONS)
STRIP_SURROUND = Surround(18.0, 9.5, 7.0, 7.5, 7.5)

STRIP_HEADING, STRIP_FOOT = 8.0, 3.0
"""Above the first enlarged length, and from the last one's ruler to the lists."""

SLENDER_PAPER_MM = 34.0
"""A board narrower than this on paper may be drawn again in several enlarged lengths."""

MOST_LEADERS = 8
"""Parts on a sheet whose numbers stand off the board: more leaders than this tangle."""

WORTH_ENLARGING = 1.3
"""An enlargement by less than this shows nothing more."""

WORTH_A_COLUMN = 8.0
"""Lists may be so much higher if that spares a column: no sign stands alone in one."""


@dataclass(frozen=True)
class Strip:
    """One enlarged length of board: its stretch, and where its lower-left comes to."""

    from_mm: float
    to_mm: float
    x: float
    y: float


@dataclass(frozen=True)
class Layout:
    """Where everything stands; lengths in paper mm unless named otherwise."""

    paper: str
    width: float
    height: float
    scale: float
    board: Point
    """Where the lower-left corner of the board's extent stands."""
    lists: Flow
    lists_corner: Point
    strips: tuple[Strip, ...] = ()
    strip_scale: float = 0.0
    strip_heading: Point = (0.0, 0.0)

    @property
    def reading_scale(self) -> float:
        """The scale of the largest view."""
        return self.strip_scale or self.scale


Corner = Callable[[str, float], Block]
"""What makes the title corner for a paper and a scale."""


def arrange(
    bounds: tuple[float, float, float, float],
    items: Sequence[Block | Rows],
    corner_for: Corner,
    *,
    stretch: tuple[float, float],
    heading_width: Callable[[float], float],
    too_small_at: Callable[[float], int],
) -> Layout:
    """Return the layout of a sheet for a board's extent, mm, and the lists beside it.

    Parameters
    ----------
    stretch
        From where to where along the board there is anything to enlarge, mm.
    heading_width
        What the line above the board needs at a scale, paper mm.
    too_small_at
        How many parts hold no number at a scale; the paper is larger if they are too many.
    """
    found = list[Layout]()
    for name, wide, high in PAPERS:
        layout = _on_paper((name, wide, high), bounds, items, (corner_for, heading_width))
        if layout is None:
            continue
        part = (stretch[0], bounds[1], stretch[1], bounds[3])
        found.append(_with_strips(layout, part, is_asked=too_small_at(layout.scale) > 0))
        if too_small_at(found[-1].reading_scale) <= MOST_LEADERS:
            return found[-1]
    assert found, "no sheet holds so many lines: a board of 40 m has room for far fewer"
    return found[0]


def _on_paper(
    paper: tuple[str, float, float],
    bounds: tuple[float, float, float, float],
    items: Sequence[Block | Rows],
    makers: tuple[Corner, Callable[[float], float]],
) -> Layout | None:
    """Return the layout at the largest scale that fits a paper, without enlargements."""
    length, width = bounds[2] - bounds[0], bounds[3] - bounds[1]
    smallest = _fit_alone(length, width)
    for scale in (scale for scale in SCALES if scale <= smallest):
        corner, heading = makers[0](paper[0], scale), makers[1](scale)
        page = _Page(*paper, scale, length / scale, width / scale, heading)
        layout = _below(page, items, corner) or _beside(page, items, corner)
        if layout:
            return layout
    return None


def _fit_alone(length: float, width: float) -> float:
    """Return the smallest scale allowed: one step below that of a board alone on an A3 sheet."""
    _, wide, high = PAPERS[0]
    wide, high = (
        wide - 2 * PAD - FULL_SURROUND.left - FULL_SURROUND.right,
        high - 2 * PAD - FULL_SURROUND.top - FULL_SURROUND.bottom,
    )
    fitting = [scale for scale in SCALES if length <= wide * scale and width <= high * scale]
    return SCALES[min(SCALES.index(fitting[0]) + 1, len(SCALES) - 1)] if fitting else SCALES[-1]


@dataclass(frozen=True)
class _Page:
    paper: str
    width: float
    height: float
    scale: float
    board_length: float
    board_width: float
    heading_width: float

    @property
    def view_width(self) -> float:
        widest = max(self.board_length, self.heading_width)
        return FULL_SURROUND.left + widest + FULL_SURROUND.right

    @property
    def view_height(self) -> float:
        return FULL_SURROUND.top + self.board_width + FULL_SURROUND.bottom

    def layout(self, lists: Flow, corner: Point) -> Layout:
        board = (PAD + FULL_SURROUND.left, self.height - PAD - FULL_SURROUND.top - self.board_width)
        return Layout(self.paper, self.width, self.height, self.scale, board, lists, corner)


def _below(page: _Page, items: Sequence[Block | Rows], corner: Block) -> Layout | None:
    """Return the layout with the lists along the foot, as low as they go, if it fits."""
    room = page.width - 2 * PAD
    if page.view_width > room:
        return None
    found: Flow | None = None
    least = least_area([*items, corner]) / room
    for height in _heights(corner.height, page.height - 2 * PAD - page.view_height):
        if height < least:
            continue
        if found is not None and height > found.height + WORTH_A_COLUMN:
            break
        lists = flow(items, corner, height)
        if lists is None or lists.width > room:
            continue
        if found is None or lists.columns < found.columns:
            found = lists
    return page.layout(_flush_right(found, room), (PAD, PAD + found.height)) if found else None


def _beside(page: _Page, items: Sequence[Block | Rows], corner: Block) -> Layout | None:
    """Return the layout with the lists at the right, if it fits."""
    height = page.height - 2 * PAD
    lists = flow(items, corner, height)
    if lists is None or page.view_height > height:
        return None
    left = page.width - PAD - lists.width
    if PAD + page.view_width > left:
        return None
    return page.layout(lists, (left, page.height - PAD))


def _heights(least: float, most: float) -> Iterator[float]:
    """Yield heights from low to high, the whole room last."""
    height = least
    while height < most:
        yield height
        height += 4.0
    if least <= most:
        yield most


def _flush_right(lists: Flow, room: float) -> Flow:
    """Return a flow whose last column, the title in it, is moved to the sheet's right edge."""
    last = max(piece.x for piece in lists.pieces)
    shift = room - lists.width
    pieces = [replace(p, x=p.x + shift) if p.x == last else p for p in lists.pieces]
    corner = pieces[-1]
    pieces[-1] = replace(corner, x=room - corner.block.width)
    return Flow(tuple(pieces), room, lists.height)


def _with_strips(
    layout: Layout, bounds: tuple[float, float, float, float], *, is_asked: bool
) -> Layout:
    """Return a layout with a stretch of board drawn again, enlarged, if there is room.

    In one length, so that nothing is torn apart; in several for a slender board, and where it
    is asked for because parts are small.
    """
    length, width = bounds[2] - bounds[0], bounds[3] - bounds[1]
    may_be_parted = is_asked or width / layout.scale < SLENDER_PAPER_MM
    if layout.lists_corner[0] > PAD:
        return layout
    top = layout.board[1] - FULL_SURROUND.bottom
    room = top - layout.lists_corner[1] - STRIP_HEADING - STRIP_FOOT
    across = layout.width - 2 * PAD - FULL_SURROUND.left - FULL_SURROUND.right
    for scale in SCALES:
        count = math.ceil(length / (across * scale))
        each = width / scale + STRIP_SURROUND.top + STRIP_SURROUND.bottom
        if layout.scale / scale < WORTH_ENLARGING:
            return layout
        if count * each <= room and (count == 1 or may_be_parted):
            return _strips(layout, bounds, scale, count, room / count)
    return layout


def _strips(
    layout: Layout,
    bounds: tuple[float, float, float, float],
    scale: float,
    count: int,
    pitch: float,
) -> Layout:
    low_x, low_y, high_x, high_y = bounds
    step = (high_x - low_x) / count
    top = layout.board[1] - FULL_SURROUND.bottom
    first = top - STRIP_HEADING - STRIP_SURROUND.top - (high_y - low_y) / scale
    spread = min(pitch, (high_y - low_y) / scale + STRIP_SURROUND.top + STRIP_SURROUND.bottom + 6.0)
    strips = tuple(
        Strip(
            low_x + number * step,
            low_x + (number + 1) * step,
            layout.board[0],
            first - number * spread,
        )
        for number in range(count)
    )
    heading = (layout.board[0], top - STRIP_HEADING + 3.0)
    return Layout(
        layout.paper,
        layout.width,
        layout.height,
        layout.scale,
        layout.board,
        layout.lists,
        layout.lists_corner,
        strips,
        scale,
        heading,
    )
