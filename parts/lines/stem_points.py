"""Whether the points of a stem or a sternpost can stand as they are given.

Its head lies on the sheer, whose own line says how high. The other points are few, and a line bends
to suit each of them: none is surely wrong, but a profile that turns to and fro is no fair one.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nesting.errors import Finding
from nesting.words import counted
from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.odd_ones import EIGHTH_MM
from parts.lines.rows import Row
from parts.lines.table import OffsetTable
from parts.lines.tolerance import rounding_mm

STRANGE = 3.0
"""Deviations of its doubt that a head may lie off the sheer: as of a figure that is looked into."""

TURN_DEG = 1.0
"""Turns by less are of rounding. Of 84 stems and sternposts by formulas, of five points each, none
turns to and fro so; of those with a point 100 mm off a third do."""

BESIDE = 2
"""Points of the rabbet at the stations next to a stem that show how it leaves."""

ONCE = 1
"""Times that a profile may change the way it turns: a hollow stem does."""


def stem_notes(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield what is strange of the points of stem and sternpost."""
    rabbet = edges.rabbet.height
    for name, points, at, is_stern in (
        ("stem", table.stem, table.stem_at, False),
        ("stern", table.stern, table.stern_at, True),
    ):
        if not points:
            continue
        head = points[-1] if is_stern else points[0]
        off = _off_the_sheer(table, edges.sheer.height, head)
        if off:
            side = "above" if off > 0.0 else "below"
            yield Finding(
                table.file, *at,
                f"{name}: its head, {head[1]:.0f} mm high, lies {abs(off):.0f} mm {side} where the "
                "sheer runs on to, and it ends on the sheer: measure its height again",
            )  # fmt: skip
            continue
        wrong = _to_and_fro(rabbet, points, is_stern=is_stern)
        if wrong:
            numbers = " or ".join(str(n) for n in wrong)
            yield Finding(
                table.file, *at,
                f"{name}: its profile turns to and fro; of its {counted(len(points), 'point')} one "
                f"is probably wrong, number {numbers}: measure it again",
            )  # fmt: skip


def _off_the_sheer(table: OffsetTable, sheer: Row, head: tuple[float, float]) -> float:
    """Return how far a head lies above where the sheer runs on to, mm; 0 if that may be so."""
    off, doubt = sheer.held_near(*head, rounding_mm(table))
    return off if abs(off) > max(EIGHTH_MM, STRANGE * doubt) else 0.0


def _to_and_fro(
    rabbet: Row, points: tuple[tuple[float, float], ...], *, is_stern: bool
) -> list[int]:
    """Return which points, from 1, may be wrong of a profile that turns to and fro; none if fair.

    Those without which it does not.
    """
    profile = np.column_stack([rabbet.x, rabbet.values])
    many = len(points) + BESIDE
    profile = profile[-many:] if is_stern else profile[:many]
    if _changes(profile) <= ONCE:
        return []
    first = len(profile) - len(points) if is_stern else 0
    inner = range(1, len(points)) if not is_stern else range(len(points) - 1)
    every = range(len(points))
    fair = [n for n in inner if _changes(np.delete(profile, first + n, axis=0)) <= ONCE]
    return [n + 1 for n in fair or every]


def _changes(profile: Points) -> int:
    """Return how often a line through points, (n, 2), changes the way it turns."""
    way = np.diff(profile, axis=0)
    turns = np.diff(np.degrees(np.arctan2(way[:, 1], way[:, 0])))
    signs = np.sign(turns[np.abs(turns) > TURN_DEG])
    return int((np.diff(signs) != 0.0).sum())
