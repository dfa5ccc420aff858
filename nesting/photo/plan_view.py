"""A picture seen square from above: perspective and the lens's bend removed, in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.photo.camera import Lens, View, on_plane, projected
from nesting.photo.marks import Picture
from nesting.photo.opencv import opencv

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

KNOT_CELLS = 16
"""Cells from one place that is worked out to the next; between them places lie evenly."""

BEYOND_SHEETS_MM = 450.0
"""How far past the outermost sheets a board may reach, and a plan goes."""

PAPER_MM = (232.0, 312.0)
"""Rectangle about a sheet's middle in which nothing is taken for board or ground: the larger of
A4 and letter each way, and 8 mm more all round."""

FINEST_MM, COARSEST_MM = 0.4, 2.0
MOST_CELLS = 9e6


@dataclass(frozen=True)
class PlanView:
    """A plan: colours, where something is seen, where paper lies; a cell is ``mm`` wide.

    The middle of row r, column c is (left + c mm, top - r mm) in the marks' plane.
    """

    picture: Picture
    seen: Mask
    paper: Mask
    left: float
    top: float
    mm: float

    def to_mm(self, cells: Array) -> Array:
        """Return (n, 2) x and y of (n, 2) columns and rows."""
        return np.column_stack(
            [self.left + cells[:, 0] * self.mm, self.top - cells[:, 1] * self.mm]
        )

    def to_cells(self, mm: Array) -> Array:
        """Return (n, 2) columns and rows of (n, 2) x and y."""
        return np.column_stack([(mm[:, 0] - self.left) / self.mm, (self.top - mm[:, 1]) / self.mm])


@dataclass(frozen=True)
class Extent:
    """The rectangle that a plan shows, and the size of its cells; mm."""

    low: tuple[float, float]
    high: tuple[float, float]
    mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return tuple(
            int(np.ceil((high - low) / self.mm)) + 1
            for low, high in reversed(list(zip(self.low, self.high, strict=True)))
        )  # type: ignore[return-value]


def extent_of(
    sizes: Sequence[tuple[int, int]],
    views: Sequence[View],
    lenses: Sequence[Lens],
    sheets: Array,
    height_mm: float,
) -> Extent:
    """Return what to show of pictures (width, height): what they see, not far from the sheets."""
    corners = np.concatenate(
        [
            _rim_on_plane(size, view, lens, height_mm)
            for size, view, lens in zip(sizes, views, lenses, strict=True)
        ]
    )
    low = np.maximum(corners.min(axis=0), sheets.min(axis=0) - BEYOND_SHEETS_MM)
    high = np.minimum(corners.max(axis=0), sheets.max(axis=0) + BEYOND_SHEETS_MM)
    finest = min(
        float(view.eye[2] - height_mm) / lens.focal
        for view, lens in zip(views, lenses, strict=True)
    )
    area = float(np.prod(high - low))
    mm = max(FINEST_MM, min(COARSEST_MM, finest), float(np.sqrt(area / MOST_CELLS)))
    return Extent(tuple(low.tolist()), tuple(high.tolist()), mm)


def _rim_on_plane(size: tuple[int, int], view: View, lens: Lens, height_mm: float) -> Array:
    """Return where the rim of a picture meets the plane; what looks past the horizon is left
    out.
    """
    along = np.linspace(0, 1, 9)
    wide, high = size[0] - 1, size[1] - 1
    rim = np.concatenate(
        [
            np.column_stack([along * wide, 0 * along]),
            np.column_stack([along * wide, 0 * along + high]),
            np.column_stack([0 * along, along * high]),
            np.column_stack([0 * along + wide, along * high]),
        ]
    )
    met = on_plane(rim, view, lens, height_mm)
    back = (np.column_stack([met, np.full(len(met), height_mm)]) @ view.turn.T + view.shift)[:, 2]
    return met[back > 0]


def plan_view(
    picture: Picture, view: View, lens: Lens, extent: Extent, sheets: Array, height_mm: float
) -> PlanView:
    """Return one picture as a plan; ``sheets``: (s, 3) x, y and turn of each sheet."""
    cv2 = opencv()
    rows, columns = extent.shape
    where = _pixels(extent, view, lens, height_mm)
    plan = cv2.remap(picture, where, None, cv2.INTER_LINEAR)
    high, wide = picture.shape[:2]
    seen = (
        (where[..., 0] > 1)
        & (where[..., 0] < wide - 2)
        & (where[..., 1] > 1)
        & (where[..., 1] < high - 2)
    )
    bare = PlanView(
        plan, seen, np.zeros((rows, columns), bool), extent.low[0], extent.high[1], extent.mm
    )
    return PlanView(plan, seen, _paper(bare, sheets, view, height_mm), bare.left, bare.top, bare.mm)


def _pixels(extent: Extent, view: View, lens: Lens, height_mm: float) -> NDArray[np.float32]:
    """Return (rows, columns, 2) the pixel that each cell is seen in."""
    cv2 = opencv()
    rows, columns = extent.shape
    x = extent.low[0] + extent.mm * KNOT_CELLS * np.arange(columns // KNOT_CELLS + 2)
    y = extent.high[1] - extent.mm * KNOT_CELLS * np.arange(rows // KNOT_CELLS + 2)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    world = np.column_stack([grid, np.full(len(grid), height_mm)])
    knots = projected(world, view, lens).reshape(len(y), len(x), 2).astype(np.float32)
    scale = np.array([[1 / KNOT_CELLS, 0, 0], [0, 1 / KNOT_CELLS, 0]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    made: NDArray[np.float32] = cv2.warpAffine(knots, scale, (columns, rows), flags=flags)
    return made


def _paper(plan: PlanView, sheets: Array, view: View, height_mm: float) -> Mask:
    """Return where paper hides what lies there, as seen in the board's plane from this view."""
    cv2 = opencv()
    mask = np.zeros(plan.seen.shape, np.uint8)
    half = np.array(PAPER_MM) / 2
    eye = view.eye
    for x, y, turn in sheets:
        cos, sin = np.cos(turn), np.sin(turn)
        ring = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
        flat = ring @ np.array([[cos, sin], [-sin, cos]]) + (x, y)
        flat = flat + (eye[:2] - flat) * (height_mm / eye[2])
        cv2.fillPoly(mask, [np.round(plan.to_cells(flat)).astype(np.int32)], 1)
    return mask > 0


