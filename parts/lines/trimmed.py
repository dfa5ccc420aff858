"""A hull trimmed, by the stern or by the bow, upright or heeled, displacing as on an even keel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nesting.errors import ShapeError
from parts.lines.afloat import Afloat, afloat
from parts.lines.heeled import both_sheers, floated_level, require_heel
from parts.lines.hull import Hull
from parts.lines.hydrostatics import Hydrostatics, planked
from parts.lines.planked_body import Body, turn_of

MOST = 0.2
"""Trim over the waterline's length; a boat that stands steeper sinks or lies aground."""


@dataclass(frozen=True)
class Trimmed:
    """A hull trimmed, at the displacement that she has on an even keel.

    Attributes
    ----------
    trim_mm
        By how much she draws more aft than forward, over the length of the waterline that she has
        on an even keel; below 0 she is down by the bow.
    heel_deg
        As a level held square across the boat shows it.
    fore_mm, aft_mm
        From the water down to the height of the lowest rabbet, on the centreline, plumb to the base
        line, where that waterline begins and ends.
    arm_mm
        How far the centre of buoyancy lies out, level, from the base line under it. The righting
        arm is that less the height of the centre of gravity above the base line times the sine of
        the heel, over the cosine of the trim's angle.
    centre_mm, height_mm
        The centre of buoyancy in the boat's own frame: from forward and above the base line.
        Upright, her weight must lie plumb over it.
    freeboard_mm
        From the water up to the lowest place of the sheer, plumb; where it is below 0 the sheer is
        under water, and nothing else here holds.
    """

    trim_mm: float
    heel_deg: float
    fore_mm: float
    aft_mm: float
    arm_mm: float
    centre_mm: float
    height_mm: float
    freeboard_mm: float
    water: Afloat


def trimmed(hull: Hull, upright: Hydrostatics, trim_mm: float, heel_deg: float = 0.0) -> Trimmed:
    """Return a hull trimmed by so much, by the stern if above 0, at the same displacement.

    First she is trimmed, then heeled about the level line that runs along her: so the trim is what
    her draughts on the centreline say, and the heel what a level across her says.

    Raises
    ------
    ShapeError
        If trim or heel is out of range, or the hull cannot float so much at them.
    """
    require_heel(heel_deg)
    fore, aft = upright.water.ends
    slope = trim_mm / (aft - fore)
    if abs(slope) > MOST:
        raise ShapeError(
            f"a trim of {trim_mm:g} mm is out of range: at most {MOST * (aft - fore):.0f} mm, a "
            f"fifth of the {aft - fore:.0f} mm of the waterline, by stern or bow"
        )
    level = planked(hull)
    turn = turn_of(heel_deg)
    body = level.trimmed(math.atan(slope)).turned(heel_deg)
    both = Body(level.triangles, both_sheers(level)).trimmed(math.atan(slope))
    sheer = (both.sheer @ turn)[:, 2]
    sine, cosine = slope / math.hypot(1.0, slope), 1.0 / math.hypot(1.0, slope)
    # A small trim goes about the centre of flotation.
    start = upright.level_mm * cosine - upright.flotation_mm * sine
    surface = floated_level(body, upright, start, float(sheer.max()))
    water = afloat(body, surface)
    along, _, up = np.array(water.centre) @ turn.T
    # The water's surface over the base line on the centreline, at a place from forward.
    plumb = surface / math.cos(math.radians(heel_deg))
    depths = [(plumb + x * sine) / cosine - level.lowest_mm for x in (fore, aft)]
    foot = -along * slope * math.sin(math.radians(heel_deg))
    return Trimmed(
        trim_mm,
        heel_deg,
        depths[0],
        depths[1],
        water.centre[1] - foot,
        along * cosine - up * sine,
        along * sine + up * cosine,
        float(sheer.min()) - surface,
        water,
    )
