"""A plan in cells of some millimetres: what each looks like, sorted into looks.

What a cell looks like is told by colour and by how rough it is; cells are sorted by k-means.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

CELL_MM = 6.0
"""A cell of the rough search: boards are some ten of them wide."""

LOOKS = 24


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
