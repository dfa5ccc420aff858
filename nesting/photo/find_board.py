"""Where on a plan the board lies: first as a strip unlike what is on both sides of it, then cell
by cell.

What a cell looks like is told by colour and by how rough it is. Cells are sorted into some
looks (k-means); the strip is the one whose looks tell most about being inside rather than beside it
(mutual information); from there the cells are parted by a graph cut (GrabCut: Rother and others
2004, ACM TOG 23(3), in OpenCV).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

CELL_MM = 6.0
"""A cell of the rough search: boards are some ten of them wide."""

LOOKS = 24
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


@dataclass(frozen=True)
class Rough:
    """The cells of a plan: their features, and which count."""

    features: NDArray[np.float32]
    use: Mask
    seen: Mask
    mm: float
    plan: PlanView

    def to_mm(self, cells: Array) -> Array:
        """Return (n, 2) x and y of (n, 2) columns and rows of the rough plan."""
        times = self.mm / self.plan.mm
        return self.plan.to_mm((cells + 0.5) * times - 0.5)

    def to_cells(self, mm: Array) -> Array:
        """Return (n, 2) columns and rows of (n, 2) x and y."""
        return (self.plan.to_cells(mm) + 0.5) * (self.plan.mm / self.mm) - 0.5


def rough_of(plan: PlanView) -> Rough:
    """Return a plan in cells of some millimetres, with what each looks like."""
    cv2 = opencv()
    rows, columns = plan.seen.shape
    size = max(8, round(columns * plan.mm / CELL_MM)), max(8, round(rows * plan.mm / CELL_MM))
    lab = cv2.cvtColor(plan.picture, cv2.COLOR_BGR2LAB)
    light = lab[..., 0]
    rough = cv2.absdiff(light, cv2.blur(light, (int(9 / plan.mm) | 1, int(9 / plan.mm) | 1)))
    small = [
        cv2.resize(lab, size, interpolation=cv2.INTER_AREA).astype(np.float32),
        np.log1p(cv2.resize(rough, size, interpolation=cv2.INTER_AREA).astype(np.float32))[
            ..., None
        ]
        * 14,
    ]
    features = np.concatenate(small, axis=2)
    features[..., 0] *= 0.55  # light differs by shadow alone, colour does not
    features[..., 1:3] *= 1.6
    features = cv2.GaussianBlur(features, (0, 0), 0.8)
    seen = cv2.resize(plan.seen.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    paper = cv2.resize(plan.paper.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    return Rough(features, seen & ~paper, seen, columns * plan.mm / size[0], plan)


ALIKE = 4.0
"""Features this far apart at one standard deviation are much alike: cloudy ground is one ground,
however many looks it is sorted into."""


@dataclass(frozen=True)
class Looks:
    """The look of each cell by number (rows, columns), and how far looks pass for one another."""

    numbers: NDArray[np.intp]
    alike: Array


def looks_of(rough: Rough) -> Looks:
    """Return the look of each cell."""
    cv2 = opencv()
    samples = rough.features[rough.use]
    cv2.setRNGSeed(7)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 12, 0.5)
    some = samples[:: max(1, len(samples) // 6000)]
    _, _, centres = cv2.kmeans(some, LOOKS, None, stop, 1, cv2.KMEANS_PP_CENTERS)
    flat = rough.features.reshape(-1, rough.features.shape[2])
    near = np.argmin(np.sum(centres**2, axis=1) - 2 * flat @ centres.T, axis=1)
    apart = np.linalg.norm(centres[:, None] - centres[None], axis=2)
    alike = np.exp(-0.5 * (apart.astype(float) / ALIKE) ** 2)
    return Looks(near.reshape(rough.use.shape), alike / alike.sum(axis=1, keepdims=True))


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
