"""Sharp lines along a board's edge: where colour goes over at one step, however dark its shadow.

What a place looks like says roughly where the wood ends, a shadow that looks like the wood moves
it by its width. A sawn edge is a sharp line on end, a shadow's a soft one, and stones and leaves
have none that runs along. Where the board's side is seen below its face there are two such lines,
as far apart as thickness and eye say: the face ends at the inner one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.plan_view import Array, Mask

APART_MM, BROAD_MM, FINE_BROAD_MM = 0.5, 2.5, 1.5
"""A step is what colours differ by from so much to so much on either side of a place; the finer
where two lines lie side by side."""

ALONG_MM = 15.0
"""Colours are taken together so far either way along the edge: what is no line there evens out."""

TEXTURE_MM = 240.0
"""How strong steps are that mean nothing is asked over so much of the edge."""

WEIGHTS = (0.7, 1.8, 1.8)
"""Of lightness and the two colours: light differs by shadow alone."""

LINE_NATS, LEAST_TIMES, MOST_TIMES = 12.0, 2.0, 7.0
"""What a line tells at most, and how many times the usual step it takes for nothing and for that:
set on rendered pictures of the seeds that DEVELOPERS.md names for it."""


def steps_along(light: Array, fine_mm: float, step_mm: float, broad_mm: float = BROAD_MM) -> Array:
    """Return (n, m) how far colours differ across each place of a band (n, m, 3), closed."""
    near, far = max(1, round(APART_MM / fine_mm)), round(broad_mm / fine_mm)
    count = far - near + 1
    total = np.cumsum(light * WEIGHTS, axis=1)
    total = np.concatenate([np.zeros_like(total[:, :1]), total], axis=1)
    means = (total[:, count:] - total[:, :-count]) / count
    # Row i of means is the mean of places i to i + count - 1.
    wide = light.shape[1]
    at = np.arange(far, wide - far)
    step = means[:, at + near] - means[:, at - far]
    along = summed_round(step.reshape(len(step), -1), round(ALONG_MM / step_mm))
    along = along.reshape(step.shape) / (2 * round(ALONG_MM / step_mm) + 1)
    made = np.zeros(light.shape[:2])
    made[:, far : wide - far] = np.linalg.norm(along, axis=2)
    return made


def told_by_lines(steps: Array, hidden: Mask, step_mm: float) -> Array:
    """Return (n, m) what lines tell for each place being the edge, nats."""
    window = round(TEXTURE_MM / step_mm)
    usual = summed_round(np.median(steps, axis=1)[:, None], window) / (2 * window + 1)
    times = steps / (usual + 1.0)
    told = LINE_NATS * np.clip((times - LEAST_TIMES) / (MOST_TIMES - LEAST_TIMES), 0.0, 1.0)
    return np.where(hidden, 0.0, told)


SHADE_ALONG_MM = 90.0
"""A side is of another shade than its face all along it: colours are taken together so far either
way."""

FACE_SHARE, NEAR_HALF, FAR_HALF = (-0.7, -0.1), (0.15, 0.45), (0.55, 0.85)
"""Shares of a side's width, out from where it begins, in which face and side are looked at. The
side differs in both its halves: a line in the grain is narrower."""

SHADE_TIMES = (2.0, 4.0)
"""How many times as far as usual on the face the shades of face and side differ: from the first on
that is seen, from the second on clearly."""


def shade_seen(light: Array, wide_mm: float, fine_mm: float, step_mm: float) -> Array:
    """Return (n, m) 0 to 1 how clearly a face may end at each place of a band (n, m, 3), a side of
    another shade, ``wide_mm`` wide, past it.
    """
    window = min(round(SHADE_ALONG_MM / step_mm), (len(light) - 1) // 2)
    along = summed_round((light * WEIGHTS).reshape(len(light), -1), window)
    even = along.reshape(light.shape) / (2 * window + 1)
    cells = wide_mm / fine_mm
    face, near, far = (
        _mean_over(even, cells, *share) for share in (FACE_SHARE, NEAR_HALF, FAR_HALF)
    )
    alike = np.sum((near - face) * (far - face), axis=2)
    apart = np.sqrt(np.maximum(alike, 0.0))
    on_face = slice(
        round(0.7 * cells), max(round(0.7 * cells) + 4, light.shape[1] // 2 - round(2 * cells))
    )
    usual = np.median(apart[:, on_face], axis=1, keepdims=True)
    low, high = SHADE_TIMES
    made: Array = np.clip((apart / (usual + 1.0) - low) / (high - low), 0.0, 1.0)
    return made


def _mean_over(rows: Array, cells: float, low: float, high: float) -> Array:
    """Return (n, m, 3) the mean from one share of so many cells to another past each place."""
    first, last = round(low * cells), max(round(low * cells), round(high * cells))
    at = np.arange(rows.shape[1])
    total = np.cumsum(np.pad(rows, ((0, 0), (1, 0), (0, 0))), axis=1)
    begin, end = (np.clip(at + step, 0, rows.shape[1]) for step in (first, last + 1))
    count = np.maximum(1, end - begin)[None, :, None]
    made: Array = (total[:, end] - total[:, begin]) / count
    return made


def summed_round(rows: Array, window: int) -> Array:
    """Return sums over so many rows on either side, once round."""
    window = min(window, (len(rows) - 1) // 2)
    wrapped = np.concatenate([rows[-window:], rows, rows[:window]])
    total = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(wrapped, axis=0)])
    made: Array = total[2 * window + 1 :] - total[: -2 * window - 1]
    return made


NEAR_MM, NEAR_SHARE = 1.5, 0.2
"""How far off its expected place a side's other line may lie: mm, or a part of the side's width."""

LEAST_LINE = 1.8
"""How many times as strong as steps within the face the line must be that ends it."""


def inner_line(
    light: Array,
    steps: Array,
    path: NDArray[np.intp],
    stretch: NDArray[np.intp],
    wide: float,
    fine_mm: float,
) -> float:
    """Return how far inside a stretch of edge the face ends, mm; 0 where the edge is the face's.

    ``wide``: how wide the side below the face is seen there, by thickness and eye.
    """
    reach = round((wide * (1 + NEAR_SHARE) + NEAR_MM) / fine_mm)
    offsets = np.arange(-2 * reach - 8, reach + 1)
    at = path[stretch][:, None] + offsets
    inside = (at >= 0) & (at < steps.shape[1])
    seen = np.take_along_axis(steps[stretch], np.clip(at, 0, steps.shape[1] - 1), axis=1)
    profile = np.array(
        [
            np.median(column[use]) if use.any() else 0.0
            for column, use in zip(seen.T, inside.T, strict=True)
        ]
    )
    mm = np.asarray(offsets * fine_mm, dtype=np.float64)
    slack = max(NEAR_MM, NEAR_SHARE * wide)
    # The flank of the edge's own line is no line: what counts stands above its neighbours.
    tops = np.zeros(len(profile), bool)
    tops[1:-1] = (profile[1:-1] >= profile[:-2]) & (profile[1:-1] >= profile[2:])
    shown = np.where(tops, profile, 0.0)
    inner, outer = (np.abs(mm - sign * wide) <= slack for sign in (-1, 1))
    face = profile[(mm < -wide - slack - BROAD_MM)]
    usual = float(np.median(face[face > 0])) if (face > 0).any() else 1.0
    best = float(shown[inner].max())
    if best < LEAST_LINE * (usual + 1.0) or best <= float(shown[outer].max()):
        return 0.0
    end = float(mm[inner][int(np.argmax(shown[inner]))])
    shades = np.take_along_axis(
        light[stretch], np.clip(at, 0, light.shape[1] - 1)[..., None], axis=1
    )
    return -end if _is_side(np.median(shades, axis=0) * WEIGHTS, mm, end, best) else 0.0


SIDE_SPREADS, SIDE_SHARE = 1.5, 0.5
"""A side's shade differs from the face's by so many of the face's own spreads, and by such a share
of the step between them: past a line in the grain the wood is as it was before."""


def _is_side(shades: Array, mm: Array, end: float, step: float) -> bool:
    """Return whether what lies between a line and the edge is of another shade than the face."""
    strip = shades[(mm > 0.75 * end) & (mm < 0.25 * end)]
    face = shades[mm < end - 1.5]
    if not len(strip) or not len(face):
        return False
    spread = max(1.0, float(np.linalg.norm(face.std(axis=0))))
    apart = float(np.linalg.norm(strip.mean(axis=0) - face.mean(axis=0)))
    return apart > max(SIDE_SPREADS * spread, SIDE_SHARE * step)


NARROW_MM = 5.0
"""Two lines nearer than this run into one where pixels are large: shades tell then."""

NARROW_OFF_MM = 1.3
"""Shades that go over farther from where they should are those of grain."""

CONTRAST = 2.2
"""How much a side differs from the face, in spreads of the face, to count as seen."""


def narrow_side(
    light: Array, path: NDArray[np.intp], stretch: NDArray[np.intp], wide: float, fine_mm: float
) -> float:
    """Return how far inside a stretch of edge the face ends, mm, by shades: 0 if it does not.

    Under the face lies a strip ``wide`` mm wide of one shade, if the edge is the foot of the side.
    """
    steps = np.arange(-int((2 * wide + 10) / fine_mm), int(3 / fine_mm))
    at = np.clip(path[stretch][:, None] + steps[None, :], 0, light.shape[1] - 1)
    profile = np.median(np.take_along_axis(light[stretch], at[..., None], axis=1), axis=0)
    rel = steps * fine_mm
    face = profile[rel < -wide - 3]
    side = profile[(rel > -0.75 * wide) & (rel < -0.25 * wide)]
    if not len(face) or not len(side):
        return 0.0
    spread = np.maximum(2.0, np.std(face, axis=0))
    apart = (side.mean(axis=0) - face.mean(axis=0)) / spread
    weight = float(np.linalg.norm(apart))
    if weight < CONTRAST:
        return 0.0
    step = profile @ (apart / spread / weight)
    half = max(1, int(0.8 / fine_mm))
    slope = step[2 * half :] - step[: -2 * half]
    middle = rel[half:-half]
    near = np.abs(middle + wide) < max(2.5, 0.45 * wide)
    found = float(-middle[near][int(np.argmax(slope[near]))])
    return found if abs(found - wide) < NARROW_OFF_MM else 0.0
