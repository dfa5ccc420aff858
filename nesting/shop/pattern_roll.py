"""All patterns on one long roll, for a plotter or a print shop.

The roll's length runs along x. A PDF holds it in lengths that readers can open, joined by crosses
where a pattern is longer; SVG and DXF hold it in one piece.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nesting.sheets.drawing import Drawing, Entity, Role, Text, moved
from nesting.sheets.lettering import wrapped
from nesting.shop.kinds import ROLLS_MM
from nesting.shop.pattern_foot import CAUTION, Heading, check_square, fitted, ruler, ruler_mm
from nesting.shop.pattern_lattice import Lattice, Masks, least_rectangle
from nesting.shop.pattern_layout import Laid, Sheet
from nesting.shop.pattern_lines import drawn, page_of
from nesting.shop.pattern_paper import EDGE_MM, INSET_MM, OVERLAP_MM, Grid, Leaf
from nesting.shop.pattern_subject import Pattern
from nesting.shop.pattern_view import PageView
from nesting.words import counted
from nesting.written_measures import exact_length

LONGEST_PAGE_MM = 5000.0
"""A page of a PDF may be 14,400 units of 1/72 in long (ISO 32000-1, annex C): 5080 mm."""

CELL_MM = 8.0
"""Of the lattice for a roll."""

HEAD_WIDE_MM, HEAD_HIGH_MM = 125.0, 190.0
"""The heading at the roll's beginning, in its lower corner."""


@dataclass(frozen=True)
class Roll:
    """Patterns along a roll; those that are too large for it are in words among ``remarks``."""

    width_mm: float
    length_mm: float
    laid: tuple[Laid, ...]
    remarks: tuple[str, ...] = ()

    @property
    def high_mm(self) -> float:
        """What of the width can be printed on."""
        return self.width_mm - 2 * EDGE_MM


def roll_of(patterns: Sequence[Pattern], width_mm: float, heading: Heading) -> Roll:
    """Return patterns laid along a roll, the longest first."""
    high = width_mm - 2 * EDGE_MM
    room = high - 2 * INSET_MM
    sized = {one.number: least_rectangle(one.outline.shape) for one in patterns}
    fits = [one for one in patterns if sized[one.number][2] <= room - 2 * CELL_MM]
    fits.sort(key=lambda one: -sized[one.number][1])
    remarks = tuple(
        _too_large(one, sized[one.number][2], width_mm, heading)
        for one in patterns
        if one not in fits
    )
    lengths = [sized[one.number][1] for one in fits]
    area = sum(one.outline.area_mm2 for one in fits)
    masks, most = Masks(), 2.0 * area / room + max(lengths, default=0.0) + 500.0
    while True:
        laid = _laid(fits, most, high, masks)
        if laid is not None:
            break
        most *= 1.5
    ends = [one.shape.bounds[2] for one in laid]
    length = max(ends, default=0.0) + INSET_MM
    # A reader shows a page of whole mm better than one of fractions.
    return Roll(width_mm, math.ceil(max(length, HEAD_WIDE_MM)), laid, remarks)


def _too_large(pattern: Pattern, width: float, roll: float, heading: Heading) -> str:
    unit = heading.unit
    wider = [size for size in ROLLS_MM if size - 2 * (EDGE_MM + INSET_MM + CELL_MM) >= width]
    offer = (
        f"a roll of {exact_length(wider[0], unit)} takes it"
        if wider
        else "no usual roll is as wide; its pages joined give it"
    )
    return (
        f"{pattern.name} is {exact_length(round(width, 1), unit)} across at the least, too much "
        f"for the roll of {exact_length(roll, unit)}: {offer}"
    )


