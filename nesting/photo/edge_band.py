"""A board's edge to a millimetre: the best line through a band about its rough outline.

Where the board's side is seen below its face, the face ends at the inner of two edges: how far
they lie apart follows from the board's thickness and the eye.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.photo.band import (
    FINE_MM,
    REACH_MM,
    STEP_MM,
    SUPPLE,
    best_round,
    gain_of,
    limp_path,
    looks_in,
    pairs_of,
    score_of,
)
from nesting.photo.board_sides import smooth_sides
from nesting.photo.edge_lines import (
    FINE_BROAD_MM,
    steps_along,
    summed_round,
    told_by_lines,
)
from nesting.photo.fair_ring import on_fair_course
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView
from nesting.photo.rings import (
    area_of,
    median_round,
    normals_of,
    resampled,
    runs_of,
    smoothed,
)
from nesting.photo.side_below import side_widths, sides_taken, unlike_stretches


@dataclass(frozen=True)
class Edge:
    """The (n, 2) places of a board's edge, anticlockwise, and what is doubtful about them.

    ``margin``: (n,) how sure each place is: what the looks tell for it, nats a fine step, over
    the best place well off it.
    """

    ring: Array
    margin: Array
    hidden: Mask
    """Where paper, or the end of the picture, hides what would tell."""
    side_mm: Array
    """How much of the side below the face was seen and taken off."""
    bites: tuple[Array, ...]
    """Rings inside the edge that look like ground: notches, or stains."""
    cut: tuple[tuple[float, Array], ...] = ()
    """How far corners are cut off, or look like the ground, and (n, 2) places about each."""
    unlike: tuple[Array, ...] = ()
    """Stretches (n, 2) in which the side was taken off, or was not, unlike beside them."""
    burnt: Mask = field(default_factory=lambda: np.zeros(0, bool))
    """Where light has burnt out wood and ground alike."""
    places: Array = field(default_factory=lambda: np.empty((0, 2)))
    """(n, 2) where on the edge what is told of places was found; ``ring`` is smoother."""


def outline_of(cells: Mask, to_mm: object) -> Array:
    """Return the (n, 2) ring around the largest patch of cells, evenly stepped, anticlockwise."""
    cv2 = opencv()
    contours, _ = cv2.findContours(cells.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    ring = max(contours, key=cv2.contourArea)[:, 0, :].astype(np.float64)
    mm = to_mm(ring)  # type: ignore[operator]
    even = resampled(mm, STEP_MM)
    smooth = smoothed(even, 4.0)
    ring_mm = resampled(smooth, STEP_MM)
    return ring_mm if area_of(ring_mm) > 0 else ring_mm[::-1]


def edge_of(
    plan: PlanView,
    ring: Array,
    eyes: Array,
    thickness_mm: float,
    height_mm: float,
    bridges: Sequence[Array] = (),
) -> Edge:
    """Return the edge of a board's face near a rough ring; ``eyes``: (p, 3) of each picture.

    ``bridges``: stretches of the ring where looks are not to be trusted, since the wood looks like
    the ground: lines alone move the edge there.
    """
    offsets = np.arange(-REACH_MM, REACH_MM + 1e-9, FINE_MM)
    ring = on_fair_course(ring)
    for turn in range(3):
        normals = normals_of(ring)
        looks, light, hidden = looks_in(plan, ring, normals, offsets)
        steps = steps_along(light, FINE_MM, STEP_MM)
        lines = told_by_lines(steps, hidden, STEP_MM)
        gain = gain_of(looks, offsets, hidden, lines)
        burnt = _burnt_out(light, offsets)
        loose = _on(ring, bridges) | burnt
        gain[loose] = 0.0
        lines[loose] -= PULL * offsets**2
        wide = side_widths(ring, normals, eyes, thickness_mm, height_mm)
        pairs = pairs_of(light, lines, wide)
        scores = score_of(gain, lines, wide, pairs)
        path, margin = best_round(*scores, wide)
        if turn == 2 or (turn and np.max(np.abs(offsets[path])) < 0.6 * REACH_MM):
            break
        path = np.where(loose, path, best_round(*scores, wide, SUPPLE)[0])
        found = smoothed(ring + offsets[path][:, None] * normals, 3.0)
        ring = on_fair_course(resampled(found, STEP_MM))
    limp = np.where(loose, path, limp_path(gain))
    bites = _bites(ring, normals, offsets, path, limp)
    is_face = _lasting(pairs[np.arange(len(path)), path] > IS_FACE)
    path = _steepest(light, path, np.where(is_face, wide, 0.0))
    steps = steps_along(light, FINE_MM, STEP_MM, FINE_BROAD_MM)
    found = ring + offsets[path][:, None] * normals
    side, alone = sides_taken(light, steps, path, wide, found, is_face)
    path = np.maximum(0, path - np.round(side / FINE_MM).astype(int))
    smooth = _straightened(offsets[path] * 1.0)
    blind = hidden[np.arange(len(path)), path]
    places = ring + smooth[:, None] * normals
    unlike = tuple(places[run] for run in unlike_stretches(wide, alone))
    sides = smooth_sides(resampled(places, STEP_MM), STEP_MM, plan)
    return Edge(
        sides.ring, margin, blind, side, (*bites, *sides.bites), sides.cut, unlike, burnt, places
    )


BURNT_LIGHT, BURNT_BESIDE_MM, BURNT_SHARE = 250.0, 12.0, 0.6
"""As light as this, of 255, is burnt out; over how much on either side of the edge that is asked,
and what part of it must be so on both: white paint in the sun beside dark ground has an edge."""


def _burnt_out(light: Array, offsets: Array) -> Mask:
    """Return (n,) where light has burnt out what lies on both sides of the band's middle."""
    white = light[..., 0] >= BURNT_LIGHT
    sides = (
        (offsets < 0) & (offsets > -BURNT_BESIDE_MM),
        (offsets > 0) & (offsets < BURNT_BESIDE_MM),
    )
    made: Mask = np.minimum(*(white[:, side].mean(axis=1) for side in sides)) > BURNT_SHARE
    return made


