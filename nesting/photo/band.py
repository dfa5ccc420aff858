"""The band about a rough edge: what is seen at each place of it, what that tells, the best path.

Along the band's normals each place is told to be inside or outside by its look; the edge is the
path once round that has most of the inside within and most of the outside without, and does not
jump (dynamic programming: Bellman 1957).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.edge_lines import shade_seen, summed_round
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

STEP_MM, FINE_MM, REACH_MM = 3.0, 0.5, 24.0
"""Along the outline, along a normal, and how far on either side."""

WINDOW_MM = 220.0
"""Stretch of outline on which inside and outside are taken to look alike."""

LOOKS = 32
LOOK_WEIGHTS = np.array([0.7, 1.8, 1.8, 2.0], np.float32)
"""Of lightness, the two colours and how rough it is: light differs by shadow alone, and planed wood
by soil of its own colour in roughness alone."""

MOST_JUMP = 4
"""Fine steps that the edge may move by from one normal to the next."""

STIFF, SUPPLE, LIMP = 6.0, 1.5, 0.6
"""Nats that a step costs, times its square: for the edge, which bridges a bite that a stain may be,
and for one that goes into every bite, so that none is passed over in silence."""

MOST_TOLD = 1.5
"""Nats that one place may tell at most: no single look decides."""


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


def looks_in(
    plan: PlanView, ring: Array, normals: Array, offsets: Array
) -> tuple[NDArray[np.intp], Array, Mask]:
    """Return (n, m) looks and (n, m, 3) colours of the band, and where nothing is known."""
    cv2 = opencv()
    places = ring[:, None, :] + offsets[None, :, None] * normals[:, None, :]
    seen, hidden = seen_at(plan, places)
    features = seen.astype(np.float32)
    features *= LOOK_WEIGHTS
    flat = features.reshape(-1, 4)
    cv2.setRNGSeed(7)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 6, 0.5)
    _, _, centres = cv2.kmeans(
        flat[:: max(1, len(flat) // 3000)], LOOKS, None, stop, 1, cv2.KMEANS_PP_CENTERS
    )
    near = np.argmin(np.sum(centres**2, axis=1) - 2 * flat @ centres.T, axis=1)
    return near.reshape(places.shape[:2]), seen[..., :3].astype(np.float64), hidden


def gain_of(looks: NDArray[np.intp], offsets: Array, hidden: Mask, lines: Array) -> Array:
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


LEAST_SIDE_MM = 3.0
"""A side seen narrower than this shows one line, not two."""

PAIR_NATS, FOOT_NATS = 14.0, 10.0
"""What a side of another shade, with the line of its foot at its far side, tells for the face
ending where it begins: more than a line tells, since the foot's is often the stronger of the two.
And from how many nats on the foot is seen for that."""


def score_of(
    gain: Array, lines: Array, wide_mm: Array, pairs: Array | None = None
) -> tuple[Array, Array]:
    """Return (n, m) what looks, and what looks and lines, tell for the face ending at each place.

    ``wide_mm``: (n,) how wide the side below the face is seen outside it. That is wood in a light
    of its own, and tells neither for inside nor for outside.
    ``pairs``: as ``pairs_of`` gives them.
    """
    looks = np.cumsum(gain, axis=1) - 0.5 * gain
    looks = (looks + _past_side(looks, wide_mm)) / 2
    return looks, looks + lines if pairs is None else looks + lines + PAIR_NATS * pairs


def pairs_of(light: Array, lines: Array, wide_mm: Array) -> Array:
    """Return (n, m) 0 to 1 how clearly a side of another shade is seen past each place, and its
    foot.
    """
    seen = _side_cells(wide_mm) > 0
    if not seen.any():
        return np.zeros(lines.shape)
    shades = shade_seen(light, float(np.median(wide_mm[seen])), FINE_MM, STEP_MM)
    made: Array = shades * np.clip(_past_side(lines, wide_mm) / FOOT_NATS, 0.0, 1.0)
    return made * seen[:, None]


def _past_side(rows: Array, wide_mm: Array) -> Array:
    """Return what (n, m) rows hold as much farther out as the side below is seen wide."""
    at = np.arange(rows.shape[1]) + _side_cells(wide_mm)[:, None]
    return np.take_along_axis(rows, np.minimum(at, rows.shape[1] - 1), axis=1)


def _side_cells(wide_mm: Array) -> NDArray[np.intp]:
    """Return how wide sides are seen, in fine steps; 0 where that shows no two lines."""
    return np.where(wide_mm >= LEAST_SIDE_MM, np.round(wide_mm / FINE_MM), 0).astype(np.intp)


def best_round(
    looks: Array, score: Array, wide_mm: Array, stiff: float = STIFF
) -> tuple[NDArray[np.intp], Array]:
    """Return for each normal the place of the edge, and how much worse it would be 4 mm off, past
    the side that is seen.

    ``looks``, ``score``: (n, m) as ``score_of`` gives them.
    """
    level = score - score.max(axis=1, keepdims=True)
    path = best_path(level, None, stiff)
    path = best_path(level, int(path[len(path) // 2]), stiff)
    # Looks alone, or with lines: a line that lies elsewhere makes no clear edge a faint one.
    return path, np.maximum(_margin(looks, path, wide_mm), _margin(level, path, wide_mm))


def limp_path(gain: Array) -> NDArray[np.intp]:
    """Return for each normal where the wood seems to end by looks alone, into every bite."""
    plain = np.zeros(len(gain))
    return best_round(*score_of(gain, np.zeros(gain.shape), plain), plain, LIMP)[0]


def _margin(score: Array, path: NDArray[np.intp], wide_mm: Array) -> Array:
    off = np.abs(np.arange(score.shape[1])[None, :] - path[:, None]) * FINE_MM
    clear = 4.0 + FINE_MM * _side_cells(wide_mm)
    other: Array = np.where((off > clear[:, None]), score, -np.inf).max(axis=1)
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
