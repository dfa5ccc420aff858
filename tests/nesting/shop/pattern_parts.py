"""Parts whose patterns are awkward: large and bent, long, small and many, with long names."""

from __future__ import annotations

import datetime
import math
from functools import cache

import numpy as np
from shapely.geometry import Point, Polygon, box

from nesting.front_door.writing import ScriptJob
from nesting.need import Need
from nesting.outline import Bevel, Mark, MarkKind, Outline
from nesting.rules import Rules
from nesting.shop.kinds import Paper
from nesting.shop.patterns import PatternSet, Subject, pattern_set
from nesting.units import Unit

DAY = datetime.date(2026, 11, 27)


def knee(long: float = 520.0, short: float = 400.0, wide: float = 90.0) -> Outline:
    """A right-angled knee with a round throat, a bolt, and a bevel."""
    radius = 60.0
    turns = np.linspace(math.pi, 1.5 * math.pi, 25)
    arc = [
        (wide + radius + radius * math.cos(t), wide + radius + radius * math.sin(t)) for t in turns
    ]
    shape = Polygon([(0, 0), (long, 0), (long, wide), *arc[::-1], (wide, short), (0, short)])
    marks = (
        Mark(MarkKind.BOLT, ((long - 60, wide / 2),), "bolt", 8.0),
        Mark(MarkKind.FRAME, ((0, 200), (wide, 200)), "frame 4"),
    )
    return Outline(shape, 40.0, marks=marks, bevels=(Bevel("lower edge", -7.0, 0.0),))


def strake(length: float = 900.0, wide: float = 70.0) -> Outline:
    """A long thin part with a round edge."""
    x = np.linspace(0, length, 61)
    y = 18 * (1 - (2 * x / length - 1) ** 2)
    return Outline(
        Polygon([*zip(x, y, strict=True), *zip(x[::-1], (y + wide)[::-1], strict=True)]),
        18.0,
        is_plank=True,
    )


def lid() -> Outline:
    """A small round part with an opening."""
    return Outline(Point(0, 0).buffer(45, quad_segs=24).difference(box(-10, -10, 10, 10)), 15.0)


def needs() -> list[Need]:
    """Return one part of each kind, and small ones that could share a page."""
    small = [Outline(box(0, 0, 60 + 8 * n, 35 + 4 * n), 12.0) for n in range(5)]
    return [
        Need.of("great knee", knee(), ["teak"]),
        Need.of("strake", strake(), ["teak"], quantity=2),
        Need.of("lid", lid(), ["teak"]),
        *(Need.of(f"cleat {n}", outline, ["teak"]) for n, outline in enumerate(small)),
    ]


def subject(
    wanted: list[Need], *, unit: Unit = Unit.MM, paper: Paper = Paper.A4, roll_mm: float = 914.4
) -> Subject:
    """Return what patterns of some parts are made of."""
    job = ScriptJob("Dory", unit, Rules(), (), wanted, "R2010")
    return Subject(job, wanted, paper, roll_mm, date=DAY)


@cache
def usual_set(unit: Unit = Unit.MM, paper: Paper = Paper.A4) -> PatternSet:
    """Return the patterns of all the parts."""
    return pattern_set(subject(needs(), unit=unit, paper=paper))
