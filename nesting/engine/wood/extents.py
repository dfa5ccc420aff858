"""How little room an outline takes each way, however it may be turned. Compiles nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.geometry.turned import lean_range
from nesting.flat_geometry.thinned import thinned_inward
from nesting.grain import GrainPath, may_follow
from nesting.outline import Outline
from nesting.stock.board import Board
from nesting.units import slope_angle

Floats = NDArray[np.float64]

SLACK_DEG = 1e-4
"""Added to the limit on slope of grain: ten times what the referee lets pass."""


TURNS, ZOOMS = 65, 3
"""Angles looked at for the tightest, and how often the range about the best of them is."""


def least_extents(outline: Outline, grain_deg: float | None) -> tuple[float, float]:
    """Return an outline's least extents along x and y, mm, over all allowed turnings.

    Each extent is the least by itself: they need not be reached at one turning. A convex
    figure's extent has its least where an edge lies square to it, or at the range's ends.

    Parameters
    ----------
    grain_deg
        The board's grain; None where it is not straight, which allows any turning here. A part
        that may lie square to the grain of sheet goods is taken to on any board.
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
        found += [_least_in_range(ring, middle + q, reach) for q in outline.quarter_turns_deg]
    return min(x for x, _ in found), min(y for _, y in found)


def extents_needed(outline: Outline, grain: GrainPath) -> tuple[float, float]:
    """Return the least extents on a board, mm; infinite where its grain allows no turning at all.

    On grown grain each by itself over all turnings, as :func:`least_extents` has them.
    """
    straight_deg = grain.angles_deg[0] if grain.is_straight else None
    may_lie = follows(outline, grain)
    return least_extents(outline, straight_deg) if may_lie else (math.inf, math.inf)


def follows(outline: Outline, grain: GrainPath) -> bool:
    """Return whether a board's grain may follow an outline's somewhere; False is proof."""
    if grain.is_straight:
        return any(turnings_deg(outline, grain.angles_deg[0]))
    reach = slope_angle(outline.slope_of_grain) + SLACK_DEG
    faces = (False, True) if outline.may_turn_over else (False,)
    return any(may_follow(outline.grain, grain, reach, is_over=over) for over in faces)


def fits_some_way(outline: Outline, room_mm: tuple[float, float]) -> bool:
    """Return whether an outline's box lies in a room at any whole degree, whatever its grain."""
    corners = shapely.get_coordinates(thinned_inward(outline.shape).convex_hull)
    along, across = _extents(corners, np.arange(180.0))
    return bool(((along <= room_mm[0]) & (across <= room_mm[1])).any())


def turnings_deg(outline: Outline, grain_deg: float | None) -> Iterator[tuple[bool, float, float]]:
    """Yield each face with the range of angles, degrees, that its slope of grain allows.

    Half a turn more is allowed as well, and a quarter where :func:`least_extents` has one. A face
    that no angle suits is left out: a grown part bends more than straight grain lets pass.

    Parameters
    ----------
    grain_deg
        The board's grain; None where it is not straight, which allows any turning here.
    """
    reach = slope_angle(outline.slope_of_grain) + SLACK_DEG
    for is_over in (False, True) if outline.may_turn_over else (False,):
        own = np.array(outline.grain.angles_deg) * (-1.0 if is_over else 1.0)
        if grain_deg is None or reach >= 45.0:
            yield is_over, -90.0, 90.0
            continue
        off = (own - own[0] + 90.0) % 180.0 - 90.0
        middle = grain_deg - float(own[0])
        low, high = middle - float(off.min()) - reach, middle - float(off.max()) + reach
        if low <= high:
            for quarter in outline.quarter_turns_deg:
                yield is_over, low + quarter, high + quarter


def _least_in_range(ring: Floats, middle_deg: float, reach_deg: float) -> tuple[float, float]:
    spans = np.diff(ring, axis=0)
    edges = np.degrees(np.arctan2(spans[:, 1], spans[:, 0]))
    flush = np.concatenate([-edges, 90.0 - edges]) - middle_deg
    flush = (flush + 90.0) % 180.0 - 90.0
    offsets = np.append(flush[np.abs(flush) < reach_deg], [-reach_deg, 0.0, reach_deg])
    along, across = _extents(ring, middle_deg + offsets)
    return float(along.min()), float(across.min())


def _extents(ring: Floats, turns_deg: Floats) -> tuple[Floats, Floats]:
    """Return the extents along x and y, (k,) each, of corners (n, 2) turned by (k,) angles."""
    turns = np.radians(turns_deg)
    along = np.outer(np.cos(turns), ring[:, 0]) - np.outer(np.sin(turns), ring[:, 1])
    across = np.outer(np.sin(turns), ring[:, 0]) + np.outer(np.cos(turns), ring[:, 1])
    return np.ptp(along, axis=1), np.ptp(across, axis=1)


def slantwise(
    outline: Outline, board: Board, room_mm: tuple[float, float]
) -> Iterator[tuple[float, bool]]:
    """Yield (angle, turned over), degrees, at which an outline's box stands least out of a room.

    A part a little longer than a board may lie in it slantwise: not along an edge, and not as
    far off the grain as may be. The board's grain is straight.

    Parameters
    ----------
    room_mm
        Along x and y.
    """
    hull = outline.shape.convex_hull
    assert isinstance(hull, Polygon)
    corners = np.asarray(hull.exterior.coords)
    own, grain = outline.middle_grain_deg, board.grain.angles_deg[0]
    for is_over in (False, True) if outline.may_turn_over else (False,):
        low, high = lean_range(outline, board, is_over=is_over)
        if low > high:
            continue
        base = grain + own if is_over else grain - own
        ring = corners * np.array([1.0, -1.0]) if is_over else corners
        angle = round(_tightest(ring, base + low, base + high, room_mm), 6)
        yield angle, is_over
        yield angle + 180.0, is_over


def _tightest(ring: Floats, low_deg: float, high_deg: float, room_mm: tuple[float, float]) -> float:
    for _ in range(ZOOMS):
        turns = np.linspace(low_deg, high_deg, TURNS)
        along, across = _extents(ring, turns)
        best = int(np.maximum(along - room_mm[0], across - room_mm[1]).argmin())
        low_deg, high_deg = float(turns[max(best - 1, 0)]), float(turns[min(best + 1, TURNS - 1)])
    return float(turns[best])