def _laid(
    patterns: Sequence[Pattern], length: float, high: float, masks: Masks
) -> tuple[Laid, ...] | None:
    """Return where patterns lie on a roll of a length; None where it is too short."""
    joint = _joints(length)
    area = shapely.box(0.0, 0.0, length, high).buffer(-INSET_MM, join_style="mitre")
    lattice = Lattice(area, CELL_MM, [((x, 0.0), (x, high)) for x in joint], masks)
    lattice.take(shapely.box(0.0, 0.0, HEAD_WIDE_MM, HEAD_HIGH_MM))
    found = list[Laid]()
    for pattern in patterns:
        _, long, _ = least_rectangle(pattern.outline.shape)
        place = lattice.room_for(pattern, is_small=long < LONGEST_PAGE_MM / 2)
        if place is None:
            return None
        found.append(Laid(pattern, place))
    return tuple(found)


def _joints(length: float) -> list[float]:
    pitch, half = _leaf(0.0).pitch[0], OVERLAP_MM / 2
    return [float(x) + half for x in np.arange(pitch, length, pitch)]


def _leaf(high: float) -> Leaf:
    return Leaf(LONGEST_PAGE_MM - 2 * EDGE_MM, high, foot_mm=0.0)


def _sheet(roll: Roll) -> Sheet:
    """Return a roll as a sheet of as many lengths as a PDF needs."""
    leaf = _leaf(roll.high_mm)
    columns = 1 + max(0, math.ceil((roll.length_mm - leaf.wide_mm) / leaf.pitch[0]))
    tiles = frozenset((column, 0) for column in range(columns))
    return Sheet(1, Grid(leaf, columns, 1, tiles), roll.laid)


def _head(roll: Roll, heading: Heading) -> Iterator[Entity]:
    """Yield what is said at a roll's beginning, in its lower corner."""
    unit = heading.unit
    side = ruler_mm(unit)
    yield from check_square((4.0, 6.0), side, unit)
    yield from ruler((4.0, side + 14.0), side, unit)
    text = f"Patterns on a roll of {exact_length(roll.width_mm, unit)}: {heading.line}"
    lines = [(line, Role.TITLE) for line in wrapped(text, 3.0, HEAD_WIDE_MM - 8.0)[:5]]
    lines += [(line, Role.CAUTION) for line in wrapped(CAUTION, 2.6, HEAD_WIDE_MM - 8.0)]
    y = side + 32.0 + 5.0 * len(lines)
    for words, role in lines:
        yield Text(fitted(words, HEAD_WIDE_MM - 8.0, 2.6), (4.0, y), 2.6, role)
        y -= 5.0


def roll_drawing(roll: Roll, heading: Heading) -> Drawing:
    """Return a roll in one piece."""
    frame = (0.0, 0.0, roll.length_mm, roll.high_mm)
    view = PageView(_sheet(roll), frame, frame, heading.unit)
    entities = (*_head(roll, heading), *drawn(view))
    return Drawing(f"Patterns on a roll: {heading.project}", entities, frame, 1.0, "roll")


def roll_pages(roll: Roll, heading: Heading) -> list[Drawing]:
    """Return a roll in lengths that a PDF may have."""
    sheet = _sheet(roll)
    pages = list[Drawing]()
    for tile in sheet.grid.in_order:
        low, _, high, _ = sheet.grid.window(tile)
        end = min(high, roll.length_mm) - low
        shown: list[Entity] = [] if tile[0] else list(_head(roll, heading))
        page = page_of(sheet, tile, heading.unit, ends_at=roll.length_mm)
        shown += [moved(e, 1.0, (-low, 0.0)) for e in page]
        if len(sheet.grid.tiles) > 1:
            words = f"length {sheet.grid.name(tile)[0]} of {counted(sheet.grid.columns, 'length')}"
            words = f"{words}; join cross on cross"
            shown.append(Text(words, (OVERLAP_MM + 2.0, 1.5), 2.5, Role.TITLE))
        frame = (0.0, 0.0, end, roll.high_mm)
        title = f"Patterns on a roll: {heading.project}"
        pages.append(Drawing(title, tuple(shown), frame, 1.0, "roll"))
    return pages