def joined(plans: Sequence[PlanView], eyes: Sequence[Array]) -> PlanView:
    """Return one plan of several: each place from the picture that was taken nearest above it."""
    if len(plans) == 1:
        return plans[0]
    first = plans[0]
    rows, columns = first.seen.shape
    x = first.left + first.mm * np.arange(columns)
    y = first.top - first.mm * np.arange(rows)
    best = np.full((rows, columns), np.inf)
    picture = np.zeros_like(first.picture)
    seen, paper = np.zeros_like(first.seen), np.zeros_like(first.paper)
    for plan, eye in zip(plans, eyes, strict=True):
        far = (x[None, :] - eye[0]) ** 2 + (y[:, None] - eye[1]) ** 2
        mine = plan.seen & (far < best)
        best[mine] = far[mine]
        level = _levelled(plan, picture, seen)
        picture[mine] = level[mine]
        seen |= plan.seen
        paper |= plan.paper
    return PlanView(picture, seen, paper, first.left, first.top, first.mm)


def _levelled(plan: PlanView, picture: Picture, seen: Mask) -> Picture:
    """Return a plan's colours as bright as what is there already, where both see the same."""
    both = (plan.seen & seen)[::8, ::8]
    if np.count_nonzero(both) < 200:
        return plan.picture
    there = picture[::8, ::8][both].astype(np.float64)
    mine = plan.picture[::8, ::8][both].astype(np.float64)
    gain = np.clip(np.median((there + 8) / (mine + 8), axis=0), 0.6, 1.6)
    return np.clip(plan.picture * gain, 0, 255).astype(np.uint8)
