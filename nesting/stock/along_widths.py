"""How wide a board is where it lies, not how far its curve reaches."""

from __future__ import annotations

import numpy as np
import shapely

from nesting.stock.board import Board

CURVED_MM = 1.0
"""A board whose curve reaches farther beyond its own width than this is called curved."""

END_SHARE = 0.5
"""What is narrower than so much of the widest place is a slanting end, no width."""


MOST_LEAN_DEG = 20.0
"""A board whose grain leans more from its own x has no length along x."""


def widths_of_curve(board: Board) -> tuple[float, float] | None:
    """Return the least and greatest width along a curved board, mm; None of any other.

    Square across its length, at the stations it was taped at from a string. A grown crook has no
    length to go along.
    """
    shape = board.shape
    _, low_y, _, high_y = shape.bounds
    if not board.grain.is_straight or _lean_deg(board) > MOST_LEAN_DEG:
        return None
    # Both edges have a corner at a station; between stations a hollow one has corners of its own.
    found, count = np.unique(shapely.get_coordinates(shape.exterior)[:-1, 0], return_counts=True)
    x = found[count >= 2]
    if len(x) < 3:  # A rectangle, or straight edges from end to end.
        return None
    ends = np.stack([np.column_stack([x, x * 0 + y]) for y in (low_y - 1.0, high_y + 1.0)], axis=1)
    across = shapely.intersection(shapely.linestrings(ends), shape)
    widths = np.asarray(shapely.length(across))
    greatest = float(widths.max())
    is_strip = (shapely.get_num_geometries(across) == 1).all()
    if not is_strip or greatest > board.width_mm - CURVED_MM:
        return None
    return float(widths[widths >= END_SHARE * greatest].min()), greatest


def _lean_deg(board: Board) -> float:
    """Return how far straight grain leans from x, either way along it."""
    return abs((board.grain.angles_deg[0] + 90.0) % 180.0 - 90.0)
