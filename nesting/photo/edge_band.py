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
    LIMP,
    REACH_MM,
    STEP_MM,
    SUPPLE,
    best_round,
    gain_of,
    looks_in,
)
from nesting.photo.board_sides import smooth_sides
from nesting.photo.edge_lines import (
    FINE_BROAD_MM,
    steps_along,
    summed_round,
    told_by_lines,
)
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
    for turn in range(3):
        normals = normals_of(ring)
        looks, light, hidden = looks_in(plan, ring, normals, offsets)
        steps = steps_along(light, FINE_MM, STEP_MM)
        lines = told_by_lines(steps, hidden, STEP_MM)
        gain = gain_of(looks, offsets, hidden, lines)
        loose = _on(ring, bridges)
        gain[loose] = 0.0
        lines[loose] -= PULL * offsets**2
        path, margin = best_round(gain, lines)
        if turn == 2 or np.max(np.abs(offsets[path])) < 0.6 * REACH_MM:
            break
        path = np.where(loose, path, best_round(gain, lines, SUPPLE)[0])
        ring = resampled(smoothed(ring + offsets[path][:, None] * normals, 3.0), STEP_MM)
    limp = np.where(loose, path, best_round(gain, 0 * lines, LIMP)[0])
    bites = _bites(ring, normals, offsets, path, limp)
    path = _steepest(light, path)
    wide = side_widths(ring, normals, eyes, thickness_mm, height_mm)
    steps = steps_along(light, FINE_MM, STEP_MM, FINE_BROAD_MM)
    side, alone = sides_taken(light, steps, path, wide, ring + offsets[path][:, None] * normals)
    path = np.maximum(0, path - np.round(side / FINE_MM).astype(int))
    smooth = _straightened(offsets[path] * 1.0)
    blind = hidden[np.arange(len(path)), path]
    places = ring + smooth[:, None] * normals
    unlike = tuple(places[run] for run in unlike_stretches(wide, alone))
    sides = smooth_sides(resampled(places, STEP_MM), STEP_MM, plan)
    return Edge(sides.ring, margin, blind, side, (*bites, *sides.bites), sides.cut, unlike, places)


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


STEEPEST_WITHIN_MM = 2.5


def _steepest(light: Array, path: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the path moved to where colour goes over from inside to outside fastest."""
    wide = light.shape[1]
    inner, outer = (
        (np.arange(4, 17) / FINE_MM).astype(int) * -1,
        (np.arange(4, 17) / FINE_MM).astype(int),
    )

    def mean(steps: NDArray[np.intp]) -> Array:
        at = np.clip(path[:, None] + steps, 0, wide - 1)
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
