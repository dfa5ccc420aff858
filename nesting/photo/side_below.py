"""The side below a board's face, where it is seen aslant, and where the face ends inside it.

How wide it is seen follows from thickness and eye. Whether the edge that was found is the face's
own or the foot of the side is looked at stretch by stretch; where little is seen of that, the
stretch goes by the others that its edge goes on in line with.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.photo.band import FINE_MM, REACH_MM, STEP_MM
from nesting.photo.board_corners import SHARP_DEG, runs_in_line
from nesting.photo.edge_lines import (
    NARROW_MM,
    NEAR_MM,
    NEAR_SHARE,
    inner_line,
    narrow_side,
)
from nesting.photo.plan_view import Array, Mask
from nesting.photo.rings import median_round, runs_of

SEEN_SIDE_MM = 1.0
"""A side seen this narrow moves nothing that counts."""

SIDE_MEDIAN_MM = 60.0
"""How wide a side is seen changes slowly along it: a rough edge's own turns, so far either way,
do not count."""

TURN_DEG, TURN_MM = 20.0, 15.0
"""An edge that turns by so much from so far on one side of a place to so far on the other turns a
corner, if it turns sharply in all: up to there each side is as wide as it is before the turn."""

STRETCH_MM = 300.0
"""So much of an edge is looked at as one: enough for stones beside it to even out."""


def side_widths(
    ring: Array, normals: Array, eyes: Array, thickness_mm: float, height_mm: float
) -> Array:
    """Return how wide the side below the face is seen outside each place, mm of the face's
    plane.
    """
    nearest = np.argmin(np.linalg.norm(ring[:, None, :] - eyes[None, :, :2], axis=2), axis=1)
    eye = eyes[nearest]
    square, corners = _squared(normals)
    toward = np.sum((eye[:, :2] - ring) * square, axis=1)
    share = thickness_mm / (eye[:, 2] - height_mm + thickness_mm)
    wide = np.maximum(0.0, toward * share)
    reach = round(SIDE_MEDIAN_MM / STEP_MM)
    if not corners:
        return median_round(wide, reach)
    sides = np.split(np.roll(wide, -corners[0]), np.array(corners[1:], int) - corners[0])
    even = np.concatenate([_median_along(side, reach) for side in sides])
    return np.roll(even, corners[0])


def _squared(normals: Array) -> tuple[Array, list[int]]:
    """Return normals that go on as they are beside a corner up to its middle, and the middles."""
    reach = round(TURN_MM / STEP_MM)
    along = np.sum(np.roll(normals, reach, axis=0) * np.roll(normals, -reach, axis=0), axis=1)
    made, middles = normals.copy(), list[int]()
    for run in runs_of(along < np.cos(np.radians(TURN_DEG))):
        one, other = normals[run[0] - reach], normals[(run[-1] + reach) % len(normals)]
        if one @ other > np.cos(np.radians(SHARP_DEG)):
            continue
        before, after = np.array_split(run, 2)
        made[before], made[after] = one, other
        middles.append(int(run[len(run) // 2]))
    return made, sorted(middles)


def _median_along(values: Array, reach: int) -> Array:
    """Return the median of so many values on either side of each, the first and last repeated."""
    rows = np.lib.stride_tricks.sliding_window_view(np.pad(values, reach, "edge"), 2 * reach + 1)
    made: Array = np.median(rows, axis=1)
    return made


def sides_taken(
    light: Array,
    steps: Array,
    path: NDArray[np.intp],
    wide: Array,
    places: Array,
    is_face: Mask,
) -> tuple[Array, Array]:
    """Return how far inside each place the face ends, mm: as beside it, and as it seems alone.

    ``wide``: how wide the side is seen at each; ``places``: (n, 2) where the path runs;
    ``is_face``: (n,) where a side of another shade, and its foot, are seen past it.
    """
    taken, alone = np.zeros(len(path)), np.zeros(len(path))
    for run in runs_of(wide > SEEN_SIDE_MM):
        stretches = list[NDArray[np.intp]]()
        for side in _between_corners(run, wide):
            if is_face[side].mean() > LEAST_KNOWN:
                taken[side] = _out_of_line(places[side], wide[side], is_face[side])
            else:
                stretches += _stretches(side)
        shares = [_share(light, steps, path, stretch, wide) for stretch in stretches]
        agreed = _agreed(stretches, shares, wide, places)
        for stretch, own, share in zip(stretches, shares, agreed, strict=True):
            alone[stretch] = wide[stretch] * own
            taken[stretch] = np.minimum(wide[stretch] * share, 2 * REACH_MM)
    return taken, alone


LEAST_KNOWN = 0.25
"""Where the side below is seen past the path over so much of one side of a board, the path is the
face's edge there, and the rest of that side is held against it."""

LINE_BY_MM, LEAST_PLACES = 120.0, 8
"""The line of the face's edge is told by so much of it before a place, by so many places of it."""


def _out_of_line(places: Array, wide: Array, is_face: Mask) -> Array:
    """Return how far inside each place (n, 2) of a side the face ends, mm: 0 but where the edge
    steps out by the side's width from what is known to be the face's, and goes on there.
    """
    chord = places[-1] - places[0]
    ahead = chord / max(1e-9, float(np.linalg.norm(chord)))
    off = places - places[0]
    u, v = off @ ahead, off @ (ahead[1], -ahead[0])
    taken = np.zeros(len(places))
    seed = max(runs_in_line(is_face), key=len)
    for way in (np.arange(seed[0], len(u)), np.arange(seed[-1], -1, -1)):
        taken[way] = _steps_out(u[way], v[way], wide[way], is_face[way])
    return taken


