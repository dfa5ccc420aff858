"""What plain beams and those fitted to the lines share: their grain, bearings and marks."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import Field
from shapely.geometry import LineString, Polygon

from nesting.errors import PartError
from nesting.grain import GrainPath
from nesting.outline import BearingZone, Mark, MarkKind
from parts.curves import Points, as_pairs
from parts.marks import zone_along

BeamGrain = Annotated[
    Literal["straight", "grown"],
    Field(description="straight from end to end, or along a grown sweep"),
]


def check_taper(end_mm: float, moulding_mm: float) -> None:
    """Refuse ends that are deeper than the middle."""
    if end_mm > moulding_mm:
        raise PartError(
            f"the ends are {end_mm:g} mm deep, more than the middle at {moulding_mm:g} mm: "
            "a beam tapers to its ends, exchange the two"
        )


def check_bearings(bearing_mm: float, length_mm: float) -> None:
    """Refuse two bearings that are longer than the beam."""
    if 2 * bearing_mm > length_mm:
        raise PartError(
            f"two bearings of {bearing_mm:g} mm take more than the length of {length_mm:.6g} mm: "
            f"give a bearing of {length_mm / 2:.6g} mm or less"
        )


def beam_grain(grain: BeamGrain, upper: Points, lower: Points, x: Points) -> GrainPath:
    """Return the grain of a beam between its edges, each along x; grown at each of some x."""
    if grain == "grown":
        middle = (np.interp(x, *upper.T) + np.interp(x, *lower.T)) / 2
        return GrainPath(as_pairs(np.column_stack([x, middle])))
    return GrainPath(as_pairs((upper[[0, -1]] + lower[[0, -1]]) / 2))


def beam_seat(shape: Polygon, bearer: str, start: float, end: float) -> BearingZone:
    """Return what lies on a bearer from one x to another, over all of the moulding."""
    _, low, _, high = shape.bounds
    line = np.array([[start, (low + high) / 2], [end, (low + high) / 2]])
    return zone_along(line, high - low, shape, f"{bearer} bearing", is_seat=True)


def bearer_mark(shape: Polygon, bearer: str, x_mm: float) -> Mark:
    """Return the plumb line at which a bearer begins or ends."""
    return Mark(MarkKind.REFERENCE, _plumb(shape, x_mm), bearer)


def centreline_mark(shape: Polygon) -> Mark:
    """Return the plumb line in the middle of a whole beam."""
    return Mark(MarkKind.CENTRELINE, _plumb(shape, 0.0), "centreline")


def _plumb(shape: Polygon, x_mm: float) -> tuple[tuple[float, float], ...]:
    """Return the plumb line through a shape at x, from the lower edge to the upper."""
    _, low, _, high = shape.bounds
    _, low, _, high = shape.intersection(LineString([(x_mm, low), (x_mm, high)])).bounds
    return ((x_mm, low), (x_mm, high))
