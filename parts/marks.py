"""Marks and bearing zones that the families share: bolts, scribed lines, bands of whole wood."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.errors import PartError
from nesting.outline import BearingZone, Mark, MarkKind
from nesting.words import counted
from parts.curves import Points

ZONE_DIAMETERS = 2.0
"""A bolt's whole wood reaches so many diameters to each side of its centre (common practice, no
source)."""

SPACING_DIAMETERS = 4.0
"""Bolts in a row along the grain: four diameters apart for full value (US National Design
Specification as printed in Merritt, table 10.36)."""

EDGE_DIAMETERS = 1.5
"""Middle of a bolt to the face or edge beside it, along the grain (US National Design
Specification 2005, 11.5 and table 11.5.1A, as engineers quote it)."""

LOADED_END_DIAMETERS = 7.0
"""Middle of a bolt to the end that it pulls toward, as in the arms of floors and knees, which tie
what they join: softwood; in hardwood five would do, but a shape does not know its wood (US
National Design Specification, from memory; Eurocode 5, table 8.4, has seven too, as a public
engineers' wiki prints it). Four are enough at an end that is only pushed; no family has one."""

REACH_MM = 1e-6
"""A bolt this little nearer to an edge than it may be is where it should be: rounding."""

LEAST_LINE_MM = 0.1
"""Scraps of a scribed line shorter than a pencil's breadth are left off."""

LEAST_ZONE_MM2 = 1e-6
"""Slivers below this are rounding at an edge, not bearing."""


def in_a_row(low_mm: float, high_mm: float, count: int, diameter_mm: float) -> Points:
    """Return (count,) places of bolts spread evenly from one distance to another.

    One bolt stands in the middle.

    Raises
    ------
    PartError
        If they stand closer than :data:`SPACING_DIAMETERS`.
    """
    least = (count - 1) * SPACING_DIAMETERS * diameter_mm
    if high_mm - low_mm < least - 1e-9:
        raise PartError(
            f"{counted(count, 'bolt')} of {diameter_mm:g} mm need {least:.1f} mm in a row, there "
            f"is room for {max(0.0, high_mm - low_mm):.1f} mm between the arm's end and its root: "
            "give fewer or thinner bolts, or a longer arm"
        )
    return np.linspace(low_mm, high_mm, count) if count != 1 else np.array([(low_mm + high_mm) / 2])


def check_edge_bolt(diameter_mm: float, siding_mm: float, name: str) -> None:
    """Raise a PartError if a bolt in the plane of the face comes too near to the faces."""
    needed = 2 * EDGE_DIAMETERS * diameter_mm
    if needed > siding_mm + REACH_MM:
        raise PartError(
            f"a {name} of {diameter_mm:g} mm needs {EDGE_DIAMETERS:g} diameters of wood from its "
            f"middle to each face, a siding of {needed:g} mm; the siding is {siding_mm:g} mm: give "
            f"a bolt of {siding_mm / 2 / EDGE_DIAMETERS:.1f} mm or thinner, or more siding"
        )


def square_bolt(place: Points, diameter_mm: float, label: str) -> Mark:
    """Return the mark of a bolt through the marked face."""
    return Mark(MarkKind.BOLT, ((float(place[0]), float(place[1])),), label, diameter_mm)


def edge_bolt(start: Points, direction: Points, shape: Polygon, diameter_mm: float) -> LineString:
    """Return the line of a bolt that runs in the plane of the face, from an edge inward.

    It runs from ``start``, a point on or near the edge, to where it leaves the wood.
    """
    low, high = shape.bounds[:2], shape.bounds[2:]
    reach = float(np.hypot(high[0] - low[0], high[1] - low[1]))
    # Start well outside: the outline may hold a bevel's allowance beyond the edge.
    ray = LineString([start - reach * direction, start + reach * direction])
    pieces = shapely.get_parts(shape.intersection(ray))
    lines = [piece for piece in pieces if piece.length > diameter_mm]
    if not lines:
        raise PartError(
            f"a bolt of {diameter_mm:g} mm at ({start[0]:.0f}, {start[1]:.0f}) mm finds no wood: "
            "move it or thicken the part there"
        )
    nearest: LineString = min(lines, key=lambda line: line.distance(shapely.Point(start)))
    return nearest


def edge_bolt_mark(line: LineString, diameter_mm: float, label: str) -> Mark:
    """Return the mark of a bolt in the plane of the face: its centre line, two points."""
    ends = tuple((float(x), float(y)) for x, y in line.coords)
    return Mark(MarkKind.BOLT, (ends[0], ends[-1]), label, diameter_mm)


def zone_along(
    line: Points, half_width_mm: float, shape: Polygon, label: str, *, is_seat: bool = False
) -> BearingZone:
    """Return the band of a part's wood within a distance of a line, square at both ends.

    Raises
    ------
    PartError
        If the band misses the part.
    """
    band = LineString(line).buffer(half_width_mm, cap_style="flat", join_style="mitre")
    pieces = shapely.get_parts(shapely.make_valid(band.intersection(shape)))
    faces = [piece for piece in pieces if isinstance(piece, Polygon)]
    largest = max(faces, key=lambda piece: float(piece.area), default=Polygon())
    if largest.area < LEAST_ZONE_MM2:
        raise PartError(f"the bearing zone of the {label} lies outside the part: move it inward")
    return BearingZone(largest, label, is_seat)


def scribed(line: Points, shape: Polygon, label: str) -> list[Mark]:
    """Return the marks of a reference line where it lies on a part's wood."""
    pieces = shapely.get_parts(LineString(line).intersection(shape))
    return [
        Mark(MarkKind.REFERENCE, tuple((float(x), float(y)) for x, y in piece.coords), label)
        for piece in pieces
        if piece.length > LEAST_LINE_MM
    ]


def bolt_zone(line: LineString, diameter_mm: float, shape: Polygon, label: str) -> BearingZone:
    """Return the whole wood around a bolt that runs in the plane of the face."""
    return zone_along(np.asarray(line.coords), ZONE_DIAMETERS * diameter_mm, shape, label)
