"""A board's edge to a millimetre: the best line through a band about its rough outline.

Along the band's normals each place is told to be inside or outside by its look; the edge is the
path once round that has most of the inside within and most of the outside without, and does not
jump (dynamic programming: Bellman 1957). Where the board's side is seen below its face, the face
ends at the inner of two edges: how far they lie apart follows from the board's thickness and the
eye.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.photo.board_corners import runs_in_line
from nesting.photo.board_sides import smooth_sides
from nesting.photo.edge_lines import (
    FINE_BROAD_MM,
    NARROW_MM,
    inner_line,
    narrow_side,
    steps_along,
    summed_round,
    told_by_lines,
)
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

STEP_MM, FINE_MM, REACH_MM = 3.0, 0.5, 24.0
"""Along the outline, along a normal, and how far on either side."""

WINDOW_MM = 220.0
"""Stretch of outline on which inside and outside are taken to look alike."""

LOOKS = 32

MOST_JUMP = 4
"""Fine steps that the edge may move by from one normal to the next."""

STIFF, SUPPLE, LIMP = 6.0, 1.5, 0.6
"""Nats that a step costs, times its square: for the edge, which bridges a bite that a stain may be,
and for one that goes into every bite, so that none is passed over in silence."""
MOST_TOLD = 1.5
"""Nats that one place may tell at most: no single look decides."""

SEEN_SIDE_MM = 1.0
"""A side seen this narrow moves nothing that counts."""


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
    smooth = _smoothed(even, 4.0)
    ring_mm = resampled(smooth, STEP_MM)
    return ring_mm if _area(ring_mm) > 0 else ring_mm[::-1]


def resampled(ring: Array, step: float) -> Array:
    """Return a closed ring with points so far apart."""
    closed = np.concatenate([ring, ring[:1]])
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    keep = np.concatenate([[True], np.diff(far) > 1e-9])
    at = np.linspace(0, far[-1], max(12, int(far[-1] / step)), endpoint=False)
    return np.column_stack([np.interp(at, far[keep], closed[keep, axis]) for axis in (0, 1)])


def _area(ring: Array) -> float:
    x, y = ring.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _smoothed(ring: Array, sigma: float) -> Array:
    """Return a closed ring smoothed along itself by so many of its steps."""
    reach = int(4 * sigma)
    weight = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    weight /= weight.sum()
    wrapped = np.concatenate([ring[-reach:], ring, ring[:reach]])
    return np.column_stack([np.convolve(wrapped[:, axis], weight, "valid") for axis in (0, 1)])


def normals_of(ring: Array, over: int = 3) -> Array:
    """Return the (n, 2) unit normals of an anticlockwise ring, outward."""
    ahead = np.roll(ring, -over, axis=0) - np.roll(ring, over, axis=0)
    ahead /= np.maximum(1e-9, np.linalg.norm(ahead, axis=1, keepdims=True))
    return np.column_stack([ahead[:, 1], -ahead[:, 0]])


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
        looks, light, hidden = _band(plan, ring, normals, offsets)
        steps = steps_along(light, FINE_MM, STEP_MM)
        lines = told_by_lines(steps, hidden, STEP_MM)
        gain = _gain(looks, offsets, hidden, lines)
        loose = _on(ring, bridges)
        gain[loose] = 0.0
        lines[loose] -= PULL * offsets**2
        path, margin = _best_round(gain, lines)
        if turn == 2 or np.max(np.abs(offsets[path])) < 0.6 * REACH_MM:
            break
        path = np.where(loose, path, _best_round(gain, lines, SUPPLE)[0])
        ring = resampled(_smoothed(ring + offsets[path][:, None] * normals, 3.0), STEP_MM)
    limp = np.where(loose, path, _best_round(gain, 0 * lines, LIMP)[0])
    bites = _bites(ring, normals, offsets, path, limp)
    path = _steepest(light, path)
    side = _sides(ring, normals, eyes, thickness_mm, height_mm)
    steps = steps_along(light, FINE_MM, STEP_MM, FINE_BROAD_MM)
    wide = side
    path, side = _inner(light, steps, path, wide)
    smooth = _straightened(offsets[path] * 1.0)
    blind = hidden[np.arange(len(path)), path]
    places = ring + smooth[:, None] * normals
    unlike = tuple(places[run] for run in _unlike(wide, side))
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


def seen_at(plan: PlanView, places: Array) -> tuple[NDArray[np.float32], Mask]:
    """Return (n, m, 4) colours and roughness at places (n, m, 2), and where nothing is known."""
    cv2 = opencv()
    cells = plan.to_cells(places.reshape(-1, 2)).reshape(*places.shape[:2], 2)
    low = np.maximum(0, np.floor(cells.min(axis=(0, 1))).astype(int) - 12)
    high = np.maximum(low + 1, np.ceil(cells.max(axis=(0, 1))).astype(int) + 12)
    box = (slice(low[1], high[1]), slice(low[0], high[0]))
    lab = cv2.cvtColor(plan.picture[box], cv2.COLOR_BGR2LAB)
    soft = cv2.GaussianBlur(lab, (0, 0), max(0.5, 0.7 / plan.mm))
    light = lab[..., 0]
    rough = cv2.blur(
        cv2.absdiff(light, cv2.blur(light, (int(7 / plan.mm) | 1,) * 2)),
        (int(4 / plan.mm) | 1,) * 2,
    )
    where = (cells - low).astype(np.float32)
    seen = cv2.remap(
        np.dstack([soft, rough]), where, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    blind = ~plan.seen[box] | plan.paper[box]
    hidden = cv2.remap(blind.astype(np.uint8), where, None, cv2.INTER_NEAREST, borderValue=1) > 0
    return seen, hidden


def _band(
    plan: PlanView, ring: Array, normals: Array, offsets: Array
) -> tuple[NDArray[np.intp], Array, Mask]:
    """Return (n, m) looks and (n, m, 3) colours of the band, and where nothing is known."""
    cv2 = opencv()
    places = ring[:, None, :] + offsets[None, :, None] * normals[:, None, :]
    seen, hidden = seen_at(plan, places)
    features = seen.astype(np.float32)
    features[..., 0] *= 0.7
    features[..., 1:3] *= 1.8
    flat = features.reshape(-1, 4)
    cv2.setRNGSeed(7)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 6, 0.5)
    _, _, centres = cv2.kmeans(
        flat[:: max(1, len(flat) // 3000)], LOOKS, None, stop, 1, cv2.KMEANS_PP_CENTERS
    )
    near = np.argmin(np.sum(centres**2, axis=1) - 2 * flat @ centres.T, axis=1)
    return near.reshape(places.shape[:2]), seen[..., :3].astype(np.float64), hidden


def _gain(looks: NDArray[np.intp], offsets: Array, hidden: Mask, lines: Array) -> Array:
    """Return (n, m) what each place tells for being inside (over 0) or outside, nats."""
    count = len(looks)
    window = max(3, int(WINDOW_MM / STEP_MM) // 2)
    told = np.zeros(looks.shape)
    path = np.full(count, len(offsets) // 2)
    for turn in range(2):
        clear = 9.0 if turn == 0 else 3.0
        rel = offsets[None, :] - offsets[path][:, None]
        sides = []
        for is_in in ((rel < -clear), (rel > clear)):
            weight = (is_in & ~hidden).astype(float)
            hist = np.zeros((count, LOOKS))
            np.add.at(
                hist, (np.repeat(np.arange(count), looks.shape[1]), looks.ravel()), weight.ravel()
            )
            whole = hist.sum(axis=0)
            near = summed_round(hist, window)
            whole = whole / max(1.0, whole.sum())
            sides.append(
                (near + 60 * whole + 0.5) / (near.sum(axis=1, keepdims=True) + 60 + 0.5 * LOOKS)
            )
        ratio = np.log(sides[0]) - np.log(sides[1])
        told = np.clip(np.take_along_axis(ratio, looks, axis=1), -MOST_TOLD, MOST_TOLD)
        told[hidden] = 0.0
        if turn < 1:
            score = np.cumsum(told, axis=1) - 0.5 * told
            path = best_path(score + lines, None, STIFF)
    return told


def _best_round(gain: Array, lines: Array, stiff: float = STIFF) -> tuple[NDArray[np.intp], Array]:
    """Return for each normal the place of the edge, and how much worse it would be 4 mm off."""
    looks = np.cumsum(gain, axis=1) - 0.5 * gain
    score = looks + lines
    score = score - score.max(axis=1, keepdims=True)
    path = best_path(score, None, stiff)
    path = best_path(score, int(path[len(path) // 2]), stiff)
    # Looks alone, or with lines: a line that lies elsewhere makes no clear edge a faint one.
    return path, np.maximum(_margin(looks, path), _margin(score, path))


def _margin(score: Array, path: NDArray[np.intp]) -> Array:
    off = np.abs(np.arange(score.shape[1])[None, :] - path[:, None]) * FINE_MM
    other: Array = np.where((off > 4.0), score, -np.inf).max(axis=1)
    return score[np.arange(len(path)), path] - other


def best_path(score: Array, start: int | None, stiff: float) -> NDArray[np.intp]:
    """Return the path of most score; begun half way round so that its seam is well known."""
    count, wide = score.shape
    half = count // 2 if start is not None else 0
    rows = np.roll(score, -half, axis=0)
    jumps = np.arange(-MOST_JUMP, MOST_JUMP + 1)
    cost = stiff * jumps.astype(float) ** 2
    best = rows[0].copy()
    if start is not None:
        best = np.full(wide, -1e9)
        best[start] = 0.0
    came = np.zeros((count, wide), np.intp)
    padded = np.full(wide + 2 * MOST_JUMP, -1e9)
    ahead = np.lib.stride_tricks.sliding_window_view(padded, 2 * MOST_JUMP + 1)
    every = np.arange(wide)
    for i in range(1, count):
        padded[MOST_JUMP:-MOST_JUMP] = best
        options = ahead - cost
        choice = options.argmax(axis=1)
        best = options[every, choice] + rows[i]
        came[i] = choice
    at = int(np.argmax(best)) if start is None else start
    path = np.empty(count, np.intp)
    for i in range(count - 1, -1, -1):
        path[i] = at
        at = int(np.clip(at + came[i, at] - MOST_JUMP, 0, wide - 1))
    return np.roll(path, half)


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


def _sides(
    ring: Array, normals: Array, eyes: Array, thickness_mm: float, height_mm: float
) -> Array:
    """Return how wide the side below the face is seen outside each place, mm of the face's
    plane.
    """
    nearest = np.argmin(np.linalg.norm(ring[:, None, :] - eyes[None, :, :2], axis=2), axis=1)
    eye = eyes[nearest]
    toward = np.sum((eye[:, :2] - ring) * normals, axis=1)
    share = thickness_mm / (eye[:, 2] - height_mm + thickness_mm)
    made: Array = np.maximum(0.0, toward * share)
    return made


def _inner(
    light: Array, steps: Array, path: NDArray[np.intp], side: Array
) -> tuple[NDArray[np.intp], Array]:
    """Return the path moved inward where the side was taken for face, and by how much."""
    moved, taken = path.copy(), np.zeros(len(path))
    for stretch in _stretches(side > SEEN_SIDE_MM):
        wide = float(np.median(side[stretch]))
        shift = inner_line(light, steps, path, stretch, wide, FINE_MM)
        if not shift and wide < NARROW_MM:
            shift = narrow_side(light, path, stretch, wide, FINE_MM)
        if shift:
            inward = np.minimum(side[stretch] * shift / wide, 2 * REACH_MM) / FINE_MM
            fine = np.round(inward).astype(int)
            moved[stretch] = np.maximum(0, path[stretch] - fine)
            taken[stretch] = fine * FINE_MM
    return moved, taken


TOLD_SIDE_MM = 4.0
"""A side seen so wide, if it is taken off here and not there, is told."""


def _unlike(wide: Array, taken: Array) -> list[NDArray[np.intp]]:
    """Return stretches along which a side is taken off, or is not, unlike most of that side."""
    found = list[NDArray[np.intp]]()
    for run in runs_of(wide > TOLD_SIDE_MM):
        off = taken[run] > 0
        found += [run[some] for some in runs_in_line(off != (off.mean() > 0.5))]
    return found


def _stretches(flags: Mask) -> list[NDArray[np.intp]]:
    """Return runs of places that are flagged, cut into lengths of some 300 mm; once round."""
    return [
        piece
        for run in runs_of(flags)
        for piece in np.array_split(run, max(1, round(len(run) * STEP_MM / 300.0)))
    ]


def runs_of(flags: Mask) -> list[NDArray[np.intp]]:
    """Return runs of places that are flagged, once round."""
    if flags.all():
        return [np.arange(len(flags))]
    order = np.roll(np.arange(len(flags)), -int(np.argmin(flags)))
    turned = np.concatenate([[0], flags[order].astype(int), [0]])
    starts, ends = np.flatnonzero(np.diff(turned) == 1), np.flatnonzero(np.diff(turned) == -1)
    return [order[start:end] for start, end in zip(starts, ends, strict=True)]


def _straightened(offset: Array) -> Array:
    """Return offsets with their steps of half a millimetre smoothed out, jumps of corners kept."""
    reach = 4
    wrapped = np.concatenate([offset[-reach:], offset, offset[:reach]])
    rows = np.lib.stride_tricks.sliding_window_view(wrapped, 2 * reach + 1)
    middle = np.median(rows, axis=1)
    wrapped = np.concatenate([middle[-2:], middle, middle[:2]])
    return np.convolve(wrapped, np.full(5, 0.2), "valid")
