"""How wide a board is where it lies, not how far its curve reaches."""

from __future__ import annotations

from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.stock.board import Board

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

_Side = Literal["left", "right"]
_SIDES: tuple[_Side, ...] = ("right", "left")
"""Up to a station, and on from it, as numpy says where a figure comes among others."""

CURVED_MM = 1.0
"""A board whose curve reaches farther beyond its own width than this is called curved."""

TOUCHING_MM = 1e-9
"""Pieces of a shape that are so near each other are one: less than the last digit of a place."""

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
    if not board.grain.is_straight or _lean_deg(board) > MOST_LEAN_DEG:
        return None
    # Both edges have a corner at a station; between stations a hollow one has corners of its own.
    found, count = np.unique(shapely.get_coordinates(shape.exterior)[:-1, 0], return_counts=True)
    x = found[count >= 2]
    if len(x) < 3:  # A rectangle, or straight edges from end to end.
        return None
    widths = _across(shape, x)
    if widths is None:
        return None
    greatest = float(widths.max())
    if greatest > board.width_mm - CURVED_MM:
        return None
    return float(widths[widths >= END_SHARE * greatest].min()), greatest


def _across(shape: shapely.Polygon, x: Floats) -> Floats | None:
    """Return the width of a shape at each of some rising stations, mm; None if it is no strip.

    A strip is whole at each of them. What a line across meets is what the shape comes up to it
    with, and what it goes on with behind it: each edge is asked only at stations that it passes,
    since lines cut with a whole shape would each go round all of its corners.
    """
    ring = shapely.get_coordinates(shape.exterior)
    edges = np.stack([ring[:-1], ring[1:]], axis=1)
    forks = np.any([_count(edges, x, side) > 2 for side in _SIDES], axis=0)
    if not all(_is_whole(shape, float(at)) for at in x[forks]):
        return None
    ahead, behind = (_reach(edges, x, side) for side in _SIDES)
    low, high = np.stack([ahead, behind], axis=1)
    if (low.max(axis=0) > high.min(axis=0) + TOUCHING_MM).any():
        return None
    return np.asarray(np.nanmax(high, axis=0) - np.nanmin(low, axis=0))


def _passed(edges: Floats, x: Floats, side: _Side) -> tuple[Counts, Counts]:
    """Return the first station that each edge passes, and the first that it does no more.

    ``right`` counts an edge at a station where it ends, ``left`` at one where it begins.
    """
    reach = edges[:, :, 0]
    return (
        np.searchsorted(x, reach.min(axis=1), side=side),
        np.searchsorted(x, reach.max(axis=1), side=side),
    )


def _count(edges: Floats, x: Floats, side: _Side) -> Counts:
    """Return how many edges pass each station."""
    first, last = _passed(edges, x, side)
    turns = np.bincount(first, minlength=len(x) + 1) - np.bincount(last, minlength=len(x) + 1)
    return np.asarray(np.cumsum(turns)[:-1])


def _reach(edges: Floats, x: Floats, side: _Side) -> tuple[Floats, Floats]:
    """Return the least and the greatest height at which edges pass each station, nan for none."""
    first, last = _passed(edges, x, side)
    times = last - first
    edge = np.repeat(np.arange(len(edges)), times)
    at = np.arange(len(edge)) - np.repeat(np.cumsum(times) - times - first, times)
    (x0, y0), (x1, y1) = edges[edge, 0].T, edges[edge, 1].T
    y = y0 + (y1 - y0) * (x[at] - x0) / (x1 - x0)
    low, high = np.full(len(x), np.nan), np.full(len(x), np.nan)
    np.fmin.at(low, at, y)
    np.fmax.at(high, at, y)
    return low, high


def _is_whole(shape: shapely.Polygon, at: float) -> bool:
    """Return whether a line across meets a shape in one piece."""
    _, low, _, high = shape.bounds
    line = shapely.LineString([(at, low - 1.0), (at, high + 1.0)])
    return bool(shapely.get_num_geometries(shapely.intersection(line, shape)) == 1)


def _lean_deg(board: Board) -> float:
    """Return how far straight grain leans from x, either way along it."""
    return abs((board.grain.angles_deg[0] + 90.0) % 180.0 - 90.0)
