"""Shapes that other programs gave a third figure at every corner: laid flat, or refused."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.errors import ShapeError

LEVEL_MM = 0.01
"""Heights that differ by no more are all one: what a drawing's figures are rounded to."""

ShapeT = TypeVar("ShapeT", bound=BaseGeometry)


def without_heights(shape: ShapeT, name: str) -> ShapeT:
    """Return a shape of points (x, y), whatever a third figure of each point said.

    Raises
    ------
    ShapeError
        If its points lie at different heights: seen from above it would be smaller than it is.
    """
    if shapely.get_coordinate_dimension(shape) == 2:
        return shape
    heights = shapely.get_coordinates(shape, include_z=True)[:, 2]
    if np.ptp(heights) > LEVEL_MM:
        low, high = heights.min(), heights.max()
        raise ShapeError(
            f"{name} has points at heights from {low:g} to {high:g} mm, must lie flat: turn it "
            "into its own plane"
        )
    return shapely.force_2d(shape)
