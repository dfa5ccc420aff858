"""What a compass strikes of a part's line: arcs, each about a centre on the board."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from nesting.flat_geometry.true_arcs import (
    LEAST_CORNERS,
    ON_ARC_MM,
    Arc,
    Points,
    longest_arc,
    turn,
)
from nesting.marking.batten_points import printed_point
from nesting.marking.tape import Tape

COMPASS_MM = 300.0
"""No radius is struck that is larger: beyond a shop's compass (common practice, no source)."""

LEAST_SWEEP_DEG = 30.0
"""A shorter arc is as well told by its points."""

SLACK = 1.01
"""The circle through three corners may be so much larger than that of the arc they lie on."""


def struck(run: Points) -> Iterator[tuple[Points, Arc | None]]:
    """Yield a line (n, 2) in stretches: arcs that a compass strikes, and None with what is none."""
    begun = at = 0
    may_begin = _may_begin(run)
    while at < len(run) - LEAST_CORNERS + 1:
        found = longest_arc(run, at) if may_begin[at] else None
        if found is None or not _is_for_a_compass(found[1]):
            at += 1
            continue
        end, arc = found
        if at > begun:
            yield run[begun : at + 1], None
        yield run[at : end + 1], arc
        begun = at = end
    if begun < len(run) - 1:
        yield run[begun:], None


def printed_arc(arc: Arc, tape: Tape) -> tuple[tuple[float, float], float]:
    """Return centre and radius of an arc as they are printed, mm.

    Struck with them it lies off the true one by ``tape.within_mm`` at the most. About a centre
    printed fine any radius read off does: it takes half of that, and the centre's own fineness
    less than a quarter.
    """
    centre = printed_point(np.array(arc.centre), tape)
    shift = math.dist(centre, arc.centre)
    for radius in (tape.read(arc.radius), tape.bored(arc.radius)):
        if shift + abs(radius - arc.radius) <= tape.within_mm:
            return centre, radius
    return printed_point(np.array(arc.centre), tape, is_fine=True), tape.read(arc.radius)


def _is_for_a_compass(arc: Arc) -> bool:
    return arc.radius <= COMPASS_MM and abs(arc.sweep) >= math.radians(LEAST_SWEEP_DEG)


def _may_begin(run: Points) -> list[bool]:
    """Return for each corner of a line whether an arc for a compass may begin there.

    Most corners of a curve begin none, and that is told of all at once: just after the corner the
    line must bend enough, and by the time it has turned far enough five of its corners must lie on
    one circle.
    """
    ways = np.diff(run, axis=0)
    lengths = np.hypot(*ways.T)
    turns = turn(ways[:-1], ways[1:])
    chords = np.hypot(*(run[2:] - run[:-2]).T)
    may = (chords <= 2 * SLACK * COMPASS_MM * np.sin(np.abs(turns))) & (lengths[1:] > 0)
    first = np.flatnonzero(may)
    turned = np.concatenate([[0.0], np.cumsum(np.abs(turns))])
    # Of an arc of n chords all but one of its n turns are seen.
    last = np.searchsorted(turned, turned[first] + HALF_SEEN * math.radians(LEAST_SWEEP_DEG)) + 1
    last = np.maximum(last, first + LEAST_CORNERS - 1)
    may[first] = last < len(run)
    first, last = first[last < len(run)], last[last < len(run)]
    may[first] &= _are_round(run[np.linspace(first, last, 5).astype(int)])
    return [*may.tolist(), False, False]


HALF_SEEN = 0.5
"""Of an arc that a compass strikes at least this share of its sweep is turned at its corners."""


def _are_round(points: Points) -> NDArray[np.bool_]:
    """Return (n,) whether the corners (5, n, 2) of each line lie on a circle for a compass."""
    a, b = points[2] - points[0], points[4] - points[0]
    double = 2 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    aa, bb = (a**2).sum(axis=1), (b**2).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        across = np.stack([b[:, 1] * aa - a[:, 1] * bb, a[:, 0] * bb - b[:, 0] * aa], axis=1)
        centre = across / double[:, None]
        radius = np.hypot(*centre.T)
        off = np.abs(np.hypot(*np.moveaxis(points - points[0] - centre, -1, 0)) - radius)
    return np.asarray((radius <= SLACK * COMPASS_MM) & (off.max(axis=0) <= ON_ARC_MM))
