"""What lies below a level of a closed body: volume, centres, waterplane, wetted surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from parts.curves import Points
from parts.lines.planked_body import Body, kept

TOUCH_MM = 1e-3
"""Points as near to the water's surface as this lie in it."""


@dataclass(frozen=True)
class Afloat:
    """What the part of a body below the water's surface comes to, as it lies.

    Attributes
    ----------
    volume_mm3, centre
        Displaced volume, and its centre (x, out from the middle, height), level and plumb.
    waterplane_mm2, flotation_mm
        Area at the water's surface, and x of its centre.
    inertia_across_mm4, inertia_along_mm4
        Second moments of that area about the axes through its own centre.
    wetted_mm2
        Area of the wetted outside, between the rabbets and a transom included.
    ends, breadth_mm
        x of the waterline's ends, and its greatest breadth from side to side.
    """

    volume_mm3: float
    centre: tuple[float, float, float]
    waterplane_mm2: float
    flotation_mm: float
    inertia_across_mm4: float
    inertia_along_mm4: float
    wetted_mm2: float
    ends: tuple[float, float]
    breadth_mm: float


def afloat(body: Body, level: float) -> Afloat:
    """Return what lies below a level of a body as it lies.

    By the theorem of Gauss: each triangle of the wetted outside stands for the column of water
    above it, and all of them together for the waterplane.
    """
    points, _ = kept(body.triangles, body.triangles[..., 2] - level)
    a, b, c = points[:, 0], points[:, 1], points[:, 2]
    square = np.cross(b - a, c - a) / 2
    # Area seen from above; depth, x and y of the corners.
    seen = -square[:, 2]
    x, y, depth = points[..., 0], points[..., 1], level - points[..., 2]
    volume = float((seen * depth.mean(axis=1)).sum())
    plane = float(seen.sum())
    moments = [_product(seen, way, depth) for way in (x, y, depth)]
    along, across = float((seen * x.mean(axis=1)).sum()), float((seen * y.mean(axis=1)).sum())
    on = points.reshape(-1, 3)[depth.ravel() < TOUCH_MM]
    return Afloat(
        volume,
        (moments[0] / volume, moments[1] / volume, level - moments[2] / volume / 2),
        plane,
        along / plane,
        _product(seen, y, y) - across**2 / plane,
        _product(seen, x, x) - along**2 / plane,
        float(np.linalg.norm(square, axis=1).sum()),
        (float(on[:, 0].min()), float(on[:, 0].max())),
        float(np.ptp(on[:, 1])),
    )


def _product(area: Points, one: Points, other: Points) -> float:
    """Return the integral of a product of two linear functions over triangles."""
    both = one.sum(axis=1) * other.sum(axis=1) + (one * other).sum(axis=1)
    return float((area * both).sum() / 12)
