"""The crosses by which pages of patterns are joined, and their numbers."""

from __future__ import annotations

import numpy as np
import shapely

from nesting.sheets.drawing import Anchor, Point, Polyline, Role, Text
from nesting.sheets.labelling import SMALL_PAPER_MM
from nesting.shop.pattern_layout import Sheet
from nesting.shop.pattern_paper import CROSS_MM, Cross

SQUARE_MM = 4.0
"""Side of the square round a registration cross, which tells it from a bolt's."""

CORNERS = ((1, 1), (-1, 1), (1, -1), (-1, -1))
"""Of a cross, where its number may stand: on one side of every joint, and within both its pages."""


def cross_number(cross: Cross, sheet: Sheet) -> Text:
    """Return a cross's number in the first of its corners that no pattern's line runs through.

    It goes by the sheet alone, so that all pages have it at the same place.
    """
    x, y = cross.at
    texts = []
    for right, up in CORNERS:
        low = SQUARE_MM / 2 + 0.4 if up > 0 else -SQUARE_MM / 2 - 0.4 - SMALL_PAPER_MM
        at = (x + right * (SQUARE_MM / 2 + 0.8), y + low)
        anchor = Anchor.LEFT if right > 0 else Anchor.RIGHT
        texts.append(Text(str(cross.number), at, SMALL_PAPER_MM, Role.RULER, anchor))
    boxes = np.array([shapely.box(*text.box) for text in texts])
    edges = np.array([laid.shape.boundary for laid in sheet.laid])
    is_clear = ~shapely.intersects(edges[:, None], boxes).any(axis=0)
    return texts[int(np.argmax(is_clear))]


def register_cross(at: Point) -> tuple[Polyline, ...]:
    """Return a cross in a square."""
    (x, y), arm, half = at, CROSS_MM, SQUARE_MM / 2
    corners = (
        (x - half, y - half),
        (x + half, y - half),
        (x + half, y + half),
        (x - half, y + half),
    )
    return (
        Polyline(((x - arm, y), (x + arm, y)), Role.REGISTER),
        Polyline(((x, y - arm), (x, y + arm)), Role.REGISTER),
        Polyline(corners, Role.REGISTER, is_closed=True),
    )
