"""A hull heeled, at the displacement that she has upright, and the level at which a body floats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.errors import ShapeError
from parts.curves import Points
from parts.lines.afloat import TOUCH_MM, Afloat, afloat
from parts.lines.hull import Hull
from parts.lines.hydrostatics import Hydrostatics, planked
from parts.lines.planked_body import MIRROR, Body, turn_of

STEEPEST_DEG = 60.0
"""No heel beyond: an open boat has filled long before, and a decked one floats by her deck."""

MOST_STEPS, NEAR_ENOUGH = 60, 1e-6
"""Of the search for the level at which she displaces as much as upright."""


@dataclass(frozen=True)
class Heeled:
    """A hull heeled, at the displacement that she has upright.

    Attributes
    ----------
    arm_mm
        How far the centre of buoyancy lies out, level, from the foot of the centreline at the
        base line. The righting arm is that less the height of the centre of gravity above the
        base line times the sine of the heel.
    freeboard_mm
        From the water up to the lowest place of the sheer, plumb; where it is below 0 the sheer is
        under water, and nothing else here holds.
    """

    heel_deg: float
    arm_mm: float
    freeboard_mm: float
    water: Afloat


def heeled(hull: Hull, upright: Hydrostatics, heel_deg: float) -> Heeled:
    """Return a hull heeled to one side, at the same displacement.

    Raises
    ------
    ShapeError
        If the heel is out of range, or the hull cannot float so much at it.
    """
    require_heel(heel_deg)
    body = planked(hull).turned(heel_deg)
    sheer = (both_sheers(planked(hull)) @ turn_of(heel_deg))[:, 2]
    level = floated_level(body, upright, upright.level_mm, float(sheer.max()))
    water = afloat(body, level)
    return Heeled(heel_deg, water.centre[1], float(sheer.min()) - level, water)


def require_heel(heel_deg: float) -> None:
    """Refuse a heel out of range."""
    if not 0.0 <= heel_deg <= STEEPEST_DEG:
        raise ShapeError(
            f"a heel of {heel_deg:g} degrees is out of range: 0 to {STEEPEST_DEG:g} degrees"
        )


def both_sheers(body: Body) -> Points:
    """Return the points of the sheer on both sides of a body that is not heeled, (n, 3)."""
    return np.concatenate([body.sheer, body.sheer * MIRROR])


def floated_level(body: Body, upright: Hydrostatics, start: float, highest: float) -> float:
    """Return the level at which a body displaces as much as upright, sought from a level.

    By Newton's steps: the volume grows with the level by the area of the waterplane.
    """
    low, high = float(body.triangles[..., 2].min()) + TOUCH_MM, highest
    level = min(max(start, low), high)
    for _ in range(MOST_STEPS):
        water = afloat(body, level)
        lacking = upright.volume_mm3 - water.volume_mm3
        if abs(lacking) < NEAR_ENOUGH * upright.volume_mm3:
            return level
        low, high = (level, high) if lacking > 0.0 else (low, level)
        after = level + lacking / water.waterplane_mm2
        level = after if low < after < high else (low + high) / 2
    raise ShapeError(
        "so far over she cannot float so much: give less draught, or less heel or trim"
    )
