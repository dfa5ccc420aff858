"""Bungs of a placed part against each other: they may not overlap, nor crowd a metre."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from nesting.nest import Bung, Placement
from nesting.rules import TOUCH_MM

METRE_MM = 1000.0


def bungs_collide(bungs: Sequence[Bung]) -> bool:
    """Return whether two bungs overlap; touching is allowed."""
    return any(
        math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm)
        < (a.diameter_mm + b.diameter_mm) / 2 - TOUCH_MM
        for a, b in combinations(bungs, 2)
    )


def most_in_a_metre(bungs: Sequence[Bung], placement: Placement) -> int:
    """Return the most bungs in any metre along the part's grain, half open at its far end."""
    if not bungs:
        return 0
    ends = placement.to_board(np.array(placement.need.outline.grain.points)[[0, -1]])
    along = (ends[1] - ends[0]) / math.hypot(*(ends[1] - ends[0]))
    marks = np.sort([bung.x_mm * along[0] + bung.y_mm * along[1] for bung in bungs])
    last = np.searchsorted(marks, marks + METRE_MM, side="left")
    return int((last - np.arange(len(marks))).max())
