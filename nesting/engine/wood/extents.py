"""How little room an outline takes each way, however it may be turned. Compiles nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.flat_geometry.thinned import thinned_inward
from nesting.outline import Outline
from nesting.units import slope_angle

Floats = NDArray[np.float64]

SLACK_DEG = 1e-4
"""Added to the limit on slope of grain: ten times what the referee lets pass."""


def least_extents(outline: Outline, grain_deg: float | None) -> tuple[float, float]:
    """Return an outline's least extents along x and y, mm, over all allowed turnings.

    Each extent is the least by itself: they need not be reached at one turning. A convex
    figure's extent has its least where an edge lies square to it, or at the range's ends.

    Parameters
    ----------
    grain_deg
        The board's grain; None where it is not straight, which allows any turning here.
    """
    hull = thinned_inward(outline.shape).convex_hull
    assert isinstance(hull, Polygon)
    corners = np.asarray(hull.exterior.coords)
    own = outline.grain.angles_deg[0]
    found = []
    for is_over in (False, True) if outline.may_turn_over else (False,):
        ring = corners * np.array([1.0, -1.0]) if is_over else corners
        if grain_deg is None or not outline.grain.is_straight:
            middle, reach = 0.0, 90.0
        else:
            middle = grain_deg + (own if is_over else -own)
            reach = min(90.0, slope_angle(outline.slope_of_grain) + SLACK_DEG)
        found.append(_least_in_range(ring, middle, reach))
    return min(x for x, _ in found), min(y for _, y in found)


def extents_needed(outline: Outline, grain_deg: float | None) -> tuple[float, float]:
    """Return the least extents, mm; infinite where the board's grain allows no turning at all.

    Takes what :func:`least_extents` takes.
    """
    may_lie = any(turnings_deg(outline, grain_deg))
    return least_extents(outline, grain_deg) if may_lie else (math.inf, math.inf)


def turnings_deg(outline: Outline, grain_deg: float | None) -> Iterator[tuple[bool, float, float]]:
    """Yield each face with the range of angles, degrees, that its slope of grain allows.

    Half a turn more is allowed as well. A face that no angle suits is left out: a grown part
    bends more than straight grain lets pass.

    Parameters
    ----------
    grain_deg
        The board's grain; None where it is not straight, which allows any turning here.
    """
    reach = slope_angle(outline.slope_of_grain) + SLACK_DEG
    for is_over in (False, True) if outline.may_turn_over else (False,):
        own = -outline.grain.sample_angles if is_over else outline.grain.sample_angles
        if grain_deg is None or reach >= 45.0:
            yield is_over, -90.0, 90.0
            continue
        off = (own - own[0] + 90.0) % 180.0 - 90.0
        middle = grain_deg - float(own[0])
        low, high = middle - float(off.min()) - reach, middle - float(off.max()) + reach
        if low <= high:
            yield is_over, low, high


def _least_in_range(ring: Floats, middle_deg: float, reach_deg: float) -> tuple[float, float]:
    spans = np.diff(ring, axis=0)
    edges = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    flush = np.concatenate([-edges, 90.0 - edges]) - middle_deg
    flush = (flush + 90.0) % 180.0 - 90.0
    offsets = np.append(flush[np.abs(flush) < reach_deg], [-reach_deg, 0.0, reach_deg])
    turns = np.radians(middle_deg + offsets)
    along = np.outer(np.cos(turns), ring[:, 0]) - np.outer(np.sin(turns), ring[:, 1])
    across = np.outer(np.sin(turns), ring[:, 0]) + np.outer(np.cos(turns), ring[:, 1])
    return float(np.ptp(along, axis=1).min()), float(np.ptp(across, axis=1).min())
