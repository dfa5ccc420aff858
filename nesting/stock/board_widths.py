"""Outlines of boards measured by their widths at stations."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from shapely.geometry import Polygon

from nesting.errors import ShapeError
from nesting.given import numbers
from nesting.stock.board_outline import board_outline
from nesting.words import counted


def widths_outline(
    stations_mm: Sequence[float],
    widths_mm: Sequence[float],
    lower_mm: Sequence[float] | None = None,
) -> Polygon:
    """Return the outline of a board measured by its width at stations along its length.

    Parameters
    ----------
    stations_mm
        (n,) distances from the board's left end, rising.
    widths_mm
        (n,) width square across the length at each station, over 0.
    lower_mm
        (n,) height of the lower edge at each station; 0 throughout if not given.

    Raises
    ------
    ShapeError
        If stations do not rise, a width is not over 0, or the counts differ.

    Examples
    --------
    >>> widths_outline([0, 1000, 2000], [150, 180, 160]).bounds
    (0.0, 0.0, 2000.0, 180.0)
    """
    stations_mm, widths_mm = numbers(stations_mm, "stations_mm"), numbers(widths_mm, "widths_mm")
    lower = [0.0] * len(stations_mm) if lower_mm is None else numbers(lower_mm, "lower_mm")
    if not len(stations_mm) == len(widths_mm) == len(lower) or len(lower) < 2:
        raise ShapeError(
            f"{counted(len(stations_mm), 'station')}, {counted(len(widths_mm), 'width')} and "
            f"{counted(len(lower), 'lower-edge height')}; give the same number of each, two or more"
        )
    for before, after in pairwise(stations_mm):
        if after <= before:
            raise ShapeError(f"stations must rise: {after:g} mm comes after {before:g} mm")
    for station, width in zip(stations_mm, widths_mm, strict=True):
        if width <= 0:
            raise ShapeError(f"the width at station {station:g} mm is {width:g} mm, must be over 0")
    below = list(zip(stations_mm, lower, strict=True))
    above = [(x, y + w) for (x, y), w in zip(below, widths_mm, strict=True)]
    return board_outline(below + above[::-1])
