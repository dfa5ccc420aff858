"""Widths along a plank: one throughout, or as a fair batten takes them through stations."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nesting.errors import PartError
from parts.curves import Points, fair_curve

Widths = Sequence[tuple[float, float]]


def require_one_width(
    width_mm: float | None, widths: Widths | None, length_mm: float, *, piece: str, start: str
) -> None:
    """Do nothing if a plank has one way of telling its width, from end to end.

    Parameters
    ----------
    piece, start
        What the plank is called, and the side its stations are measured from.

    Raises
    ------
    PartError
        If both ways or neither are given, or the stations are not in order or leave an end out.
    """
    if (width_mm is None) == (widths is None):
        raise PartError(
            f"{'no width is' if widths is None else 'both width and widths are'} given: "
            "give one width, or widths at stations"
        )
    if widths is None:
        return
    stations = [station for station, _ in widths]
    if stations != sorted(set(stations)):
        raise PartError(f"the stations of the widths must rise from {start}, none twice")
    if stations[0] > 0 or stations[-1] < length_mm:
        raise PartError(
            f"the widths run from {stations[0]:g} mm to {stations[-1]:g} mm, the {piece} from 0 "
            f"to {length_mm:g} mm: give a width at each end too"
        )


def width_curve(widths: Widths) -> Points:
    """Return the fair curve through widths at stations, (n, 2).

    Raises
    ------
    PartError
        If a batten through them turns back, or falls far below the smallest.
    """
    curve = fair_curve(np.asarray(widths, dtype=float))
    least = min(width for _, width in widths)
    if (np.diff(curve[:, 0]) <= 0).any() or curve[:, 1].min() < least / 2:
        raise PartError(
            "the widths do not run fair: a batten through them turns back or falls below half "
            f"of the smallest, {least:g} mm; give more stations or take out the odd one"
        )
    return curve