def _steps_out(u: Array, v: Array, wide: Array, is_face: Mask) -> Array:
    """Return how far out of the line of those before them places lie (along, out), where that is
    their side's width, from the first, which is the face's, on; 0 elsewhere.
    """
    taken, line = np.zeros(len(u)), list[int]()
    for i in range(len(u)):
        last = line[-round(LINE_BY_MM / STEP_MM) :]
        known = is_face[i] or len(last) < LEAST_PLACES
        if not known:
            slope, at = np.polyfit(u[last], (v - taken)[last], 1)
            out = float(v[i] - slope * u[i] - at)
            slack = max(NEAR_MM, NEAR_SHARE * float(wide[i]))
            known = abs(out) < slack
            if abs(out - wide[i]) < min(slack, 0.5 * wide[i]):
                taken[i], known = wide[i], True
        if known:
            line.append(i)
    return taken


JUMP_MM = 0.5
"""A side's width changes so much from one place to the next at a corner alone."""


def _between_corners(run: NDArray[np.intp], wide: Array) -> list[NDArray[np.intp]]:
    """Return a run of places cut at corners."""
    return np.split(run, np.flatnonzero(np.abs(np.diff(wide[run])) > JUMP_MM) + 1)


def _stretches(side: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Return places between two corners cut into even stretches."""
    return np.array_split(side, max(1, round(len(side) * STEP_MM / STRETCH_MM)))


def _share(
    light: Array, steps: Array, path: NDArray[np.intp], stretch: NDArray[np.intp], wide: Array
) -> float:
    """Return how far inside a stretch the face ends, as a share of the side's width: about 1, or
    0.
    """
    usual = float(np.median(wide[stretch]))
    shift = inner_line(light, steps, path, stretch, usual, FINE_MM)
    if not shift and usual < NARROW_MM:
        shift = narrow_side(light, path, stretch, usual, FINE_MM)
    return shift / usual


def _agreed(
    stretches: Sequence[NDArray[np.intp]], shares: Sequence[float], wide: Array, places: Array
) -> list[float]:
    """Return shares in which stretches that go on in line with each other are all taken alike.

    A board has one face and one side: where the edge steps in by the side's width it is the face's
    own, where it steps back out the foot of the side.
    """
    found = np.array(shares)
    taken = found > 0
    if not taken.any():
        return list(shares)
    usual = float(np.median(found[taken]))
    for side in _sides_and_levels(stretches, usual * wide, places):
        levels = {level: [k for k, at in side if at == level] for _, level in side}
        if max(levels) - min(levels) > 1:
            continue  # a face and a foot are two lines: more are stones, or the wood's own steps
        mostly = {level: bool(np.mean(taken[some]) >= MOSTLY) for level, some in levels.items()}
        for level, some in levels.items():
            if mostly[level]:
                found[some] = np.where(taken[some], found[some], usual)
            elif any(mostly.values()):
                found[some] = 0.0
    return [float(share) for share in found]


MOSTLY = 0.4
"""Where so many of the stretches show the foot of the side, all are it: of stretches rendered with
one a tenth or so did not show it, and fewer of those without one seemed to."""


def _sides_and_levels(
    stretches: Sequence[NDArray[np.intp]], wide: Array, places: Array
) -> list[list[tuple[int, int]]]:
    """Return for each side its stretches by number, and how many widths each lies outside the
    first, whole ones.
    """
    sides, level = [[(0, 0)]], 0
    for k in range(1, len(stretches)):
        one, other = stretches[k - 1], stretches[k]
        aside = _step(places[one], places[other])
        if aside is None:
            sides.append([])
            level = 0
        else:
            level += round(aside / float(np.median(wide[other])))
        sides[-1].append((k, level))
    return sides


STEP_BY_MM, ALIKE_COSINE = 90.0, 0.95
"""A step between two stretches is told by so much of either; where they turn by more than the
angle of that cosine they are those of two sides."""


def _step(one: Array, other: Array) -> float | None:
    """Return how far, mm, a run of places (n, 2) lies outside the line of the one before it; None
    if they are not those of one side.
    """
    count = round(STEP_BY_MM / STEP_MM)
    first, then = one[-count:], other[:count]
    if min(len(first), len(then)) < 3:
        return None
    ways = [(run[-1] - run[0]) / np.linalg.norm(run[-1] - run[0]) for run in (first, then)]
    if ways[0] @ ways[1] < ALIKE_COSINE:
        return None
    ahead = (ways[0] + ways[1]) / np.linalg.norm(ways[0] + ways[1])
    both = np.concatenate([first, then]) - first[-1]
    is_then = np.arange(len(both)) >= len(first)
    rows = np.column_stack([np.ones(len(both)), both @ ahead, is_then])
    fit = np.linalg.lstsq(rows, both @ (ahead[1], -ahead[0]), rcond=None)[0]
    return float(fit[2])


TOLD_SIDE_MM = 4.0
"""A side seen so wide, if it is taken off here and not there, is told."""


def unlike_stretches(wide: Array, taken: Array) -> list[NDArray[np.intp]]:
    """Return stretches along which a side is taken off, or is not, unlike most of that side."""
    found = list[NDArray[np.intp]]()
    for run in runs_of(wide > TOLD_SIDE_MM):
        off = taken[run] > 0
        found += [run[some] for some in runs_in_line(off != (off.mean() > 0.5))]
    return found
