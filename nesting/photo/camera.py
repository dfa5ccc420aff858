"""A camera: where points of the world come to lie in its picture, and the way back.

The model is OpenCV's: a point in the camera's frame is divided by its depth, moved outward or
inward by a lens that is round about its axis (k1, k2), and scaled by the focal length (Zhang 2000,
"A flexible new technique for camera calibration", IEEE TPAMI 22(11), section 3.3; OpenCV manual,
"Camera Calibration and 3D Reconstruction"). Written out here so that it runs for many pictures at
once; the tests hold it against ``cv2.projectPoints``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

UNDONE_STEPS = 12
"""Rounds in which a lens's bend is undone; each gains a digit and more for lenses of phones."""


@dataclass(frozen=True)
class Lens:
    """What a camera has in every picture of one size.

    ``focal`` in pixels; ``k1``, ``k2`` as OpenCV's; ``middle`` where its axis meets the picture.
    """

    focal: float
    k1: float
    k2: float
    middle: tuple[float, float]


@dataclass(frozen=True)
class View:
    """Where a camera stood: turns the world into its frame, x right, y down, z ahead; mm."""

    turn: Array
    shift: Array

    @property
    def eye(self) -> Array:
        """(3,) where the camera is in the world."""
        return -self.turn.T @ self.shift


def turned(vector: Array) -> Array:
    """Return the (3, 3) rotation about a vector by its length (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = vector / angle
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    made: Array = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross
    return made


def projected(world: Array, view: View, lens: Lens) -> Array:
    """Return (n, 2) where (n, 3) points of the world lie in the picture, pixels."""
    seen = world @ view.turn.T + view.shift
    flat = seen[:, :2] / seen[:, 2:]
    made: Array = bent(flat, lens) * lens.focal + np.asarray(lens.middle)
    return made


def bent(flat: Array, lens: Lens) -> Array:
    """Return (n, 2) directions as a lens shows them."""
    square = np.sum(flat**2, axis=1, keepdims=True)
    made: Array = flat * (1 + square * (lens.k1 + square * lens.k2))
    return made


def straightened(pixels: Array, lens: Lens) -> Array:
    """Return the (n, 2) directions that a lens shows at these pixels."""
    shown = (pixels - np.asarray(lens.middle)) / lens.focal
    flat: Array = shown.copy()
    for _ in range(UNDONE_STEPS):
        square = np.sum(flat**2, axis=1, keepdims=True)
        flat = shown / (1 + square * (lens.k1 + square * lens.k2))
    return flat


def on_plane(pixels: Array, view: View, lens: Lens, height_mm: float = 0.0) -> Array:
    """Return (n, 2) where the plane at a height is met by the rays of (n, 2) pixels."""
    flat = straightened(pixels, lens)
    rays = np.column_stack([flat, np.ones(len(flat))]) @ view.turn
    eye = view.eye
    far = (height_mm - eye[2]) / rays[:, 2]
    met: Array = eye[:2] + far[:, None] * rays[:, :2]
    return met
