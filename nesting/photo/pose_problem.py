"""The marks of all pictures as one problem: what is unknown, and how far off a guess puts them.

Unknown are the lens (focal length, k1, k2), a view for each picture, and where each sheet lies in
the marks' plane; known is each sheet's shape. The first sheet's frame is the plane's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.photo.camera import Lens, View, projected, turned
from nesting.photo.mark_sheet import MARKS_A_SHEET, sheet_corners
from nesting.photo.marks import SeenMark

Array = NDArray[np.float64]

USUAL_FOCAL = 0.76
"""Focal length over the picture's long side where nothing says it: a phone's main camera is about
27 mm on a frame 36 mm wide (common practice, no source)."""

FOCAL_DOUBT, EXIF_DOUBT, BEND_DOUBT = 0.3, 0.04, 0.15
"""How far these may be off at one standard deviation, before the marks have their say: parts of
the focal length, with and without the picture's own word; k1 and k2."""

CORNER_PIXELS = 0.25
"""Standard deviation of a mark's corner (measured on rendered pictures with noise and blur)."""


@dataclass(frozen=True)
class Shot:
    """The marks of one picture, and its size."""

    name: str
    marks: tuple[SeenMark, ...]
    width: int
    height: int
    focal: float | None = None
    """In pixels, where the picture says it or it is given."""


@dataclass(frozen=True)
class GivenLens:
    """What is known of the lens: where a figure is given it is not fitted."""

    focal: float | None = None
    k1: float | None = None
    k2: float | None = None


@dataclass(frozen=True)
class Problem:
    """The marks of all pictures as arrays, and how parameters are laid out."""

    shots: tuple[Shot, ...]
    sheets: tuple[int, ...]
    picture: NDArray[np.intp]
    sheet: NDArray[np.intp]
    model: Array
    seen: Array
    focal0: float
    focal_doubt: float
    given: GivenLens

    @property
    def size(self) -> int:
        """How many parameters there are."""
        return 3 + 6 * len(self.shots) + 3 * len(self.sheets)

    def lens(self, parameters: Array, picture: int) -> Lens:
        """Return the lens that parameters stand for, its middle in one of the pictures."""
        shot = self.shots[picture]
        focal = self.given.focal or self.focal0 * float(np.exp(parameters[0]))
        k1 = self.given.k1 if self.given.k1 is not None else float(parameters[1])
        k2 = self.given.k2 if self.given.k2 is not None else float(parameters[2])
        if self.given.k1 is not None and self.given.k2 is None:
            k2 = 0.0
        return Lens(focal, k1, k2, ((shot.width - 1) / 2, (shot.height - 1) / 2))

    def view(self, parameters: Array, picture: int) -> View:
        """Return the view of a picture that parameters stand for."""
        own = parameters[3 + 6 * picture : 9 + 6 * picture]
        return View(turned(own[:3]), own[3:] * 1000.0)

    def places(self, parameters: Array) -> Array:
        """Return (s, 3) x, y (mm) and turn (radians) of each sheet; the first lies at the
        origin.
        """
        own = parameters[3 + 6 * len(self.shots) :].reshape(-1, 3).copy()
        own[0] = 0.0
        made: Array = own * np.array([1000.0, 1000.0, 1.0])
        return made

    def world(self, parameters: Array) -> Array:
        """Return (n, 3) the corners in the world."""
        place = self.places(parameters)[self.sheet]
        cos, sin = np.cos(place[:, 2]), np.sin(place[:, 2])
        x, y = self.model.T
        flat = np.column_stack([cos * x - sin * y + place[:, 0], sin * x + cos * y + place[:, 1]])
        return np.column_stack([flat, np.zeros(len(flat))])

    def misses(self, parameters: Array) -> Array:
        """Return (n, 2) how far each corner is seen from where parameters put it, pixels."""
        world = self.world(parameters)
        found = np.empty_like(self.seen)
        for picture in range(len(self.shots)):
            mine = self.picture == picture
            view, lens = self.view(parameters, picture), self.lens(parameters, picture)
            found[mine] = projected(world[mine], view, lens)
        return found - self.seen

    def residuals(self, parameters: Array) -> Array:
        """Return misses in standard deviations, and what is known beforehand."""
        before = parameters[:3] / np.array([self.focal_doubt, BEND_DOUBT, BEND_DOUBT])
        return np.concatenate([self.misses(parameters).ravel() / CORNER_PIXELS, before])


def problem_of(shots: Sequence[Shot], given: GivenLens, ruler_mm: float) -> Problem:
    """Return the marks of pictures as one problem; its first sheet is the one seen best."""
    by_sheet: dict[int, float] = {}
    for shot in shots:
        for mark in shot.marks:
            by_sheet[mark.sheet] = by_sheet.get(mark.sheet, 0.0) + mark.side
    sheets = tuple(sorted(by_sheet, key=lambda sheet: -by_sheet[sheet]))
    corners = sheet_corners(ruler_mm)
    rows = [
        (picture, sheets.index(mark.sheet), corners[mark.number % MARKS_A_SHEET], mark.corners)
        for picture, shot in enumerate(shots)
        for mark in shot.marks
    ]
    focals = [shot.focal for shot in shots if shot.focal]
    long_side = max(shots[0].width, shots[0].height)
    return Problem(
        tuple(shots),
        sheets,
        np.repeat([row[0] for row in rows], 4),
        np.repeat([row[1] for row in rows], 4),
        np.concatenate([row[2] for row in rows]),
        np.concatenate([row[3] for row in rows]),
        focals[0] if focals else USUAL_FOCAL * long_side,
        EXIF_DOUBT if focals else FOCAL_DOUBT,
        given,
    )
