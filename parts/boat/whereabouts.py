"""Where something is in the boat, in a builder's words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nesting.units import Unit
from nesting.written_measures import format_length

if TYPE_CHECKING:
    from parts.boat.boat import Boat

Corner = tuple[float, float, float]


def whereabouts(boat: Boat, low: Corner, high: Corner, unit: Unit) -> str:
    """Return where the middle of a box in the boat's frame is: frame, side and height.

    Parameters
    ----------
    low, high
        Corners of the box, mm.
    """
    x, y, z = ((a + b) / 2 for a, b in zip(low, high, strict=True))
    across = _across(y, unit, is_amidships=low[1] < 0 < high[1])
    return f"{_along(boat, x, unit)}, {across}, {format_length(z, unit)} above the base line"


def _along(boat: Boat, x: float, unit: Unit) -> str:
    frames = boat.plan.frames
    number = round((x - frames.first_mm) / frames.spacing_mm) + 1
    number = min(max(number, 1), frames.count)
    away = x - (frames.first_mm + (number - 1) * frames.spacing_mm)
    if abs(away) <= frames.siding_mm / 2:
        return f"at frame {number}"
    return f"{format_length(abs(away), unit)} {'aft' if away > 0 else 'forward'} of frame {number}"


def _across(y: float, unit: Unit, *, is_amidships: bool) -> str:
    if is_amidships:
        return "across the centreline"
    return f"{format_length(abs(y), unit)} to {'starboard' if y > 0 else 'port'}"
