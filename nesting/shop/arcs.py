"""Rings of chords as lines and true arcs, as a machine file draws them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LinearRing

from nesting.flat_geometry.true_arcs import (
    LEAST_CORNERS,
    ON_ARC_MM,
    arc_through,
    circle_through,
    longest_arc,
    turn,
)
from nesting.sheets.drawing import Polyline, Role

Points = NDArray[np.float64]


def arced(ring: LinearRing, role: Role) -> Polyline:
    """Return a ring as a closed line with arcs where its corners lie on circles."""
    points = _from_a_corner(shapely.get_coordinates(ring)[:-1])
    closed = np.vstack([points, points[:1]])
    stretches = _whole_circle(closed) or _greedy(closed)
    held = tuple((float(x), float(y)) for x, y in points[[at for at, _ in stretches]])
    bulges = tuple(bulge for _, bulge in stretches)
    return Polyline(held, role, is_closed=True, bulges=bulges if any(bulges) else ())


def _greedy(closed: Points) -> list[tuple[int, float]]:
    """Return where each stretch of a ring begins, and its bulge, each as long as it can be."""
    found, at = list[tuple[int, float]](), 0
    while at < len(closed) - 1:
        end, arc = longest_arc(closed, at) or (at + 1, None)
        found.append((at, arc.bulge if arc else 0.0))
        at = end
    return found


def _whole_circle(closed: Points) -> list[tuple[int, float]]:
    """Return the three arcs of a ring that is one circle; nothing of any other."""
    count = len(closed) - 1
    if count < 3 * (LEAST_CORNERS - 1):
        return []
    begins = [0, count // 3, 2 * count // 3]
    ends = [*begins[1:], count]
    arcs = [arc_through(closed[a : b + 1]) for a, b in zip(begins, ends, strict=True)]
    circles = [
        circle_through(*closed[[a, (a + b) // 2, b]]) for a, b in zip(begins, ends, strict=True)
    ]
    if None in arcs or None in circles:
        return []
    centres = np.array([circle[0] for circle in circles if circle])
    if np.ptp(centres, axis=0).max() > ON_ARC_MM:
        return []
    return [(at, arc.bulge) for at, arc in zip(begins, arcs, strict=True) if arc is not None]


def _from_a_corner(points: Points) -> Points:
    """Return a ring's corners from the one where it turns most, so that no arc is begun within."""
    ahead = np.roll(points, -1, axis=0) - points
    behind = points - np.roll(points, 1, axis=0)
    turns = np.abs(turn(behind, ahead))
    return np.roll(points, -int(np.argmax(turns)), axis=0)
