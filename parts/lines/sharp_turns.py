"""A sharp turn of the rabbet in profile, as at the foot of a straight stem on a straight keel.

A table may say where it is (``knuckle``); without, a turn is taken for sharp if nearly all that
the line turns, it turns at one point, or between two whose straight runs meet there, and if with it
the line is far less surprising than bent.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from parts.curves import Points
from parts.lines.rows import Row

SHARP_DEG = 12.0
"""A turn at one point by less may be the bend of a fair line."""

ALONE = 8.0
"""How many times more than at any other point a line must turn to turn sharply."""

LESS_SURPRISING = 18.0
"""By how much less surprising a line must be with its sharp turn, in the logarithm: as without a
figure that is off by six standard deviations. At the foot of a straight stem it is by 50 and more,
at a forefoot swept up quickly by 4 to 15: taken for a knuckle, that named a right rabbet."""


def sharp_turn(row: Row, given: tuple[tuple[float, float], ...]) -> Row:
    """Return a row with its corners: those that are given, or the one that it shows."""
    if given:
        for x, z in given:
            row = _with_corner(row, x, z)
        return row
    found = _found(row)
    if found is None:
        return row
    turned = _with_corner(row, *found)
    gain = row.misfit_of_whole - turned.misfit_of_whole
    return turned if gain > LESS_SURPRISING else row


def _found(row: Row) -> tuple[float, float] | None:
    """Return where a row turns sharply, x and value, or None."""
    points = np.column_stack([row.x, row.values])
    if len(points) < 6:
        return None
    turns = _turns(points)
    most = int(np.abs(turns).argmax())
    others = np.delete(np.abs(turns), most)
    if abs(turns[most]) > max(SHARP_DEG, ALONE * float(others.max())):
        return float(points[most + 1, 0]), float(points[most + 1, 1])
    return _between(points, np.abs(turns), most)


def _between(points: Points, turns: Points, most: int) -> tuple[float, float] | None:
    """Return where the runs before and after the two points of most turning meet."""
    for first in (most - 1, most):
        if not 1 <= first <= len(turns) - 3:
            continue
        others = np.delete(turns, [first, first + 1])
        whole = float(turns[first : first + 2].sum())
        if whole > max(SHARP_DEG, ALONE * float(others.max())):
            a, b, c, d = points[first : first + 4]
            run = np.column_stack([b - a, c - d])
            share = np.linalg.solve(run, d - a)[0]
            x, value = a + share * (b - a)
            if b[0] < x < c[0]:
                return float(x), float(value)
    return None


def _turns(points: Points) -> Points:
    """Return by how much a line turns at each of its inner points, degrees."""
    way = np.diff(points, axis=0)
    heading = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    return np.asarray((np.diff(heading) + 180.0) % 360.0 - 180.0)


def _with_corner(row: Row, x: float, value: float) -> Row:
    """Return a row with a corner at a place; one of its points, if it is there."""
    near = int(np.abs(row.x - x).argmin())
    if abs(row.x[near] - x) < 1.0:
        return replace(row, corners=tuple(sorted({*row.corners, near})))
    at = int(np.searchsorted(row.x, x))
    before = tuple(corner + (corner >= at) for corner in row.corners)
    return replace(
        row,
        x=np.insert(row.x, at, x),
        values=np.insert(row.values, at, value),
        stations=np.insert(row.stations, at, -1),
        scatter=np.insert(row.scatter, at, 0.0),
        firm=np.insert(row.firm, at, 1.0),
        corners=tuple(sorted({*before, at})),
    )
