"""What new timber is sold as, and what is lost on it: apart from the salvage's own losses."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.given import finite, made, numbers
from nesting.units import MM_PER_INCH, Unit

QUARTERS = (4, 5, 6, 8, 10, 12, 16)
"""Rough thicknesses in quarters of an inch. 4/4 and 5/4 with what is left of them when planed:
a sawmill's own account; the rest from memory."""

METRIC_MM = (16.0, 19.0, 22.0, 25.0, 32.0, 38.0, 50.0, 63.0, 75.0, 100.0)
"""Sawn thicknesses that European yards list (from memory)."""


@dataclass(frozen=True)
class Steps:
    """Sizes are asked for in whole steps, rounded up; mm (common practice, no source).

    Thicknesses are only where timber thicker than any in stock is sawn to order.
    """

    thickness_mm: float = 5.0
    width_mm: float = 5.0
    length_mm: float = 10.0

    def __post_init__(self) -> None:
        for name in ("thickness_mm", "width_mm", "length_mm"):
            finite(getattr(self, name), f"steps: {name}", over=0.0)


INCH_STEPS = Steps(MM_PER_INCH / 2, MM_PER_INCH / 4, MM_PER_INCH)

WIDEST_MM = 12 * MM_PER_INCH
"""Boards are seldom wider (common practice, no source)."""

LONGEST_MM = 192 * MM_PER_INCH
"""Boards are seldom longer than 16 ft (from memory: the longest of a hardwood grader's lengths)."""

TOUCH_MM = 1e-6

MOST_ALLOWANCE_MM = 50.0
"""A clearance or an allowance; more than 50 mm is a wrong unit."""

MOST_AT_END_MM, MOST_DEFECTS_PERCENT = 600.0, 200.0
"""Of new timber: more is a wrong unit."""


@dataclass(frozen=True)
class NewTimberRules:
    """What is sold, and the allowances on it; mm.

    Attributes
    ----------
    thicknesses_mm
        Rough thicknesses as sold; thicker is sawn to order.
    planing_mm
        Taken off each face of rough timber to make it flat and clean. An eighth of an inch: a
        sawmill's own account, 4/4 gives 3/4 in and 5/4 gives 1 in.
    edge_mm
        Taken off each edge to make it straight (common practice, no source; a trade forum says
        5 to 10 % of the volume for both).
    end_mm
        Taken off each end, which is split and gritty (common practice, no source).
    defects_percent
        Bought on top of the net sizes for knots, sapwood and splits: a woodworking magazine
        begins at 15 %, a furniture maker's handbook says 15 to 20 % for square-edged hardwood.
    steps
        To which sizes are rounded up.
    """

    thicknesses_mm: tuple[float, ...] = METRIC_MM
    planing_mm: float = MM_PER_INCH / 8
    edge_mm: float = 3.0
    end_mm: float = 25.0
    defects_percent: float = 15.0
    steps: Steps = Steps()

    def __post_init__(self) -> None:
        for name, most in (
            ("planing_mm", MOST_ALLOWANCE_MM),
            ("edge_mm", MOST_ALLOWANCE_MM),
            ("end_mm", MOST_AT_END_MM),
            ("defects_percent", MOST_DEFECTS_PERCENT),
        ):
            finite(getattr(self, name), name, least=0.0, most=most)
        made(self.steps, Steps, "steps", "Steps(5, 5, 10)")
        sizes = sorted(numbers(self.thicknesses_mm, "thicknesses_mm"))
        for size in sizes:
            finite(size, "each of thicknesses_mm", over=0.0)
        object.__setattr__(self, "thicknesses_mm", tuple(sizes))

    def rough_for(self, finished_mm: float) -> float:
        """Return the thickness to be bought for a finished one.

        Examples
        --------
        >>> NewTimberRules().rough_for(19.0), NewTimberRules().rough_for(130.0)
        (32.0, 140.0)
        """
        least = finished_mm + 2 * self.planing_mm - TOUCH_MM
        sold = next((size for size in self.thicknesses_mm if size >= least), None)
        return sold if sold is not None else _stepped(least, self.steps.thickness_mm)

    def asked_width(self, width_mm: float) -> float:
        """Return the width to ask for where a piece must be so wide."""
        return _stepped(width_mm, self.steps.width_mm)

    def asked_length(self, length_mm: float) -> float:
        """Return the length to ask for where a piece must be so long."""
        return _stepped(length_mm, self.steps.length_mm)

    def is_stocked(self, thickness_mm: float) -> bool:
        """Return whether a thickness is sold from stock, not sawn to order."""
        return any(abs(size - thickness_mm) < TOUCH_MM for size in self.thicknesses_mm)


def _stepped(size_mm: float, step_mm: float) -> float:
    return math.ceil((size_mm - TOUCH_MM) / step_mm) * step_mm


def usual_in(unit: Unit) -> NewTimberRules:
    """Return the usual rules where a project is written in a unit: quarters of an inch, or mm."""
    if not unit.is_imperial:
        return NewTimberRules()
    sizes = tuple(quarters * MM_PER_INCH / 4 for quarters in QUARTERS)
    return NewTimberRules(sizes, steps=INCH_STEPS)
