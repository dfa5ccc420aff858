"""The cut sheet: the drawing of one nest, ready for the bench.

The board is drawn at full size in its own frame: a cut line's coordinates are the board's.
Title, lists and signs stand off the board; a slender board is drawn again below, enlarged in
several lengths, for reading only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry import Polygon

from nesting.accounts.account import BoardAccount
from nesting.flat_geometry.thinned import thinned
from nesting.marking.marking_out import MarkingOut, marking_out
from nesting.marking.tape import Tape
from nesting.nest import Nest
from nesting.rules import Rules
from nesting.sheets.blocks import HEADING_MM, Block, Rows
from nesting.sheets.board_view import grain_arrow
from nesting.sheets.break_down_lists import break_down_table, left_table
from nesting.sheets.drawing import Drawing, Entity, Point, Polyline, Role, Text, View
from nesting.sheets.free_space import FreeSpace
from nesting.sheets.lettering import text_width
from nesting.sheets.lists import bung_table, offcut_table, parts_table
from nesting.sheets.marking_tables import base_table, lines_table, points_table
from nesting.sheets.page import BALLOONS, FULL_SURROUND, STRIP_SURROUND, Layout, Strip, arrange
from nesting.sheets.part_notes import bevel_table, note_table
from nesting.sheets.ruler import FIGURE_PAPER_MM, bar_length_mm, scale_bar
from nesting.sheets.title import legend, title_corners
from nesting.sheets.true_scale import paper_sheet
from nesting.sheets.view import Bounds, draw_view
from nesting.sheets.window import Window
from nesting.shop.kinds import Paper
from nesting.units import Unit

GRAIN_WORDS = {True: "grain of the board", False: "grain at mid-length; see line"}
"""By whether the grain is straight."""

NUMBER_ROOM_PAPER_MM = 4.4
"""Breadth of a part on paper that holds its number in lettering of 2.5 mm."""

BESIDE_MM = 20.0
"""An enlargement shows so much wood beyond the first and the last part."""

WORTH_LEAVING = 0.9
"""A board is enlarged as a whole if its parts take up more than this share of its length: so short
a rest left out makes nothing larger."""

GRAIN_PAPER_MM = 26.0
"""Length of the arrow of the board's grain; less where it is steep."""


def cut_sheet(
    nest: Nest,
    account: BoardAccount,
    rules: Rules,
    *,
    project_name: str,
    unit: Unit = Unit.MM,
    paper: Paper = Paper.A4,
) -> Drawing:
    """Return the cut sheet of one nest.

    Parameters
    ----------
    nest, account
        What lies on the board, and what becomes of the rest.
    rules
        Those that the nest was made by.
    unit
        What figures on the sheet are written in; the drawing itself is in mm.
    paper
        What the shop prints on: the drawing is laid on it, too.
    """
    bounds = nest.board.shape.bounds

    def heading_width(scale: float) -> float:
        return _heading_width(nest, scale, unit)

    def too_small_at(scale: float) -> int:
        return sum(_is_slim(shape, NUMBER_ROOM_PAPER_MM * scale) for shape in shapes)

    shapes = [thinned(p.need.outline.shape) for p in nest.placements]
    marked = marking_out(nest, Tape.of(unit))
    items = lists_of(nest, account, rules, marked, unit)
    layout = arrange(
        bounds,
        items,
        title_corners(nest, account, rules, project_name=project_name, unit=unit),
        stretch=_stretch(nest),
        heading_width=heading_width,
        too_small_at=too_small_at,
    )
    frame = _frame(layout, bounds)
    sheet = _Sheet(nest, account, unit, marked, layout, frame)
    full_size = _full_size(sheet)
    laid = paper_sheet(
        nest, account, rules, shown=full_size, scale=layout.scale,
        project_name=project_name, unit=unit, paper=paper,
    )  # fmt: skip
    entities = [*full_size, *_enlarged(sheet), *_furniture(sheet)]
    order = {role: place for place, role in enumerate(Role)}
    # Inner cuts come before outer ones, or the piece has moved when its hole is cut.
    entities.sort(key=lambda entity: (entity.view is View.COPY, order[entity.role]))
    title = f"{project_name}: board {nest.board.name}"
    return Drawing(title, tuple(entities), frame, layout.scale, layout.paper, laid)


def _stretch(nest: Nest) -> tuple[float, float]:
    """Return from where to where a board is enlarged: where parts lie, or all of it."""
    low, _, high, _ = nest.board.shape.bounds
    parts = [placement.polygon.bounds for placement in nest.placements] or [(low, 0.0, high, 0.0)]
    first = max(low, min(part[0] for part in parts) - BESIDE_MM)
    last = min(high, max(part[2] for part in parts) + BESIDE_MM)
    return (first, last) if last - first < WORTH_LEAVING * (high - low) else (low, high)


NEAR_MM = 1.0
"""The largest circle in a shape is found to this."""


@lru_cache(maxsize=1_000)
def _is_slim(shape: Polygon, least_mm: float) -> bool:
    """Return whether the largest circle in a shape is smaller than a diameter."""
    middle = shape.centroid
    room = shape.boundary.distance(middle) if shape.contains(middle) else 0.0
    # Mostly the one about the middle says enough, and takes a hundredth of the time to find.
    if 2.0 * (room - NEAR_MM) > least_mm:
        return False
    largest = shapely.maximum_inscribed_circle(shape, tolerance=NEAR_MM)
    return 2.0 * float(largest.length) < least_mm


@lru_cache(maxsize=1_000)
def breadth_of(shape: Polygon) -> float:
    """Return the diameter of the largest circle in a shape."""
    return 2.0 * float(shapely.maximum_inscribed_circle(shape, tolerance=NEAR_MM).length)


