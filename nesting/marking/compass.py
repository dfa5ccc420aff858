"""What a compass strikes of a part's line: arcs, each about a centre on the board."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from nesting.flat_geometry.true_arcs import LEAST_CORNERS, Arc, Points, longest_arc, turn
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
    is_tight = _are_tight(run)
    while at < len(run) - LEAST_CORNERS + 1:
        found = longest_arc(run, at) if is_tight[at] else None
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


def _are_tight(run: Points) -> list[bool]:
    """Return for each corner of a line whether it bends enough for a compass just after it.

    Where it does not, no arc is looked for: that takes nearly all the time.
    """
    ways = np.diff(run, axis=0)
    lengths = np.hypot(*ways.T)
    turns = np.abs(turn(ways[:-1], ways[1:]))
    chords = np.hypot(*(run[2:] - run[:-2]).T)
    tight = (chords <= 2 * SLACK * COMPASS_MM * np.sin(turns)) & (lengths[1:] > 0)
    return [*tight.tolist(), False, False]
