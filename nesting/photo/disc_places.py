"""Places on a board's face that may be round things: discs darker or lighter than the wood about
them, in many sizes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.board_face import Face
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array

RADII_MM = (2.0, 2.6, 3.4, 4.4, 5.7, 7.4, 9.6, 12.5)
DARK_RADII = 3
"""The first ones are those of holes: no bung is so small."""

FINE_RADII = 4
"""So many of them are looked for in full cells, larger ones in cells of twice the size."""

LEAST_CONTRAST = 0.05
LEAST_SPREADS = 4.5
MOST_OF_A_SIZE = 85
"""The strongest discs of each size are looked at closer, and no more."""


def disc_places(light: NDArray[np.uint8], ground: Array, face: Face) -> Array:
    """Return (n, 4) column, row, radius (cells) and sign of what may be discs."""
    cv2 = opencv()
    off = np.where(face.wood, light / ground - 1.0, 0.0).astype(np.float32)
    off = np.clip(off, -1.0, 0.6)
    half = cv2.resize(off, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    found = []
    for i, radius in enumerate(RADII_MM):
        times = 1 if i < FINE_RADII else 2
        cells = radius / face.mm / times
        shown = cv2.filter2D(off if times == 1 else half, -1, _disc_kernel(cells))
        spread = 1.4826 * float(np.median(np.abs(shown[::4, ::4]))) + 1e-4
        limit = max(LEAST_CONTRAST, LEAST_SPREADS * spread) if cells > 0 else 0.0
        strong = np.abs(shown)
        size = 2 * max(1, int(0.6 * cells)) + 1
        peak = (strong >= cv2.dilate(strong, np.ones((size, size), np.uint8))) & (
            strong > min(limit, 0.12)
        )
        rows, columns = np.nonzero(peak)
        worth = strong[rows, columns] / max(spread, 0.01)
        best = np.argsort(-worth if i >= DARK_RADII else -worth * (shown[rows, columns] < 0))
        best = best[:MOST_OF_A_SIZE]
        rows, columns, worth = rows[best], columns[best], worth[best]
        if i < DARK_RADII:
            dark = shown[rows, columns] < 0
            rows, columns, worth = rows[dark], columns[dark], worth[dark]
        found.append(
            np.column_stack(
                [
                    columns * times + (times - 1) / 2,
                    rows * times + (times - 1) / 2,
                    np.full(len(rows), radius / face.mm),
                    np.sign(shown[rows, columns]),
                    worth,
                ]
            )
        )
    places = np.concatenate(found)
    places = places[np.argsort(-places[:, 4])]
    rows, columns = places[:, 1].astype(int), places[:, 0].astype(int)
    inside = face.wood[
        np.clip(rows, 0, face.wood.shape[0] - 1), np.clip(columns, 0, face.wood.shape[1] - 1)
    ]
    return _thinned(places[inside])[:, :4]


def _thinned(places: Array) -> Array:
    """Return places without those that a better one of like size and sign stands on."""
    left = np.ones(len(places), bool)
    for i in range(len(places)):
        if left[i]:
            x, y, radius, sign, _ = places[i]
            rest = places[i + 1 :]
            alike = (np.abs(rest[:, 2] - radius) < 0.35 * radius + 0.5) & (rest[:, 3] == sign)
            left[i + 1 :] &= ~(alike & (np.hypot(rest[:, 0] - x, rest[:, 1] - y) < 0.7 * radius))
    return places[left]


def _disc_kernel(radius: float) -> NDArray[np.float32]:
    """Return what takes the mean over a ring from the mean over the disc within it."""
    reach = int(np.ceil(1.75 * radius)) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    r = np.hypot(x, y)
    inside = np.clip(0.9 * radius - r + 0.5, 0, 1)
    ring = np.clip(r - 1.2 * radius + 0.5, 0, 1) * np.clip(1.7 * radius - r + 0.5, 0, 1)
    made: NDArray[np.float32] = (inside / inside.sum() - ring / ring.sum()).astype(np.float32)
    return made
