"""Where on a plan the board lies, cell by cell, once a strip says where it is roughly.

The cells about the strip are parted by a graph cut (GrabCut: Rother and others 2004, ACM TOG 23(3),
in OpenCV).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.board_strip import Strip
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Mask
from nesting.photo.rough_plan import CELL_MM, Rough


def board_cells(rough: Rough, strip: Strip) -> Mask:
    """Return the cells of the board, parted from those around by a graph cut."""
    cv2 = opencv()
    rows, columns = rough.use.shape
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).reshape(-1, 2)
    off = rough.to_mm(grid.astype(np.float64)) - strip.middle
    cos, sin = np.cos(strip.angle), np.sin(strip.angle)
    along = np.abs(off @ (cos, sin)).reshape(rows, columns) - strip.length / 2
    across = np.abs(off @ (-sin, cos)).reshape(rows, columns) - strip.width / 2
    outside = np.maximum(along, across)
    mask = np.full((rows, columns), cv2.GC_PR_BGD, np.uint8)
    mask[outside < 0] = cv2.GC_PR_FGD
    mask[(along > 200) | (across > 110) | ~rough.use] = cv2.GC_BGD
    window = outside < 260
    r, c = np.nonzero(window)
    box = (slice(r.min(), r.max() + 1), slice(c.min(), c.max() + 1))
    cut = np.ascontiguousarray(mask[box])
    core = (outside < -0.2 * strip.width)[box] & rough.use[box]
    beside = ((outside > 20) & (outside < 200))[box] & rough.use[box]
    picture = _parting_colours(rough.features[box], core, beside)
    if core.sum() < 30 or beside.sum() < 30:
        return np.zeros_like(rough.use)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.setRNGSeed(7)
    cv2.grabCut(picture, cut, None, *models, 4, cv2.GC_INIT_WITH_MASK)
    whole = np.zeros((rows, columns), bool)
    whole[box] = (cut == cv2.GC_FGD) | (cut == cv2.GC_PR_FGD)
    return _made_whole(whole, strip)


NOTCH_MM = 84.0
"""Bites narrower than this are filled at first: stains and paint like the ground's. What is a
bite indeed is told by the edge."""


def _made_whole(cells: Mask, strip: Strip) -> Mask:
    """Return the patch of cells that fills a strip best, without spurs, bites and holes."""
    cv2 = opencv()

    def disc(mm: float) -> NDArray[np.uint8]:
        size = max(1, int(mm / CELL_MM / 2)) * 2 + 1
        made: NDArray[np.uint8] = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
        return made

    rim = int(NOTCH_MM / CELL_MM) + 2
    room = cv2.copyMakeBorder(cells.astype(np.uint8), rim, rim, rim, rim, cv2.BORDER_CONSTANT)
    room = cv2.morphologyEx(room, cv2.MORPH_OPEN, disc(min(24.0, 0.3 * strip.width)))
    room = cv2.morphologyEx(room, cv2.MORPH_CLOSE, disc(NOTCH_MM))
    room = cv2.morphologyEx(room, cv2.MORPH_OPEN, disc(min(42.0, 0.4 * strip.width)))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(room[rim:-rim, rim:-rim])
    if count < 2:
        return np.zeros_like(cells)
    whole: Mask = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return whole


def _parting_colours(features: NDArray[np.float32], core: Mask, beside: Mask) -> NDArray[np.uint8]:
    """Return features as a picture of three colours, the first the one that parts the two best."""
    inside, outside = features[core].astype(float), features[beside].astype(float)
    within = (np.cov(inside.T) + np.cov(outside.T)) / 2 + np.eye(features.shape[2])
    values, vectors = np.linalg.eigh(within)
    whiten = vectors / np.sqrt(values)
    apart = (inside.mean(axis=0) - outside.mean(axis=0)) @ whiten
    first = apart / max(1e-9, float(np.linalg.norm(apart)))
    both = np.concatenate([inside, outside]) @ whiten
    rest = both - np.outer(both @ first, first)
    axes = np.linalg.svd(
        (rest - rest.mean(axis=0))[:: max(1, len(rest) // 2000)], full_matrices=False
    )[2]
    turn = whiten @ np.stack([first, axes[0], axes[1]], axis=1)
    shown = features.astype(float) @ turn
    middle = (np.median(inside @ turn, axis=0) + np.median(outside @ turn, axis=0)) / 2
    made: NDArray[np.uint8] = np.clip(128 + 22 * (shown - middle), 0, 255).astype(np.uint8)
    return made
