"""Where an edge turns so quickly between its points that nobody can say how it runs there.

Four things tell it: how far apart all manners of drawing it lie that foretell its own points about
as well, how far the points there are missed by the same drawing without them, how far it turns
between two of them, as a forefoot does from the stem's last point to the second station, and how
high the triangle is in which it lies there if it turns one way. They add up as squares do, as what
has causes of its own: a rabbet swept up between two stations of a boat with four panels was 13 mm
off, of which the farthest of the four told 5. But it is never off by more than that triangle
leaves: along a straight keel by nothing, however the forefoot beside it is missed.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from nesting.errors import Finding
from parts.curves import Points
from parts.lines.faired_edges import Edges
from parts.lines.notation import written_like
from parts.lines.plane_curve import PlaneCurve
from parts.lines.rows import Row
from parts.lines.table import OffsetTable

OF_MISSED = 0.4
"""Part of what the two points beside a run are missed by, each left out, that the run may be off: a
run between three points is twice as long. Of 64 tables of the tests no run between points missed by
less than 15 mm was 5 mm off; of those between worse ones half were."""

OF_TURNED = 0.025
"""Part of a run's chord that it may be off where it turns by one radian, and four times that where
by two: a fifth of an arc's height for each radian. Of 144 tables of one set of hulls by formulas 28
of 3,864 runs were more than 5 mm off, up to 42; by turning 38 are told, 24 of those and nine more
that are 3 to 5 off; by the two others alone 11 of the 28."""

OF_HEIGHT = 0.05, 0.5
"""Part of the height of its triangle that a run may be off, at the least and at the most. Of 650
runs of eighteen hulls by formulas 41 are told then, and three of those untold are more than 4 mm
off, on one sheer that hollows where no point shows it; without the triangle 65 and four."""

OPEN_MM = 7.0
"""An edge left open by more is told. Of 1,640 runs of 39 hulls by formulas 59 are told then, 27 of
them less than 2 mm off; of the 27 that are more than 4 mm off 21. Where the farthest of the four
signs held, and more than 6 mm were told, 63, 33 and 18."""

INSIDE = 1e-6
"""Part of a run by which its ends are looked at from within: at a corner it turns outside of it."""


def unsure_edges(table: OffsetTable, edges: Edges) -> Iterator[Finding]:
    """Yield every place between two points of an edge where it is left open."""
    for edge in edges.each():
        for row in edge.rows():
            if row.line is not None:
                yield from _of_row(table, row)


def _of_row(table: OffsetTable, row: Row) -> Iterator[Finding]:
    assert row.line is not None
    place = next(one for one in row.line.offsets if one is not None)
    for low, high, most in _together(open_runs(row.curve)):
        begin, end, off = (written_like(mm, place.written, table.unit) for mm in (low, high, most))
        text = (
            f"{row.line.title}: between {begin} and {end} from forward it turns so quickly "
            f"that it is known to about {off} alone: give a station, or a point of stem or "
            "stern, between"
        )
        yield Finding(table.file, place.line, place.column, text)


def open_runs(curve: PlaneCurve) -> Iterator[tuple[float, float, float]]:
    """Yield between which two points a curve is left open, x, and by how much, mm."""
    x, apart = _apart(curve)
    told, heights = curve.foretold(), curve.heights_mm
    runs = pairwise(float(at) for at in curve.points[:, 0])
    for (low, high), turned, height in zip(runs, _by_turning(curve), heights, strict=True):
        beside = told[(told[:, 0] >= low) & (told[:, 0] <= high), 1]
        missed = OF_MISSED * float(beside.mean()) if len(beside) else 0.0
        far = float(apart[(x > low) & (x < high)].max(initial=0.0))
        least, limit = (part * height for part in OF_HEIGHT)
        least = least if np.isfinite(height) else 0.0
        most = min(float(np.linalg.norm([far, missed, turned, least])), limit)
        if most > OPEN_MM:
            yield low, high, most


def _by_turning(curve: PlaneCurve) -> Points:
    """Return how far off a curve may be between each two points for its turning there, mm."""
    ways = curve.ways
    low, high = ways[:-1], ways[1:]
    within = INSIDE * (high - low)
    first, last = (curve.spline(way, nu=1) for way in (low + within, high - within))
    across = first[:, 0] * last[:, 1] - first[:, 1] * last[:, 0]
    turn = np.arctan2(across, (first * last).sum(axis=1))
    chords = np.hypot(*np.diff(curve.points, axis=0).T)
    return np.asarray(OF_TURNED * chords * turn**2)


def _together(
    found: Iterator[tuple[float, float, float]],
) -> Iterator[tuple[float, float, float]]:
    """Yield runs that follow each other as one, the most of them."""
    held = next(found, None)
    for low, high, most in found:
        assert held is not None
        if low == held[1]:
            held = held[0], high, max(most, held[2])
        else:
            yield held
            held = low, high, most
    if held is not None:
        yield held


def _apart(curve: PlaneCurve) -> tuple[Points, Points]:
    """Return places along a curve, and how far the farthest of its other drawings lies off."""
    drawn, found = curve.dense(), list[tuple[Points, Points]]()
    tree = cKDTree(drawn)
    for other in curve.others():
        found.append((other[:, 0], np.asarray(tree.query(other)[0])))
    if not found:
        return np.zeros(0), np.zeros(0)
    return np.concatenate([x for x, _ in found]), np.concatenate([off for _, off in found])
