"""Where a part stands in the boat: from its own frame to the boat's.

The boat's frame is that of :mod:`parts.lines`: x aft, y out from the centreline to starboard, z
up from the base line; mm. A part's own frame is that of its outline and its solid: x and y lie
in the marked face as it is seen, z comes out of that face towards who looks at it. A part that
has a place in the boat lies behind its marked face, from z = 0 down to minus its siding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points

Axis = tuple[float, float, float]

UNIT = 1e-9
"""Axes differ from unit length and from square by less than this: rounding."""

TO_PORT = np.array([1.0, -1.0, 1.0])
"""A point's or a direction's mirror image on the other side of the boat."""


@dataclass(frozen=True)
class Position:
    """A part's frame in the boat: where its origin is, and where its three axes point.

    Attributes
    ----------
    origin
        mm, in the boat's frame.
    x_axis, y_axis, z_axis
        Unit directions in the boat's frame, square to each other. They are left-handed where
        the piece is the mirror image of its outline: the port twin, sawn with the marked face
        down.
    """

    origin: Axis
    x_axis: Axis
    y_axis: Axis
    z_axis: Axis

    def __post_init__(self) -> None:
        square = self.axes @ self.axes.T
        if not np.allclose(square, np.eye(3), rtol=0, atol=UNIT):
            raise ShapeError(f"the axes {self.axes.tolist()} are not unit and square")

    @property
    def axes(self) -> Points:
        """The axes as rows, (3, 3)."""
        return np.array([self.x_axis, self.y_axis, self.z_axis])

    @property
    def is_mirrored(self) -> bool:
        """Whether the piece is the mirror image of its outline and solid."""
        return bool(np.linalg.det(self.axes) < 0)

    def in_boat(self, points: Points) -> Points:
        """Return (n, 3) points of the part's frame in the boat's; (n, 2) ones have z = 0."""
        return np.asarray(self.origin + points @ self.axes[: points.shape[1]])

    def in_part(self, points: Points) -> Points:
        """Return (n, 3) points of the boat's frame in the part's."""
        return np.asarray((points - np.array(self.origin)) @ self.axes.T)

    def twin(self) -> Position:
        """Return the place of the same part's mirror image on the other side of the boat."""
        moved = [_as_axis(np.array(axis) * TO_PORT) for axis in (self.origin, *self.axes)]
        return replace(self, origin=moved[0], x_axis=moved[1], y_axis=moved[2], z_axis=moved[3])


def position(origin: Points, x_axis: Points, y_axis: Points) -> Position:
    """Return a right-handed position from an origin and two directions square to each other."""
    x, y = (axis / np.linalg.norm(axis) for axis in (x_axis, y_axis))
    return Position(_as_axis(origin), _as_axis(x), _as_axis(y), _as_axis(np.cross(x, y)))


def _as_axis(numbers: Points) -> Axis:
    x, y, z = (float(number) for number in numbers)
    return x, y, z
