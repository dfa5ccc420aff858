"""What share of a board each part takes at the least: shares over 1 are more than it can give.

On a line across the board parts lie one after another, each with a gap to the next: the chord
of each and a gap add up to no more than the run of free wood and a gap. So do counts of them
that never gain by being added up: how many units of a length each holds, say, which shows that
three parts of a little over a third of the width do not fit. Such counts may be added up over
any choice of lines, and each part be taken where, by angle and place, it is least.

References
----------
Fekete, Schepers 2001, New classes of fast lower bounds for bin packing problems; Alves,
Clautiaux, Valerio de Carvalho, Rietz 2016, Dual-feasible functions for integer programming and
combinatorial optimization (among them that of Burdett and Johnson 1977, here ``rounded``): the
counts. Scheithauer 1999, LP-based bounds for the container and multi-container loading problem:
lines. All from memory; that parts of any shape count by their chords is our own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.engine.proof.chords import STEP_MM, Chords
from nesting.engine.proof.shares_numba import least_hits, least_sums, longest, rounded
from nesting.engine.wood.runs import runs_of

SLACK_MM = 0.01
"""Added to every run on the safe side: far above all rounding, far below a saw's kerf."""

MOST_ABREAST = 5
"""Units are tried of which so many fit side by side, or fewer."""

MOST_CLASSES = 4
"""Of lines by how wide they are; each counts in units of its own."""

LEVELS = 3
"""On chosen lines a part counts for so many units at most."""

ALIKE = 0.02
"""Lengths that differ by less than this share are not looked at each for itself."""

MOST_LINES = 8
"""Chosen at once."""

SINGLE = 25
"""Lines looked at one by one."""

OVER = 2.0
"""Share of a part that has no room at all."""

