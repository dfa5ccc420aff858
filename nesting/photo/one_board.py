"""Whether a picture shows one board: another beside it, or against it, and nobody could say which
is meant.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from nesting.errors import PhotographError
from nesting.photo.band import STEP_MM
from nesting.photo.board_strip import Strip, best_strip
from nesting.photo.fair_course import SIGNS, course_of
from nesting.photo.line_followed import line_share
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView
from nesting.photo.rings import lengthwise
from nesting.photo.rough_plan import Looks, Rough

ANOTHER_TOLD, ANOTHER_SHARE, ANOTHER_ALIKE = 0.35, 0.3, 0.2
"""Another strip tells so much at least, nats, is as large as so much of the first, and looks no
more unlike it, nats: 0 alike, 0.69 nothing in common."""

OWN_SHARE = 0.5
"""So much of another board's strip is no part of the first: else it is the first, or its rim."""


def require_one_board(rough: Rough, looks: Looks, strip: Strip, cells: Mask) -> None:
    """Refuse a picture with a second board in it: nobody could say which is meant."""
    if not cells.any():
        raise PhotographError(
            "no board is seen that can be told from the ground; lay it on ground of another colour"
        )
    cv2 = opencv()
    own = cv2.dilate(cells.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    rest = replace(rough, use=rough.use & ~own)
    other = best_strip(rest, looks, beside=strip)
    if other is None or other.told < ANOTHER_TOLD:
        return
    if other.length * other.width < ANOTHER_SHARE * strip.length * strip.width:
        return
    if other.length < 3.0 * other.width or not _is_alike(rest, looks, cells, other):
        return
    raise PhotographError(
        f"two boards are seen, one about {strip.length:.0f} mm long and one about "
        f"{other.length:.0f} mm; photograph each by itself"
    )


def _is_alike(rest: Rough, looks: Looks, cells: Mask, other: Strip) -> bool:
    """Return whether a strip of the rest looks as the board does."""
    rows, columns = np.nonzero(rest.seen)
    off = rest.to_mm(np.column_stack([columns, rows]).astype(np.float64)) - other.middle
    cos, sin = np.cos(other.angle), np.sin(other.angle)
    inside = (np.abs(off @ (cos, sin)) < 0.45 * other.length) & (
        np.abs(off @ (-sin, cos)) < 0.4 * other.width
    )
    own = inside & rest.use[rows, columns]
    if np.count_nonzero(own) < OWN_SHARE * np.count_nonzero(inside):
        return False
    count = len(looks.alike)
    numbers = looks.numbers
    p = np.bincount(numbers[rows[own], columns[own]], minlength=count) @ looks.alike + 0.5
    q = np.bincount(numbers[cells], minlength=count) @ looks.alike + 0.5
    p, q = p / p.sum(), q / q.sum()
    middle = (p + q) / 2
    unlike = float(0.5 * np.sum(p * np.log(p / middle) + q * np.log(q / middle)))
    return unlike <= ANOTHER_ALIKE


STEP_HIGH_MM, STEP_WITHIN_MM = 40.0, 36.0
"""A side that goes up by so much within so much of its length has a step."""

BEFORE_MM, ON_MM, SEAM_SHARE = (24.0, 240.0), 330.0, 0.7
"""From so far to so far before a step its side tells the line that a seam would go on along; so far
past it the other board goes on at least, where a glove does not; and over what part of that the
seam is seen."""


def require_none_against(plan: PlanView, ring: Array) -> None:
    """Refuse a board whose side has a step past which the side goes on as a seam: another lies
    against it. ``ring``: (n, 2) the rough edge.
    """
    middle, turn = lengthwise(ring)
    sides = course_of((ring - middle) @ turn.T)
    if sides is None:
        return
    for sign, reach in zip(SIGNS, sides.reach, strict=True):
        for seam in _seams(sides.u, reach):
            if line_share(plan, (seam * (1.0, sign)) @ turn + middle) >= SEAM_SHARE:
                raise PhotographError(
                    "two boards are seen that lie beside or against each other; photograph each "
                    "by itself"
                )


def _seams(u: Array, reach: Array) -> Iterator[Array]:
    """Yield the lines (n, 2) that a side (u, reach) would go on along past its steps outward."""
    for way in (1, -1):
        out, x = reach[::way], u[::way]
        within = round(STEP_WITHIN_MM / STEP_MM)
        rises = out[within:] - out[:-within]
        for i in range(1, len(rises) - 1):
            is_top = rises[i] >= rises[i - 1] and rises[i] > rises[i + 1]
            if rises[i] < STEP_HIGH_MM or not is_top:
                continue
            near, far = (round(mm / STEP_MM) for mm in BEFORE_MM)
            if i < far:
                continue
            before = slice(i - far, i - near)
            slope, at = np.polyfit(x[before], out[before], 1)
            past = slice(i + within, i + within + round(ON_MM / STEP_MM))
            seam = at + slope * x[past]
            if len(seam) == round(ON_MM / STEP_MM) and np.all(out[past] - seam > STEP_HIGH_MM / 2):
                yield np.column_stack([x[past], seam])
