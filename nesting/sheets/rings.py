"""A ring as it stands in a file, corners with a bulge each: its points, and slots among rings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.stock.keep_out import KeepOut, KeepOutKind, slot

Ring = tuple[tuple[float, float, float], ...]

CHORD_MM = 0.002
"""An arc is measured by chords that run so near to it."""


def ring_points(ring: Ring) -> NDArray[np.float64]:
    """Return the (n, 2) points of a ring, with those along its arcs."""
    if not ring:
        raise ValueError("a circle is tagged as an edge")
    given = np.asarray(ring, dtype=float)
    if not given[:, 2].any():
        return given[:, :2]
    points = list[tuple[float, float]]()
    for (x, y, bulge), (u, v, _) in zip(ring, (*ring[1:], ring[0]), strict=True):
        points += [(x, y), *_along_arc((x, y), (u, v), bulge)]
    return np.asarray(points)


def _along_arc(
    start: tuple[float, float], end: tuple[float, float], bulge: float
) -> Iterator[tuple[float, float]]:
    """Yield points along the arc between two points.

    A bulge is the tangent of a quarter of the arc's angle, over 0 to the right of the chord's way
    (DXF reference, LWPOLYLINE).
    """
    (x, y), (u, v) = start, end
    chord = math.hypot(u - x, v - y)
    if not math.isfinite(chord * bulge):
        raise ValueError(f"the arc from ({x:g}, {y:g}) mm has a bulge of {bulge:g}")
    if abs(chord * bulge) < CHORD_MM or chord == 0:
        return
    turn = 4 * math.atan(bulge)
    radius = chord * (1 + bulge**2) / (4 * abs(bulge))
    step = 2 * math.acos(max(1 - CHORD_MM / radius, 0.0))
    count = min(math.ceil(abs(turn) / step), 2000)
    # The centre lies left of the chord's way for an arc anticlockwise of less than half a turn.
    off = (1 - bulge**2) / (4 * bulge)
    cx, cy = (x + u) / 2 - (v - y) * off, (y + v) / 2 + (u - x) * off
    first = math.atan2(y - cy, x - cx)
    for number in range(1, count):
        angle = first + turn * number / count
        yield cx + radius * math.cos(angle), cy + radius * math.sin(angle)


def ring_places(ring: Ring) -> Sequence[tuple[float, float]]:
    """Return the corners of a ring alone."""
    return [(x, y) for x, y, _ in ring]


def is_slot(ring: Ring) -> bool:
    """Return whether a ring is two straight sides and two half circles."""
    bulges = [bulge for _, _, bulge in ring]
    if not any(bulges):
        return False
    half_circles = (0.0, 1.0, 0.0, 1.0)
    return len(ring) == 4 and all(
        abs(bulge - wanted) < 1e-6 for bulge, wanted in zip(bulges, half_circles, strict=True)
    )


def slot_of(kind: KeepOutKind, ring: Ring) -> KeepOut:
    """Return the slot whose long sides start at corners 1 and 3 and end in half circles."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = ring_places(ring)
    width = ((dx - ax) ** 2 + (dy - ay) ** 2) ** 0.5
    start, end = ((ax + dx) / 2, (ay + dy) / 2), ((bx + cx) / 2, (by + cy) / 2)
    return slot(kind, start, end, width)
