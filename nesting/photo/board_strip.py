"""The strip that is most unlike what is on both its sides: where the board lies, roughly.

It is the one whose looks tell most about being inside rather than beside it (mutual information).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from nesting.photo.plan_view import Array
from nesting.photo.rough_plan import CELL_MM, LOOKS, Looks, Rough

WIDEST_MM, NARROWEST_MM, SHORTEST_MM = 520.0, 36.0, 240.0
BESIDE_MM = 130.0
"""How wide a band on either side a strip is held against."""

WIDTHS = 13
"""So many widths are tried, each a quarter wider than the last."""

CLEAR = 0.33
"""Nats: a strip that tells so much is the board."""

WINDOWS = ((0.0, 0.4), (0.3, 0.7), (0.6, 1.0))
"""Parts of the picture's width that short boards are looked for in."""

ANGLES, FEW, COARSE_MM = 48, 20_000, 3 * CELL_MM
"""Angles that are tried first, with how many cells, and in steps of how much."""


@dataclass(frozen=True)
class Strip:
    """A rectangle turned by ``angle``: middle, length and width; and what its looks tell.

    ``told`` is in nats a cell: 0 where inside and beside look alike, 0.69 where nothing is alike.
    """

    middle: tuple[float, float]
    angle: float
    length: float
    width: float
    told: float