PULL = 0.02
"""Nats a mm2 by which a bridge holds the edge: a line well off it must tell much."""

BESIDE_MM = 10.0
"""So near a bridge a place lies by it."""


def _on(ring: Array, bridges: Sequence[Array]) -> Mask:
    """Return which places of a ring lie by a bridge."""
    if not bridges:
        return np.zeros(len(ring), bool)
    lines = shapely.MultiLineString([shapely.LineString(line) for line in bridges])
    return np.asarray(shapely.distance(shapely.points(ring), lines) < BESIDE_MM)


BITE_MM, BITE_LONG_MM = 4.0, 9.0
"""A bite less deep, or less long, is within what the edge is known to."""


def _bites(
    ring: Array, normals: Array, offsets: Array, path: NDArray[np.intp], limp: NDArray[np.intp]
) -> tuple[Array, ...]:
    """Return rings between the edge and where the wood seems to end, where that is well inside."""
    deep = offsets[path] - offsets[limp]
    found = []
    for run in runs_of(deep > BITE_MM):
        if len(run) * STEP_MM >= BITE_LONG_MM:
            outer = ring[run] + offsets[path[run]][:, None] * normals[run]
            inner = ring[run] + offsets[limp[run]][:, None] * normals[run]
            found.append(np.concatenate([outer, inner[::-1]]))
    return tuple(found)


IS_FACE, LASTS_MM = 0.5, 60.0
"""From how clear a pair of lines on the path is the face's edge, if it is so over so much of it:
stones beside the foot make lines too, but short ones."""


def _lasting(flags: Mask) -> Mask:
    """Return flags without runs that are no longer than that."""
    made = np.zeros(len(flags), bool)
    for run in runs_of(flags):
        made[run] = len(run) * STEP_MM > LASTS_MM
    return made


STEEPEST_WITHIN_MM = 2.5

BESIDE_EDGE_MM, WITHIN_SIDE = (4.0, 16.0), (0.2, 0.8)
"""What lies inside and outside an edge is asked from so far to so far off it; where a side is seen
past it, between such shares of its width."""


def _steepest(light: Array, path: NDArray[np.intp], side_mm: Array) -> NDArray[np.intp]:
    """Return the path moved to where colour goes over from inside to outside fastest.

    ``side_mm``: (n,) how wide a side is seen past it, 0 where none is.
    """
    wide = light.shape[1]
    share = np.linspace(0.0, 1.0, 25)
    inner = -np.add.outer(0 * side_mm, BESIDE_EDGE_MM[0] + np.ptp(BESIDE_EDGE_MM) * share)
    past = side_mm[:, None] * (WITHIN_SIDE[0] + np.ptp(WITHIN_SIDE) * share)
    outer = np.where(side_mm[:, None] > 0, past, -inner)

    def mean(off_mm: Array) -> Array:
        """Return (n, 3) the mean colours at (n, m) distances off the path, even along it."""
        at = np.clip(path[:, None] + np.round(off_mm / FINE_MM).astype(int), 0, wide - 1)
        return summed_round(np.take_along_axis(light, at[..., None], axis=1).mean(axis=1), 12)

    axis = mean(outer) - mean(inner)
    axis /= np.maximum(1e-6, np.linalg.norm(axis, axis=1, keepdims=True))
    reach = int(STEEPEST_WITHIN_MM / FINE_MM)
    steps = np.arange(-reach - 2, reach + 3)
    at = np.clip(path[:, None] + steps, 0, wide - 1)
    profile = np.sum(np.take_along_axis(light, at[..., None], axis=1) * axis[:, None, :], axis=2)
    slope = summed_round(profile[:, 4:] - profile[:, :-4], 2)
    slope = slope - 0.02 * np.abs(slope).max(axis=1, keepdims=True) * np.abs(steps[2:-2])
    moved: NDArray[np.intp] = np.clip(path + steps[2:-2][np.argmax(slope, axis=1)], 0, wide - 1)
    return moved


def _straightened(offset: Array) -> Array:
    """Return offsets with their steps of half a millimetre smoothed out, jumps of corners kept."""
    middle = median_round(offset, 4)
    wrapped = np.concatenate([middle[-2:], middle, middle[:2]])
    return np.convolve(wrapped, np.full(5, 0.2), "valid")
