"""A hull trimmed: by the stern or by the bow, at the displacement that she has on an even keel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nesting.errors import ShapeError
from parts.lines.afloat import Afloat, afloat
from parts.lines.hull import Hull
from parts.lines.hydrostatics import Hydrostatics, floated_level, planked

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
    fore_mm, aft_mm
        From the water down to the height of the lowest rabbet, plumb to the base line, where that
        waterline begins and ends.
    centre_mm, height_mm
        The centre of buoyancy in the boat's own frame: from forward and above the base line. Her
        weight must lie plumb over it.
    freeboard_mm
        From the water up to the lowest place of the sheer, plumb; where it is below 0 the sheer is
        under water, and nothing else here holds.
    """

    trim_mm: float
    fore_mm: float
    aft_mm: float
    centre_mm: float
    height_mm: float
    freeboard_mm: float
    water: Afloat


def trimmed(hull: Hull, upright: Hydrostatics, trim_mm: float) -> Trimmed:
    """Return a hull trimmed by so much, by the stern if above 0, at the same displacement.

    Raises
    ------
    ShapeError
        If the trim is out of range, or the hull cannot float so much at it.
    """
    fore, aft = upright.water.ends
    slope = trim_mm / (aft - fore)
    if abs(slope) > MOST:
        raise ShapeError(
            f"a trim of {trim_mm:g} mm is out of range: at most {MOST * (aft - fore):.0f} mm, a "
            f"fifth of the {aft - fore:.0f} mm of the waterline, by stern or bow"
        )
    level = planked(hull)
    body = level.trimmed(math.atan(slope))
    sine, cosine = slope / math.hypot(1.0, slope), 1.0 / math.hypot(1.0, slope)
    # A small trim goes about the centre of flotation.
    start = upright.level_mm * cosine - upright.flotation_mm * sine
    surface = floated_level(body, upright, start, float(body.sheer[:, 2].max()))
    water = afloat(body, surface)
    along, _, up = water.centre
    # The water's surface over the base line, at a place from forward.
    depths = [(surface + x * sine) / cosine - level.lowest_mm for x in (fore, aft)]
    return Trimmed(
        trim_mm,
        depths[0],
        depths[1],
        along * cosine - up * sine,
        along * sine + up * cosine,
        float(np.min(body.sheer[:, 2])) - surface,
        water,
    )