TINY = 1e-9
"""Units are longer than a whole number of them would need by this, relative."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Lines:
    """Free runs on lines across a board: line ``of[i]`` has a run of ``length[i]`` mm."""

    low_x: float
    high_x: float
    count: int
    of: Ints
    length: Floats


def lines_of(region: BaseGeometry) -> Lines:
    """Return the runs of a free region."""
    if region.is_empty:
        return Lines(0.0, 0.0, 0, np.empty(0, np.int64), np.empty(0))
    low_x, _, high_x, _ = region.bounds
    runs = runs_of(region, low_x, high_x, STEP_MM)
    count = len(runs.first) - 1
    of = np.repeat(np.arange(count), np.diff(runs.first) // 2)
    return Lines(low_x, high_x, count, of, runs.y[1::2] - runs.y[::2])


def shares_of(parts: Sequence[Chords], lines: Lines, gap_mm: float) -> Floats:
    """Return rows (r, n) of what each part takes of a board at the least."""
    return np.array(list(_Across(parts, lines, gap_mm).rows())).reshape(-1, len(parts))


class _Across:
    """Parts that may share a board, on its lines: (w) rows of cells, each a way of one part."""

    def __init__(self, parts: Sequence[Chords], lines: Lines, gap_mm: float) -> None:
        self._parts, self._count, self._of = len(parts), lines.count, lines.of
        self._widths = lines.length + gap_mm + SLACK_MM
        ways = np.array([len(part) for part in parts])
        self._some = np.flatnonzero(ways)
        self._firsts = (np.cumsum(ways) - ways)[self._some]
        cells = max(part.lengths.shape[1] for part in parts)
        lengths = np.concatenate([_padded(part.lengths, cells) for part in parts])
        reach = np.concatenate([part.reach for part in parts])
        begin = lines.low_x + STEP_MM / 2
        low = np.ceil((lines.low_x + reach[:, 0] - SLACK_MM - begin) / STEP_MM)
        high = np.floor((lines.high_x - reach[:, 1] + SLACK_MM - begin) / STEP_MM) + 1
        used = np.flatnonzero((lengths > 0).any(axis=0))
        first, last = (used[0], used[-1] + 1) if len(used) else (0, 0)
        self._sizes = np.where(lengths > 0, lengths + gap_mm, 0.0)[:, first:last]
        self._low, self._high = (at.astype(np.int64) - cells // 2 + first for at in (low, high))

    def rows(self) -> Iterator[Floats]:
        """Yield rows (n,) of what each part takes of the board at the least."""
        yield self._share(np.where(self._low > self._high, np.inf, 0.0), 1.0)
        if self._sizes.size and len(self._of):
            yield from self._by_size()
            yield from self._by_units()
            for count in range(1, MOST_ABREAST + 1):
                yield from self._abreast(count)

    def _by_size(self) -> Iterator[Floats]:
        """Yield rows that add up what parts take of chosen lines."""
        holds = np.bincount(self._of, self._widths, self._count)
        for lines in self._choices((self._sizes > 0).sum(axis=1)[None]):
            sums = least_sums(self._sizes, self._low, self._high, lines)
            yield self._share(sums, float(holds[lines].sum()))

    def _by_units(self) -> Iterator[Floats]:
        """Yield rows over all lines in units of what parts take, broken off as the widths are."""
        typical = [float(np.median(row[row > 0])) for row in self._sizes if (row > 0).any()]
        for unit in _unlike(np.array(typical)) * (1 - TINY):
            for width in self._classes[0]:
                if width >= unit:
                    yield self._all_over(unit, min((width / unit) % 1.0, 1.0 - TINY))

    def _abreast(self, count: int) -> Iterator[Floats]:
        """Yield rows that count parts of which no more than so many lie side by side."""
        widths, kinds = self._classes
        units = widths / (count + 1) * (1 + TINY)
        for unit in units:
            yield self._all_over(unit, 1.0 - TINY)
        where = np.array([longest(self._sizes, unit, LEVELS) for unit in units])
        lengths = where[:, :, 0, 1] - where[:, :, 0, 0]
        if lengths.max() == 0:
            return
        units_held = np.floor(self._widths / units[kinds][self._of])
        holds = np.bincount(self._of, units_held, self._count)
        for lines in self._choices(lengths):
            hits = least_hits(where, kinds[lines], self._low, self._high, lines)
            yield self._share(hits, float(holds[lines].sum()))

    def _all_over(self, unit: float, rest: float) -> Floats:
        """Return what parts take of all lines together, counted in units."""
        holds = rounded(self._widths[None], unit, rest)
        return self._share(rounded(self._sizes, unit, rest), float(holds[0]))

    @cached_property
    def _classes(self) -> tuple[Floats, Ints]:
        """Widths, falling, and for each line (m,) which is the least that is not under its own."""
        widest = np.zeros(self._count)
        np.maximum.at(widest, self._of, self._widths)
        widths: list[float] = []
        left = np.sort(widest[widest > 0])
        while len(left) and len(widths) < MOST_CLASSES:
            widths.append(float(left[-1]))
            left = left[left < left[-1] * (1 - ALIKE)]
        found = np.array(widths)
        return found, (found[None, :] >= widest[:, None]).sum(axis=1) - 1

    def _choices(self, lengths: Ints) -> list[Ints]:
        """Return choices of lines: evenly spaced, single ones, as far apart as parts are long."""
        last = self._count - 1
        chosen = [[share * last] for share in np.linspace(0.0, 1.0, SINGLE)]
        chosen += [[last * (i + 1) / (n + 1) for i in range(n)] for n in range(1, 2 * LEVELS)]
        for length in _unlike(np.concatenate([self._least(row.astype(float)) for row in lengths])):
            if 2 * length > last:
                ends = last - length + 1, length - 2
                chosen += [[*ends], [ends[0]], [ends[1]]]
            for parts in (1, 2, 3):
                apart = (length - 1) / parts
                count = max(1, math.ceil(last / apart) - 1)
                if count <= MOST_LINES:
                    first = (last - (count - 1) * apart) / 2
                    chosen.append([first + i * apart for i in range(count)])
        whole = ({min(max(0, round(line)), last) for line in lines} for lines in chosen)
        ways = {tuple(sorted(lines)) for lines in whole}
        return [np.array(lines, np.int64) for lines in sorted(ways)]

    def _least(self, values: Floats) -> Floats:
        """Return each part's least over all ways that it may lie, (n,)."""
        least = np.full(self._parts, np.inf)
        if len(values):
            least[self._some] = np.minimum.reduceat(values, self._firsts)
        return least

    def _share(self, values: Floats, whole: float) -> Floats:
        """Return what each part takes of a whole at the least; ``OVER`` where there is no room."""
        least = self._least(values)
        if whole <= 0:
            return np.where(least > 0, OVER, 0.0)
        return np.minimum(least / whole, OVER)


def kept(rows: Floats, copies: Floats) -> Floats:
    """Return the rows that may rule out a choice of copies (n,), without those others imply."""
    rows = np.unique(rows[rows @ copies > 1.0 + TINY], axis=0)
    rows = rows[np.argsort(-(rows @ copies), kind="stable")]
    chosen: list[int] = []
    for r, row in enumerate(rows):
        if not (rows[chosen] >= row - TINY).all(axis=1).any():
            chosen.append(r)
    return rows[chosen]


def _unlike(lengths: Floats) -> Floats:
    """Return the lengths over 2; of those that differ little the least."""
    found: list[float] = []
    for length in np.sort(lengths[np.isfinite(lengths) & (lengths > 2)]):
        if not found or length > found[-1] * (1 + ALIKE):
            found.append(float(length))
    return np.array(found)


def _padded(lengths: Floats, cells: int) -> Floats:
    side = (cells - lengths.shape[1]) // 2
    return np.pad(lengths, ((0, 0), (side, side)))
