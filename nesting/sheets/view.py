"""One window with all that belongs to it: wood, rulers, lettering."""

from __future__ import annotations

import shapely

from nesting.accounts.account import BoardAccount
from nesting.marking.marking_out import MarkingOut
from nesting.nest import Nest
from nesting.sheets.board_view import board_view, seen_outline
from nesting.sheets.break_down_sheet import break_down_lines
from nesting.sheets.drawing import Entity
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.labelling import Labelling
from nesting.sheets.labels import labels
from nesting.sheets.marking_view import (
    base_line_obstacles,
    base_line_view,
    compass_obstacles,
    counted_from,
    marked_points,
)
from nesting.sheets.page import Surround
from nesting.sheets.ruler import left_ruler, lower_ruler
from nesting.sheets.symbols import uncrowded
from nesting.sheets.window import Window
from nesting.units import Unit

Bounds = tuple[float, float, float, float]


def draw_view(
    nest: Nest,
    account: BoardAccount,
    unit: Unit,
    window: Window,
    surround: Surround,
    space: FreeSpace,
    marked: MarkingOut,
    *,
    is_read: bool = True,
) -> list[Entity]:
    """Return one window of a nest; ``space`` holds what stands around it already.

    Points to mark out are shown where the sheet ``is_read``, not on a smaller view as well.
    """
    bounds = nest.board.shape.bounds
    window = window if is_read else uncrowded(window, nest.board)
    paper = window.paper_mm
    low = window.point(max(bounds[0], window.from_mm), bounds[1])
    high = window.point(min(bounds[2], window.to_mm), bounds[3])
    left, bottom = low[0] - surround.left * paper, low[1] - surround.bottom * paper
    right, top = high[0] + surround.right * paper, high[1] + surround.top * paper
    # The rulers' own strips, two mm of paper off the wood.
    space.take_box((left, bottom, right, low[1] - 2 * paper))
    space.take_box((left, bottom, low[0] - 2 * paper, high[1] + 2 * paper))
    space.take(base_line_obstacles(marked.base, window), is_soft=True)
    if is_read:
        space.take(compass_obstacles(marked, window), is_soft=True)
    margin = shapely.box(low[0], high[1], high[0], high[1] + surround.balloons * paper)
    area = shapely.box(left, bottom, right, top)
    cuts = shapely.union_all([window.seen(seen_outline(p)).boundary for p in nest.placements])
    shapely.prepare(cuts)
    work = Labelling(nest, account, window, unit, margin, area, cuts, space, is_read)
    counted = counted_from(marked.base, window, bounds)
    return [
        *board_view(nest, account, window),
        *break_down_lines(nest, account, window),
        *base_line_view(marked.base, window),
        *lower_ruler(*counted, unit),
        *left_ruler(*counted, unit),
        *labels(work),
        *(marked_points(marked, work) if is_read else ()),
    ]