def best_strip(rough: Rough, looks: Looks, *, beside: Strip | None = None) -> Strip | None:
    """Return the strip that differs most from what lies on both its sides, or None.

    With ``beside`` only strips that lie much as that one does are tried, and roughly.
    """
    cells, alike = _cells(rough, looks.numbers), looks.alike
    few, step = cells[:: 1 + len(cells) // FEW], np.pi / ANGLES
    angles = step * np.arange(ANGLES) if beside is None else beside.angle + step * np.arange(-3, 4)
    if beside is not None:
        window = _window(beside, few)
        found = [s for a in angles for s in _strips(few, alike, float(a), COARSE_MM, 2, window)]
        return max(found, key=_worth, default=None)
    found = [s for a in angles for s in _strips(few, alike, float(a), COARSE_MM, 1)]
    first = _refined(found, few, cells, alike, step)
    if first is not None and first.told >= CLEAR:
        return first
    # A board much shorter than the picture is lost in rows as long as that.
    found = [
        s
        for window in WINDOWS
        for angle in angles
        for s in _strips(few, alike, float(angle), COARSE_MM, 2, window)
    ]
    second = _refined(found, few, cells, alike, step)
    return max((one for one in (first, second) if one), key=_worth, default=None)


def _refined(
    found: list[Strip], few: Array, cells: Array, alike: Array, step: float
) -> Strip | None:
    """Return the best of some strips, its angle made true in ever smaller steps."""
    best = sorted(found, key=_worth, reverse=True)[:4]
    if not best:
        return None
    near = [
        s
        for one in best
        for turn in (-step / 3, 0, step / 3)
        for s in _strips(few, alike, one.angle + turn, COARSE_MM, 1, _window(one, few))
    ]
    middle = max([*best, *near], key=_worth)
    near = [
        s
        for turn in (-step / 6, 0, step / 6)
        for s in _strips(few, alike, middle.angle + turn, 2 * CELL_MM, 2, _window(middle, few))
    ]
    middle = max(near, key=_worth, default=middle)
    fine = _strips(cells[::2], alike, middle.angle, CELL_MM, 2, _window(middle, few))
    return max(fine, key=_worth, default=middle)


def _window(strip: Strip, cells: Array) -> tuple[float, float]:
    """Return which part of the picture's width a strip takes, in its own direction."""
    ahead = np.array([np.cos(strip.angle), np.sin(strip.angle)])
    along = cells[:, :2] @ ahead
    middle, low, wide = float(ahead @ strip.middle), float(along.min()), float(np.ptp(along))
    half = strip.length / 2
    return max(0.0, (middle - half - low) / wide), min(1.0, (middle + half - low) / wide)


def _cells(rough: Rough, looks: NDArray[np.intp]) -> Array:
    """Return (n, 3) x, y and look of every cell that counts."""
    rows, columns = np.nonzero(rough.use)
    xy = rough.to_mm(np.column_stack([columns, rows]).astype(np.float64))
    return np.column_stack([xy, looks[rows, columns]])


def _worth(strip: Strip) -> float:
    return float(strip.told**2 * strip.length * strip.width**0.25)


def _strips(
    cells: Array,
    alike: Array,
    angle: float,
    mm: float,
    turns: int = 2,
    window: tuple[float, float] = (0.0, 1.0),
) -> list[Strip]:
    """Return the best strip at one angle, in steps of so many mm, if there is any."""
    cos, sin = np.cos(angle), np.sin(angle)
    along, across = cells[:, :2] @ (cos, sin), cells[:, :2] @ (-sin, cos)
    look = cells[:, 2].astype(np.intp)
    low_u, low_v = along.min(), across.min()
    u, v = ((along - low_u) / mm).astype(np.intp), ((across - low_v) / mm).astype(np.intp)
    beside = int(BESIDE_MM / mm)
    ends = (int(window[0] * u.max()), int(window[1] * u.max()) + 1)
    best: tuple[float, int, int] = (0.0, 0, 0)
    for _ in range(turns):
        inside = (u >= ends[0]) & (u < ends[1])
        counts = _counted(v[inside], look[inside], int(v.max()) + 1) @ alike
        best = _best_interval(counts, mm)
        if best[0] <= 0:
            return []
        rows_in = (v >= best[1]) & (v < best[2])
        near = (v >= best[1] - beside) & (v < best[2] + beside) & ~rows_in
        ends = _ends(
            _counted(u[rows_in], look[rows_in], int(u.max()) + 1) @ alike,
            _counted(u[near], look[near], int(u.max()) + 1) @ alike,
        )
        if (ends[1] - ends[0]) * mm < SHORTEST_MM:
            return []
    middle_u = low_u + mm * (ends[0] + ends[1]) / 2
    middle_v = low_v + mm * (best[1] + best[2]) / 2
    at = (middle_u * cos - middle_v * sin, middle_u * sin + middle_v * cos)
    length, width = (ends[1] - ends[0]) * mm, (best[2] - best[1]) * mm
    return [Strip((float(at[0]), float(at[1])), angle, length, width, best[0])]


def _counted(place: NDArray[np.intp], look: NDArray[np.intp], count: int) -> Array:
    """Return (count, looks) how many cells of each look are at each place."""
    return (
        np.bincount(place * LOOKS + look, minlength=count * LOOKS)
        .reshape(count, LOOKS)
        .astype(float)
    )


def _best_interval(counts: Array, mm: float) -> tuple[float, int, int]:
    """Return what the best run of rows tells a cell, and the run.

    Held against each side apart, so that where one kind of ground ends is no board's edge.
    """
    total = np.concatenate([np.zeros((1, LOOKS)), np.cumsum(counts, axis=0)]).astype(np.float32)
    rows, beside = len(counts), int(BESIDE_MM / mm)
    start, wide = _runs_tried(rows, max(2, int(NARROWEST_MM / mm)), int(WIDEST_MM / mm))
    if not len(start):
        return 0.0, 0, 0
    inside = total[start + wide] - total[start]
    under = total[start] - total[np.maximum(0, start - beside)]
    over = total[np.minimum(rows, start + wide + beside)] - total[start + wide]
    told = _told(inside, np.stack([under, over])).min(axis=0)
    worth = told**2 * inside.sum(axis=1) / wide**0.75
    i = int(np.argmax(worth))
    if worth[i] <= 0:
        return 0.0, 0, 0
    return float(told[i]), int(start[i]), int(start[i] + wide[i])


@lru_cache(maxsize=64)
def _runs_tried(rows: int, least: int, most: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the starts and widths of all runs of rows that are tried, narrow ones first."""
    most = min(rows - 2, most)
    widths = np.unique(np.round(np.geomspace(least, max(least, most), WIDTHS)).astype(int))
    starts = [np.arange(1, rows - wide) for wide in widths[widths <= most].tolist()]
    if not starts:
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    counts = [len(some) for some in starts]
    return np.concatenate(starts), np.repeat(widths[: len(counts)], counts)


def _told(inside: Array, outside: Array) -> Array:
    """Return (2, n) what looks tell about inside and either outside, both weighing the same; nats.

    ``outside``: (2, n, looks), on one side and on the other.
    """
    few = inside.sum(axis=1), outside.sum(axis=2)
    p = (inside + PRIOR) / (few[0] + PRIOR * LOOKS)[:, None]
    q = (outside + PRIOR) / (few[1] + PRIOR * LOOKS)[..., None]
    both = p + q
    own = np.einsum("nk,nk->n", p, np.log(p)) + np.einsum("snk,snk->sn", q, np.log(q))
    told = np.log(2.0) + 0.5 * (own - np.einsum("snk,snk->sn", both, np.log(both)))
    return np.where((few[0] < 12) | (few[1] < 12), 0.0, told)


PRIOR = np.float32(0.2)
"""Cells of every look that are taken as seen everywhere: single precision, since most of the
search's time goes here."""


def _ends(inside: Array, beside: Array) -> tuple[int, int]:
    """Return from where to where along a strip its looks are those of its inside."""
    p = (inside.sum(axis=0) + 1) / (inside.sum() + LOOKS)
    q = (beside.sum(axis=0) + 1) / (beside.sum() + LOOKS)
    for _ in range(4):
        worth = inside @ np.log(p / q)
        total = np.concatenate([[0.0], np.cumsum(worth)])
        lowest = np.minimum.accumulate(total)
        end = int(np.argmax(total - lowest))
        start = int(np.argmin(total[: end + 1]))
        if end <= start:
            return 0, 0
        p = (inside[start:end].sum(axis=0) + 1) / (inside[start:end].sum() + LOOKS)
        outside = beside.sum(axis=0) + inside[:start].sum(axis=0) + inside[end:].sum(axis=0)
        q = (outside + 1) / (outside.sum() + LOOKS)
    return start, end
