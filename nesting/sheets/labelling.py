"""Setting lettering in a window: within a shape, or beside a point, where nothing else is."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.accounts.account import BoardAccount
from nesting.nest import Nest
from nesting.sheets.drawing import Anchor, Entity, Point, Role, Text
from nesting.sheets.free_space import FreeSpace, first_free, room_in
from nesting.sheets.lettering import text_width
from nesting.sheets.window import Window
from nesting.units import Unit

SMALL_PAPER_MM = 2.2
"""Height of bung numbers and words at keep-outs."""

TURNS = ((1, 0.5), (1, -0.5), (-1, 0.5), (-1, -0.5), (0, 1), (0, -1), (1, 0), (-1, 0))
STEPS = np.concatenate([np.multiply(TURNS, 1.0), np.multiply(TURNS, 1.5)])
"""Places beside a point, in its own reach and a half more of it, the better ones first."""

TRIED_FIRST = 2
"""Of these, so many are tried first."""

PITCH = 1.55
"""Height of a line of lettering with its gap, over that of a capital."""


@dataclass(frozen=True)
class Labelling:
    """What the labels of one window are set from; ``space`` fills up as they are."""

    nest: Nest
    account: BoardAccount
    window: Window
    unit: Unit
    margin: Polygon
    """Where balloons may stand: the strip above the board, mm of the drawing."""
    area: Polygon
    """Where lettering may stand at all."""
    cuts: BaseGeometry
    """The edges of all parts: a word does not stand on the other side of one."""
    space: FreeSpace = field(default_factory=FreeSpace)
    is_read: bool = True
    """Whether the sheet is read here, and not in larger views of the same board."""

    @property
    def paper(self) -> float:
        """Length on the drawing of one mm of paper."""
        return self.window.paper_mm


def block_size(lines: tuple[str, ...], height: float) -> tuple[float, float]:
    """Return the width and height of the room that lines of text need."""
    width = max(text_width(line, height) for line in lines) + height
    return width, PITCH * height * len(lines)


def set_block(
    work: Labelling, lines: tuple[str, ...], height: float, region: Polygon, near: Point
) -> list[Entity]:
    """Return lines of text set inside a region, or nothing if they do not fit."""
    width, tall = block_size(lines, height)
    centre = room_in(work.space, region, (width, tall), near)
    if centre is None:
        return []
    x, y = centre
    work.space.take_box((x - width / 2, y - tall / 2, x + width / 2, y + tall / 2))
    top = y + PITCH * height * (len(lines) - 1) / 2 - 0.42 * height
    return [
        Text(
            line,
            (x, top - row * PITCH * height),
            height,
            Role.PART_NAME,
            Anchor.CENTRE,
            work.window.view,
        )
        for row, line in enumerate(lines)
    ]


def set_beside(work: Labelling, text: str, at: Point, reach: float, role: Role) -> list[Entity]:
    """Return a word as near to a point as it can stand, at least ``reach`` off, if it can."""
    height = SMALL_PAPER_MM * work.paper
    width, tall = text_width(text, height) + 0.4 * height, 1.6 * height
    right, up = reach + width / 2, reach + tall / 2
    centres = np.asarray(at) + STEPS * (right, up)
    centre = None
    for some in (centres[:TRIED_FIRST], centres[TRIED_FIRST:]):
        if centre is None:
            near = some[~_are_across_a_cut(work, at, some)]
            centre = first_free(work.space, near, (width, tall))
    if centre is None:
        return []
    x, y = centre
    work.space.take_box((x - width / 2, y - tall / 2, x + width / 2, y + tall / 2))
    return [Text(text, (x, y - height / 2), height, role, Anchor.CENTRE, work.window.view)]


def _are_across_a_cut(
    work: Labelling, at: Point, centres: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return (n,) whether the way from a point to each of (n, 2) centres meets an edge."""
    ways = np.stack([np.broadcast_to(np.asarray(at), centres.shape), centres], axis=1)
    return np.asarray(shapely.intersects(work.cuts, shapely.linestrings(ways)))