def lists_of(
    nest: Nest, account: BoardAccount, rules: Rules, marked: MarkingOut, unit: Unit
) -> list[Block | Rows]:
    """Return the tables that stand beside a board, and the signs on it."""
    tables = [
        parts_table(nest, account, unit),
        base_table(marked, unit),
        points_table(marked, unit),
        lines_table(marked, unit),
        bevel_table(nest, unit),
        note_table(nest),
        bung_table(nest, account, marked, unit),
        offcut_table(account, marked, unit),
        break_down_table(nest, account, marked.base, unit),
        left_table(nest, account, unit),
    ]
    filled: list[Block | Rows] = [table for table in tables if table.rows]
    return [*filled, legend(nest, account, rules, unit, marked)]


def _frame(layout: Layout, bounds: Bounds) -> Bounds:
    """Return the frame in mm of the drawing, about the board in its own place."""
    low_x = bounds[0] - layout.board[0] * layout.scale
    low_y = bounds[1] - layout.board[1] * layout.scale
    return (
        low_x,
        low_y,
        low_x + layout.width * layout.scale,
        low_y + layout.height * layout.scale,
    )


@dataclass(frozen=True)
class _Sheet:
    """What every step of drawing one sheet needs."""

    nest: Nest
    account: BoardAccount
    unit: Unit
    marked: MarkingOut
    layout: Layout
    frame: Bounds

    @property
    def bounds(self) -> Bounds:
        return self.nest.board.shape.bounds

    def at(self, x: float, y: float) -> Point:
        """Return a place of the paper on the drawing."""
        scale = self.layout.scale
        return self.frame[0] + x * scale, self.frame[1] + y * scale

    def view(self, window: Window, space: FreeSpace) -> list[Entity]:
        """Return a view; points are named in the one that is read, the enlarged one if any."""
        surround = FULL_SURROUND if window.is_whole else STRIP_SURROUND
        is_read = window.view is View.COPY or not self.layout.strips
        given = self.nest, self.account, self.unit, window, surround, space, self.marked
        return draw_view(*given, is_read=is_read)


def _full_size(sheet: _Sheet) -> list[Entity]:
    """Return the board at full size with everything on and around it."""
    window = Window(sheet.layout.scale)
    space = FreeSpace()
    heading = _heading(sheet, window)
    space.take_drawn(heading)
    return [*sheet.view(window, space), *heading]


def _heading_width(nest: Nest, scale: float, unit: Unit) -> float:
    """Return the room that scale bar and grain arrow need above a board, paper mm."""
    words = text_width(GRAIN_WORDS[nest.board.grain.is_straight], FIGURE_PAPER_MM)
    return bar_length_mm(unit) / scale + 12.0 + 10.0 + GRAIN_PAPER_MM + 2.0 + words


def _heading(sheet: _Sheet, window: Window) -> list[Entity]:
    """Return the scale bar and the board's grain, above the balloons."""
    scale, bounds, grain = sheet.layout.scale, sheet.bounds, sheet.nest.board.grain
    x, y = bounds[0], bounds[3] + (BALLOONS + 2.0) * scale
    bar = scale_bar((x, y), scale, sheet.unit)
    end = max(entity.box[2] for entity in bar if isinstance(entity, Text))
    angle = grain.angle_at((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2)
    steep = max(abs(math.sin(math.radians(angle))), 1e-9)
    reach = min(GRAIN_PAPER_MM, 5.0 / steep) * scale
    centre = (end + 8.0 * scale + reach / 2, y + 1.0 * scale)
    at = (centre[0] + reach / 2 + 2.0 * scale, y)
    words = Text(GRAIN_WORDS[grain.is_straight], at, FIGURE_PAPER_MM * scale, Role.GRAIN)
    return [*bar, grain_arrow(centre, angle, reach, window), words]


def _enlarged(sheet: _Sheet) -> list[Entity]:
    """Return the enlarged lengths of a slender board, under a heading."""
    layout = sheet.layout
    if not layout.strips:
        return []
    lengths = f", in {len(layout.strips)} lengths" if len(layout.strips) > 1 else ""
    shown = layout.strips[0].from_mm, layout.strips[-1].to_mm
    where = "" if shown == (sheet.bounds[0], sheet.bounds[2]) else ", where parts lie"
    words = f"The same board enlarged to 1:{layout.strip_scale:g}{where}{lengths}: for reading only"
    at, height = sheet.at(*layout.strip_heading), HEADING_MM * layout.scale
    heading = Text(words, at, height, Role.NOTE, view=View.COPY)
    return [heading, *(entity for strip in layout.strips for entity in _strip(sheet, strip))]


def _strip(sheet: _Sheet, strip: Strip) -> list[Entity]:
    scale = sheet.layout.scale
    times = scale / sheet.layout.strip_scale
    corner = sheet.at(strip.x, strip.y)
    shift = (corner[0] - strip.from_mm * times, corner[1] - sheet.bounds[1] * times)
    window = Window(scale, strip.from_mm, strip.to_mm, times, shift, View.COPY)
    return sheet.view(window, FreeSpace())


def _furniture(sheet: _Sheet) -> list[Entity]:
    """Return frame, lists and title."""
    layout = sheet.layout
    low_x, low_y, high_x, high_y = sheet.frame
    corners = ((low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y))
    entities: list[Entity] = [Polyline(corners, Role.FRAME, is_closed=True)]
    for piece in layout.lists.pieces:
        entities.extend(piece.entities(layout.scale, sheet.at(*layout.lists_corner)))
    return entities
