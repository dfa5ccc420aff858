"""Edges that lie on a hull with chines: parted where she is broken, so that no corner is rounded.

Points spread evenly along such an edge would step over its corner, by millimetres, and a smooth
side through them would swing there; on either side of a chine the bevel is another, too.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from parts.curves import Points, at_distances, distances_along, length_of
from parts.fitted.two_faces import FacedEdge, evenly, steps_for

ON_LINE_MM = 0.01
"""A corner as near to a point of the line is that point; both are found alike."""

LEAST_PIECE_MM = 1.0
"""A corner nearer than this to an end of the edge is its end."""

STRAIGHT_MM = 1e-6
"""A line longer than its chord by less is straight."""

Both = tuple[Points, Points]
"""Of the marked and of the far face, (n, 2) mm each."""

Chines = Callable[[float], Points]
"""Half-breadth and height of every chine of a section, (k, 2), at a place along the boat."""

NO_CORNERS: Points = np.zeros((0, 2))


def no_chines(_x: float) -> Points:
    """Return the chines of what has none."""
    return NO_CORNERS


def spread(line: Points, corners: Points) -> Points:
    """Return a line's points spread evenly between its ends and corners, (n, 2)."""
    pieces = [
        evenly(piece, steps_for(length_of(piece)))
        for piece in _between(line, _along(line, corners))
    ]
    return np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])


def parted(
    name: str,
    lines: Both,
    corners: Both,
    *,
    is_outer: bool = False,
    count: Callable[[float], int] = steps_for,
) -> tuple[FacedEdge, ...]:
    """Return an edge that lies on the hull as one edge, or as several that meet at its corners.

    Parameters
    ----------
    corners
        Where the hull is broken, (k, 2) in each face; those that lie on the edge part it. Where
        one face alone has a corner, the edge is parted in the other at the like place.
    count
        How many points an edge of some length takes.
    """
    at = _alike([_along(line, found) for line, found in zip(lines, corners, strict=True)], lines)
    pieces = [_between(line, places) for line, places in zip(lines, at, strict=True)]
    found = list[FacedEdge]()
    for n, (near, far) in enumerate(zip(*pieces, strict=True)):
        is_straight = all(_is_straight(line) for line in (near, far))
        many = 2 if is_straight else count(max(length_of(near), length_of(far)))
        called = f"{name}{_which(n, len(pieces[0]))}"
        found.append(FacedEdge(called, evenly(near, many), evenly(far, many), is_outer=is_outer))
    return tuple(found)


def _is_straight(line: Points) -> bool:
    return length_of(line) - length_of(line[[0, -1]]) < STRAIGHT_MM


def _which(number: int, many: int) -> str:
    """Return what is said of one of several edges between corners."""
    if many == 1:
        return ""
    first, last = ("the chine", "the chine") if many == 2 else ("the first chine", "the last chine")
    if number == 0:
        return f" to {first}"
    return f" past {last}" if number == many - 1 else " between chines"


def _along(line: Points, corners: Points) -> Points:
    """Return how far along a line its corners lie, (k,) mm, rising."""
    along = distances_along(line)
    found = list[float]()
    for corner in corners:
        off = np.hypot(*(line - corner).T)
        at = int(off.argmin())
        is_within = LEAST_PIECE_MM < along[at] < along[-1] - LEAST_PIECE_MM
        if off[at] < ON_LINE_MM and is_within:
            found.append(float(along[at]))
    return np.array(sorted(found))


def _alike(at: list[Points], lines: Both) -> list[Points]:
    """Return places along both lines, as many on each: what one lacks, put at the like place."""
    fewer, more = (0, 1) if len(at[0]) < len(at[1]) else (1, 0)
    if len(at[0]) == len(at[1]):
        return at
    ends = [length_of(line) for line in lines]
    lacking = len(at[more]) - len(at[fewer])
    shares = at[fewer] / ends[fewer], at[more] / ends[more]
    # Corners lack at an end of the edge, never between others.
    first = min(
        range(lacking + 1),
        key=lambda n: float(np.abs(shares[1][n : n + len(shares[0])] - shares[0]).sum()),
    )
    matched = at[more][first : first + len(at[fewer])]
    places = np.interp(at[more], [0.0, *matched, ends[more]], [0.0, *at[fewer], ends[fewer]])
    found = [at[0], at[1]]
    found[fewer] = places
    return found


def _between(line: Points, at: Points) -> list[Points]:
    """Return the pieces of a line between places along it, (n, 2) each."""
    along = distances_along(line)
    bounds = [0.0, *at.tolist(), float(along[-1])]
    pieces = []
    for low, high in pairwise(bounds):
        ends = at_distances(line, np.array([low, high]))
        inner = line[(along > low + 1e-9) & (along < high - 1e-9)]
        pieces.append(np.vstack([ends[:1], inner, ends[1:]]))
    return pieces
