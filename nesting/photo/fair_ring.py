"""A ring laid on the fair course of its sides: what the band about an edge lies along.

A path through the band is held to the line that the band lies along. Were that the edge as found so
far, every bulge of it would hold itself; a sawn edge is fair over all its length.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nesting.photo.band import STEP_MM
from nesting.photo.edge_lines import summed_round
from nesting.photo.fair_course import BAY_MM, SIGNS, Course, course_of
from nesting.photo.plain_curve import near_weight
from nesting.photo.plan_view import Array, Mask
from nesting.photo.rings import lengthwise, normals_of, resampled

PULLED_MM = 24.0
"""Places farther off their fair course than this are left where they are: steps and notches; nearer
ones are moved by more the nearer they are."""

MOST_SHARE = 0.6
"""A side is laid on its course if so much of it lies no farther off than a bay is deep: else it has
steps, and its course is no edge."""

ALONG_COSINE = 0.94
"""A place belongs to a side if its normal lies so near across it; else to a corner or an end."""

EASED_MM = 15.0
"""Over so much either way the moves go over into none at the corners."""


def on_fair_course(ring: Array) -> Array:
    """Return a closed anticlockwise ring (n, 2), evenly stepped, its long sides laid on their fair
    course; ends and corners are left as they are.
    """
    middle, turn = lengthwise(ring)
    laid = (ring - middle) @ turn.T
    sides = course_of(laid)
    if sides is None:
        return ring
    window = round(EASED_MM / STEP_MM)
    moved = laid.copy()
    for out, off, use in _courses(sides, laid):
        if np.mean(np.abs(off[use]) < BAY_MM) < MOST_SHARE:
            continue
        eased = summed_round(use[:, None].astype(float), window)[:, 0] / (2 * window + 1)
        moved += (off * near_weight(off, PULLED_MM) * eased)[:, None] * out
    return resampled(moved @ turn + middle, STEP_MM)


def _courses(sides: Course, laid: Array) -> Iterator[tuple[Array, Array, Mask]]:
    """Yield for both sides which way is out, how far out (n,) places of a ring (n, 2) would come to
    lie on it, and which belong to it.
    """
    normals = normals_of(laid)
    for sign, fair in zip(SIGNS, sides.fair, strict=True):
        off = np.interp(laid[:, 0], sides.u, fair) - sign * laid[:, 1]
        yield np.array([0.0, sign]), off, sign * normals[:, 1] > ALONG_COSINE
