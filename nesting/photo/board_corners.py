"""The corners of a board: where its edge turns sharply, and the side before does not go on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.plan_view import Array, Mask

CORNER_MM = 42.0
"""About a corner so much of the edge is rounded by looking along normals."""

SHARP_DEG = 35.0

BROKEN_MM, BROKEN_DEG = 115.0, 72.0
"""Two turns so near each other, and neither of them so sharp, are one corner that was cut off by
paint or shadow, or by a saw: whether wood goes on is looked at later."""

BOTH_DEG = 135.0
"""The edge before two turns and that after them differ by some 90 degrees about one broken corner,
by some 180 about a narrow board's end: half way between."""


def corners_of(ring: Array, step_mm: float) -> list[tuple[int, int]]:
    """Return the places at which a ring turns sharply left, in order, and how far each is
    rounded.
    """
    reach = round(CORNER_MM / step_mm)
    ahead = np.roll(ring, -reach, axis=0) - ring
    behind = ring - np.roll(ring, reach, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turns = np.arctan2(cross, np.sum(ahead * behind, axis=1))
    found = list[int]()
    for i in np.argsort(-turns).tolist():
        if turns[i] < np.radians(SHARP_DEG) or len(found) == 6:
            break
        is_apart = all(min(abs(i - k), len(ring) - abs(i - k)) >= 1.4 * reach for k in found)
        if is_apart and not _goes_on(ring, i, reach, step_mm):
            found.append(i)
    return _made_one(sorted(found), ring, turns, reach, step_mm)


GOES_ON_MM, AGAIN_MM = 320.0, 60.0
"""A side that is met again so far on, and for so long, has no end here: what turns is the lip of a
bay that looks like the ground, or the tip of something that lies against the board."""

OFF_MM, OFF_SHARE = 2.5, 0.02
"""How far off its own line a side may be met again: mm, and a part of the way, since sides bend."""


def _goes_on(ring: Array, place: int, reach: int, step_mm: float) -> bool:
    """Return whether the side before a turn, or that after it, goes on past it."""
    for sign in (1, -1):
        own = ring[(place - sign * np.arange(3 * reach, reach, -1)) % len(ring)]
        middle = own.mean(axis=0)
        line = np.linalg.svd(own - middle, full_matrices=False)[2][0]
        line = line if line @ (own[-1] - own[0]) > 0 else -line
        if np.abs((own - middle) @ (-line[1], line[0])).max() > OFF_MM:
            continue
        ahead = round((GOES_ON_MM + AGAIN_MM) / step_mm)
        off = ring[(place + sign * np.arange(min(ahead, len(ring) // 3))) % len(ring)] - middle
        along, aside = off @ line, np.abs(off @ (-line[1], line[0]))
        on = (aside[1:] < OFF_MM + OFF_SHARE * np.abs(along[1:])) & (np.diff(along) > 0)
        if max((len(run) for run in runs_in_line(on)), default=0) * step_mm >= AGAIN_MM:
            return True
    return False


def _made_one(
    found: list[int], ring: Array, turns: Array, reach: int, step_mm: float
) -> list[tuple[int, int]]:
    """Return corners, each with its reach, those that are two halves of one made one."""
    corners = [(i, reach) for i in found]
    for k in range(len(found)):
        one, other = found[k - 1], found[k]
        apart = (other - one) % len(turns)
        both = np.degrees(turns[[one, other]])
        if (
            len(found) > 2
            and apart * step_mm < BROKEN_MM
            and both.max() < BROKEN_DEG
            and _turned(ring, one, other, reach) < BOTH_DEG
        ):
            rest = [corner for corner in corners if corner[0] not in (one, other)]
            return sorted([*rest, ((one + apart // 2) % len(turns), reach + apart // 2)])
    return corners


def _turned(ring: Array, one: int, other: int, reach: int) -> float:
    """Return by how much a ring turns left from before one turn to after another, degrees."""
    far = np.array([[one - 2 * reach, one - reach], [other + reach, other + 2 * reach]])
    before, after = np.diff(ring[far % len(ring)], axis=1)[:, 0]
    cross, dot = before[0] * after[1] - before[1] * after[0], before @ after
    return float(np.degrees(np.arctan2(cross, dot)) % 360.0)


def runs_in_line(flags: Mask) -> list[NDArray[np.intp]]:
    """Return runs of places that are flagged, from first to last."""
    turned = np.concatenate([[0], flags.astype(int), [0]])
    starts, ends = np.flatnonzero(np.diff(turned) == 1), np.flatnonzero(np.diff(turned) == -1)
    return [np.arange(start, end) for start, end in zip(starts, ends, strict=True)]
