"""How finely a table was read: what its figures may be off by their rounding alone.

Told by the setting ``read to``, or else by how the figures are written: a table in which some end
in a + was read to sixteenths, one of whole millimetres to the millimetre. What a table is off
beyond that, as one scaled from a small plan, is found from the figures themselves.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

import numpy as np

from nesting.units import MM_PER_INCH, Unit
from parts.lines.table import OffsetTable

EVENLY = math.sqrt(12.0)
"""A figure rounded to a step is off by this part of it, in standard deviations: mathematics."""

LEAST_MM = 0.05
"""Figures of more decimals than anybody can measure are not believed to the last of them."""

_OFFSET = re.compile(r"-?\d+-\d+-\d+(?P<more>[+-]?)")
_DECIMAL = re.compile(r"-?\d*\.?(?P<decimals>\d*)")

MULTIPLES = (2, 4, 5, 8, 10)
"""Of a step, that figures may be rounded to: of a millimetre 2, 5 or 10, of a sixteenth an eighth,
a quarter or half an inch."""

FEWEST, NEARLY_ALL = 20, 0.9
"""Figures by which that is known, and what part of them must be so rounded: every second one is
even by chance, and a few may be wrong."""

NOISY = 3.0
"""Factor on the rounding from which a table is noisy: one that is as exact as its figures are
written leaves nothing open that a builder could measure."""


def rounding_mm(table: OffsetTable) -> float:
    """Return the standard deviation of a figure of a table by its rounding, mm."""
    return max(step_mm(table) / EVENLY, LEAST_MM)


def step_mm(table: OffsetTable) -> float:
    """Return the step to which a table's figures were read, mm."""
    if table.read_to_mm is not None:
        return table.read_to_mm
    return _least_step(table.written, table.unit)


def coarsest_mm(table: OffsetTable) -> float:
    """Return the step that a table's figures were rounded to, however finely they are written, mm.

    All but a few of them are multiples of it: of whole millimetres, all rounded to 5.
    """
    step = step_mm(table)
    given = (one.mm for line in table.lines for one in line.offsets if one is not None)
    counts = np.round(np.array(list(given)) / step)
    if len(counts) < FEWEST:
        return step
    shared = (many for many in MULTIPLES if float((counts % many == 0.0).mean()) > NEARLY_ALL)
    return step * max(shared, default=1)


@lru_cache(maxsize=64)
def _least_step(texts: frozenset[str], unit: Unit) -> float:
    """Return the least step of all figures: of one table it is asked for many times."""
    return min((_step(text, unit) for text in texts), default=1.0)


def _step(text: str, unit: Unit) -> float:
    """Return the step of one figure: of eighths an eighth, or a sixteenth where one is added."""
    if match := _OFFSET.fullmatch(text):
        return MM_PER_INCH / (16 if match["more"] else 8)
    if match := _DECIMAL.fullmatch(text):
        return float(unit.mm * 10.0 ** -len(match["decimals"]))
    # A figure with its own unit, as 29 5/8 in, is seldom read finer than a sixteenth.
    return MM_PER_INCH / 16
