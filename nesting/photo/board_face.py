"""The board's own frame: x along it, y across, its lower left the origin; and its face as a
picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask, PlanView

FACE_MM = 0.6
"""A cell of the face on which round things are looked for."""

MARGIN_MM = 6.0
"""Of the face's picture around the board."""

OUTLINE_MM = 0.4
"""A corner of the outline is left out where it lies this near the line between its neighbours."""


@dataclass(frozen=True)
class Frame:
    """How the board lies in the marks' plane: turned by ``angle`` (radians) about ``origin``."""

    origin: tuple[float, float]
    angle: float

    def of(self, mm: Array) -> Array:
        """Return points of the marks' plane in the board's frame."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        made: Array = (mm - self.origin) @ np.array([[cos, -sin], [sin, cos]])
        return made

    def back(self, mm: Array) -> Array:
        """Return points of the board's frame in the marks' plane."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        made: Array = mm @ np.array([[cos, sin], [-sin, cos]]) + self.origin
        return made


@dataclass(frozen=True)
class Face:
    """A board's face as a picture along its length, upper edge first, and which cells are wood."""

    picture: NDArray[np.uint8]
    wood: Mask
    mm: float

    @property
    def high_mm(self) -> float:
        """Height of the middle of the uppermost row over that of the lowest."""
        return float((self.picture.shape[0] - 1) * self.mm)


def frame_of(ring: Array, ahead: Array) -> Frame:
    """Return the frame of a board by its ring: along its length, to the right in the picture.

    ``ahead``: what is to the right in the first picture, in the marks' plane.
    """
    even = np.array(shapely.segmentize(Polygon(ring).exterior, 5.0).coords)
    middle = even - even.mean(axis=0)
    axis = np.linalg.svd(middle, full_matrices=False)[2][0]
    if axis @ ahead < 0:
        axis = -axis
    angle = float(np.arctan2(axis[1], axis[0]))
    turned = Frame((0.0, 0.0), angle).of(ring)
    origin = Frame((0.0, 0.0), angle).back(turned.min(axis=0)[None])[0]
    return Frame((float(origin[0]), float(origin[1])), angle)


def outline_in(frame: Frame, ring: Array) -> Polygon:
    """Return a board's outline in its frame, with no more corners than it needs."""
    shape = shapely.simplify(Polygon(frame.of(ring)), OUTLINE_MM)
    if not shape.is_valid:
        shape = max(shapely.get_parts(shapely.make_valid(shape)), key=lambda part: part.area)
    return Polygon(shape.exterior)


def face_of(
    plan: PlanView,
    frame: Frame,
    outline: Polygon,
    *,
    mm: float = FACE_MM,
    margin: float = MARGIN_MM,
) -> Face:
    """Return a board's face as a picture in its frame, with so much around it."""
    cv2 = opencv()
    _, _, high_x, high_y = outline.bounds
    size = int((high_x + 2 * margin) / mm) + 1, int((high_y + 2 * margin) / mm) + 1
    corners = np.array([(0, 0), (1000, 0), (0, 1000)], np.float64)
    on_board = np.column_stack(
        [corners[:, 0] * mm - margin, (size[1] - 1 - corners[:, 1]) * mm - margin]
    )
    cells = plan.to_cells(frame.back(on_board))
    matrix = np.column_stack([(cells[1] - cells[0]) / 1000, (cells[2] - cells[0]) / 1000, cells[0]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    picture = cv2.warpAffine(
        plan.picture, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    ring = np.asarray(outline.exterior.coords)
    drawn = np.column_stack([(ring[:, 0] + margin) / mm, size[1] - 1 - (ring[:, 1] + margin) / mm])
    wood = np.zeros(size[::-1], np.uint8)
    cv2.fillPoly(wood, [np.round(drawn * 8).astype(np.int32)], 1, cv2.LINE_8, 3)
    return Face(picture, wood > 0, mm)
