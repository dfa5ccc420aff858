"""What cross grain costs: strength left of straight-grained wood, by the slope of its grain.

Between the slopes of the printed table (``cross_grain.csv`` beside this file) the figures run
straight over the slope; beyond the steepest one Hankinson's formula goes on with the curves
that the handbook names for that table. The formula lies below the table almost everywhere, so
the table has the word where both apply.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from nesting.errors import PartError
from parts.curves import Points

SOURCE = (
    "USDA Wood Handbook FPL-GTR-282 (2021), Table 5-12; steeper than 1 in 5 Hankinson's formula, "
    "eq. 5-2 there, with the curves of p. 5-30"
)

PROPERTIES = ("bending", "impact", "compression")

CURVES = {"bending": (0.1, 1.5), "impact": (0.05, 1.5), "compression": (0.1, 2.5)}
"""Strength across over strength along the grain, and the exponent of Hankinson's formula, that
the handbook names for Table 5-12 (GTR-282, p. 5-30)."""


@dataclass(frozen=True)
class StrengthLeft:
    """Shares, 0 to 1, of the strength of straight-grained wood."""

    bending: float
    impact: float
    compression: float


def hankinson(along: float, across: float, angle_deg: float, exponent: float = 2.0) -> float:
    """Return a strength at an angle to the grain by Hankinson's formula.

    N = P Q / (P sin^n a + Q cos^n a), with P ``along`` and Q ``across`` the grain, in one unit.

    References
    ----------
    USDA Wood Handbook FPL-GTR-282 (2021), eq. 5-2. Exponents there: tension 1.5 to 2,
    compression 2 to 2.5, bending 1.5 to 2, modulus of elasticity 2.

    Examples
    --------
    >>> round(hankinson(50.0, 10.0, 45.0), 3)
    16.667
    """
    if not (along > 0 and across > 0):
        raise PartError(f"strengths of {along:g} and {across:g}; both must be over 0")
    if not 0 <= angle_deg <= 90:
        raise PartError(f"an angle of {angle_deg:g} degrees to the grain; must be 0 to 90")
    turn = math.radians(angle_deg)
    sine, cosine = math.pow(math.sin(turn), exponent), math.pow(math.cos(turn), exponent)
    return along * across / (along * sine + across * cosine)


def strength_left(run: float) -> StrengthLeft:
    """Return what is left of the strength where the grain slopes 1 in ``run``.

    Examples
    --------
    >>> strength_left(10).bending
    0.81
    >>> strength_left(math.inf).bending
    1.0
    """
    if not run > 0:
        raise PartError(f"a slope of grain of 1 in {run:g}; must be over 0")
    slopes, table = _table()
    if 1 / run <= slopes[-1]:
        shares = [float(np.interp(1 / run, slopes, table[:, k])) for k in range(3)]
        return StrengthLeft(*shares)
    angle = math.degrees(math.atan(1 / run))
    beyond = [hankinson(1.0, *_curve(name, angle)) for name in PROPERTIES]
    return StrengthLeft(*(min(share, float(table[-1, k])) for k, share in enumerate(beyond)))


def _curve(name: str, angle_deg: float) -> tuple[float, float, float]:
    across, exponent = CURVES[name]
    return across, angle_deg, exponent


@cache
def _table() -> tuple[Points, Points]:
    """Return slopes (n,), rising from straight grain, and shares (n, 3) of each property."""
    lines = files("parts.wood").joinpath("cross_grain.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(lines))
    slopes = [0.0, *(1 / float(row["run"]) for row in rows)]
    shares = [[float(row[f"{name}_percent"]) / 100 for name in PROPERTIES] for row in rows]
    return np.array(slopes), np.array([[1.0, 1.0, 1.0], *shares])
