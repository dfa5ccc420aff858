"""A run of a line that its figures show to be straight: a keel from forefoot to heel, mostly.

It is taken for one if several points in a row lie on a straight line to within their rounding, and
if the line is far less surprising with it than bent all along. A line that bends easily through all
its points is as well drawn bent, and is. What is swept into it goes on leaving it: a figure that
leaves it where the next ones come back, or no others show that they do not, may be odd.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from parts.lines.plane_curve import curve_through
from parts.lines.rows import LEVEL_MM, Row
from parts.lines.swept_lines import FEWEST_SWEPT
from parts.lines.tolerance import NOISY

FEWEST = 5
"""Points that make a straight run: three of an easy bend may lie so by chance."""

ON_IT = 3.5
"""Standard deviations by which a rounded figure may lie off a line through two others: one step."""

PASSED_MM, LOOKED_AT = 1.0, 33
"""By how much a sweep may pass the straight before it meets it, and places at which that is looked
for: a rabbet that an exponential runs out into passed it by 3.6 mm."""

LESS_SURPRISING = 18.0
"""By how much less surprising a line must be with its straight run, in the logarithm; as without a
figure that is off by six standard deviations. Straight keels that one spline swung along by 20 mm
are so by 22 to 54; keels that an exponential runs out into, and that it fits as well, 6 to 20."""

IN_NOISE = 8.0
"""The same in a noisy table. Level keels of hulls by formulas with 3 mm of noise are less
surprising by 12 to 22, short ones by 2 to 7, and lines that bend are more so by 2 to 11."""


def with_straight_run(row: Row) -> Row:
    """Return a row with the run that it shows to be straight, if it does."""
    if float(np.ptp(row.values)) < LEVEL_MM:
        return row
    found = [run for piece in row.pieces if (run := _longest(row, piece)) is not None]
    found = [run for run in found if run not in row.pieces]
    if not found:
        return row
    longest = max(found, key=lambda run: run[1] - run[0])
    straight = replace(row, straight=longest)
    gain = row.misfit_of_whole - straight.misfit_of_whole
    is_swept = not _comes_back(straight) and not _is_passed(straight)
    enough = LESS_SURPRISING if row.noise < NOISY else IN_NOISE
    return straight if gain > enough and is_swept else row


def _comes_back(row: Row) -> bool:
    """Whether what leaves a straight run comes back to it, or is too short to show that not."""
    assert row.straight is not None
    low, high = row.straight
    begin = max(n for n in (0, *row.corners) if n <= low)
    end = min(n for n in (*row.corners, len(row.x) - 1) if n >= high)
    x, values = row.x[[low, high]], row.values[[low, high]]
    rise = float(np.diff(values)[0] / np.diff(x)[0])
    spread = np.hypot(row.scatter * row.noise, row.firm)
    for swept in (np.arange(begin, low)[::-1], np.arange(high + 1, end + 1)):
        if not len(swept):
            continue
        off = row.values[swept] - values[0] - rise * (row.x[swept] - x[0])
        farther = np.diff(off * np.sign(off[np.abs(off).argmax()]), prepend=0.0)
        if len(swept) < FEWEST_SWEPT or (farther < -ON_IT * spread[swept]).any():
            return True
    return False


def _is_passed(row: Row) -> bool:
    """Whether what is swept into a straight run would pass it first: it runs out otherwise."""
    assert row.straight is not None
    low, high = row.straight
    for end, beside in ((low, low - 1), (high, high + 1)):
        if not 0 <= beside < len(row.x) or end in row.corners:
            continue
        x = np.linspace(row.x[beside], row.x[end], LOOKED_AT)
        # As its points have it, which is what tells: held to turn one way it would pass nothing.
        curve = curve_through(row.curve.points, row.curve.corners, row.curve.straight)
        ends = curve.at(row.x[[low, high]])
        rise = float(np.diff(ends)[0] / (row.x[high] - row.x[low]))
        off = curve.at(x) - ends[0] - rise * (x - row.x[low])
        if float((off * np.sign(off[0])).min()) < -PASSED_MM:
            return True
    return False


def _longest(row: Row, piece: tuple[int, int]) -> tuple[int, int] | None:
    """Return the first and the last point of the longest straight run of a piece, or None."""
    run = slice(piece[0], piece[1] + 1)
    spread = np.hypot(row.scatter[run] * row.noise, row.firm[run])
    found = _longest_of(row.x[run].tobytes(), row.values[run].tobytes(), spread.tobytes())
    return None if found is None else (piece[0] + found[0], piece[0] + found[1])


@lru_cache(maxsize=256)
def _longest_of(x: bytes, values: bytes, spread: bytes) -> tuple[int, int] | None:
    """Return the same of points, (n,) each: of one line it is asked for many times."""
    places, figures, spreads = (np.frombuffer(column) for column in (x, values, spread))
    for many in range(len(places), FEWEST - 1, -1):
        for low in range(len(places) - many + 1):
            run = slice(low, low + many)
            at, line = places[run], figures[run]
            off = np.abs(np.interp(at, at[[0, -1]], line[[0, -1]]) - line)
            if (off <= ON_IT * spreads[run]).all():
                return low, low + many - 1
    return None
