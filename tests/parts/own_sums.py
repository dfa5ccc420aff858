"""Places and volumes worked out by the tests themselves."""

import numpy as np


def in_the_boat(position, points):
    """Return (n, 3) points of a part's frame in the boat's; (n, 2) ones have z = 0."""
    return np.asarray(position.origin + points @ position.axes[: points.shape[1]])


def volume_inside(skin):
    """Return the volume inside a closed skin, mm3: its triangles over a corner of its box."""
    a, b, c = np.moveaxis(skin.points[skin.triangles] - skin.low, 1, 0)
    return float((a * np.cross(b, c)).sum() / 6)
