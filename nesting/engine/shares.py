"""What share of a board each part takes at the least: sums over 1 are more than it can give.

On a line across the board parts lie one after another, each with a gap to the next, so a part
takes its chord and the gap of the run of free wood and one gap. Any count of a part that never
adds up to more than the count of the run may stand for the chord: how many units of a size it
holds, say, so that three parts of a little over a third of the width are seen not to fit. Such
counts may be added up over any choice of lines, and each part be taken where it is least.

References
----------
Fekete, Schepers 2001, New classes of fast lower bounds for bin packing problems; Carlier,
Clautiaux, Moukrim 2007, New reduction procedures and lower bounds for the two-dimensional bin
packing problem; Alves, Clautiaux, Valerio de Carvalho, Rietz 2016, Dual-feasible functions for
integer programming and combinatorial optimization: the counts. Scheithauer 1999, LP-based
bounds for the container and multi-container loading problem: lines. All from memory; that a
part counts by its chords, wherever it lies and however it leans, is our own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.engine.chords import STEP_MM, Chords
from nesting.engine.no_fit import polygons_of
from nesting.engine.runs import edges_of, rings_of
from nesting.engine.runs_numba import crossings
from nesting.engine.shares_numba import least_hits, least_sums, longest, rounded

SLACK_MM = 0.01
"""Added to every run on the safe side: far above all rounding, far below a saw's kerf."""

MOST_ABREAST = 5
"""Units are tried of which so many fit the widest run, or fewer."""

MOST_CLASSES = 12
"""Of lines by the width that they have."""

WINDOWS_MM = (300.0, 450.0, 600.0, 800.0)
"""Parts are also measured over so much to either side of a line: curved ones that lie one above
another need more width than their chords, because not all of them fit the board's edges."""

LEVELS = 3
"""On chosen lines a part counts for so many units at most."""

ALIKE = 0.02
"""Lengths that differ by less than this share need no lines of their own."""

MOST_LINES = 8
"""Chosen at once."""

SINGLE = 25
"""Lines looked at one by one."""

MOST_ROWS = 400
"""Kept for one board."""

OVER = 2.0
"""What a part counts for that no room is left for at all."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Lines:
    """Free runs on lines across a board: a run of ``length[i]`` mm begins at ``y[i]`` on ``of[i]``."""

    low_x: float
    high_x: float
    count: int
    of: Ints
    y: Floats
    length: Floats

    def bent(self, steps: int) -> tuple[Ints, Floats]:
        """Return lines with the width, mm, that parts have there which reach so far on all sides.

        From edge to edge of the wood, in the mean of the line and those at the ends, and what
        the edges themselves bend.
        """
        if steps == 0:
            return self.of, self.length
        low, high = np.full(self.count, np.inf), np.full(self.count, -np.inf)
        np.minimum.at(low, self.of, self.y)
        np.maximum.at(high, self.of, self.y + self.length)
        at = np.arange(steps, self.count - steps)
        ends = at - steps, at + steps
        is_there = np.isfinite(low[at] + low[ends[0]] + low[ends[1]])
        at, ends = at[is_there], (ends[0][is_there], ends[1][is_there])
        below, above = ((edge[ends[0]] + edge[ends[1]]) / 2 for edge in (low, high))
        bend = np.abs(low[at] - below) + np.abs(high[at] - above)
        return at, ((high[at] - low[at]) + (above - below) + bend) / 2


def lines_of(region: BaseGeometry) -> Lines:
    """Return the runs of a free region."""
    edges = [edges_of(rings_of(polygon)) for polygon in polygons_of(region)]
    if not edges:
        return Lines(0.0, 0.0, 0, np.empty(0, np.int64), np.empty(0), np.empty(0))
    low_x, _, high_x, _ = region.bounds
    count = int((high_x - low_x) / STEP_MM + 0.5)
    first, y = crossings(np.concatenate(edges), low_x + STEP_MM / 2, STEP_MM, count)
    of = np.repeat(np.arange(count), np.diff(first) // 2)
    return Lines(low_x, high_x, count, of, y[::2], y[1::2] - y[::2])


def shares_of(parts: Sequence[Chords], lines: Lines, gap_mm: float) -> Floats:
    """Return rows (r, n) of what each part takes of a board at the least."""
    rows = []
    for window in (0.0, *WINDOWS_MM):
        across = _Across(parts, lines, gap_mm, round(window / STEP_MM))
        rows += across.shares()
    return np.array(rows).reshape(-1, len(parts))


class _Across:
    """Parts that may share a board, on its lines: (w) rows of cells, each of one part."""

    def __init__(self, parts: Sequence[Chords], lines: Lines, gap_mm: float, steps: int) -> None:
        self._parts, self._count, self._steps = len(parts), lines.count, steps
        self._of, widths = lines.bent(steps)
        self._widths = widths + gap_mm + SLACK_MM
        cells = max(part.low.shape[1] for part in parts)
        measured = [part.bent(steps) for part in parts]
        sizes = np.concatenate([_padded(size, cells) for size, _ in measured])
        bends = np.concatenate([_padded(bend, cells) for _, bend in measured])
        ways = np.array([len(part) for part in parts])
        self._some = np.flatnonzero(ways)
        self._firsts = (np.cumsum(ways) - ways)[self._some]
        left = np.concatenate([part.left for part in parts])
        right = np.concatenate([part.right for part in parts])
        begin = lines.low_x + STEP_MM / 2
        low = np.ceil((lines.low_x + left - SLACK_MM - begin) / STEP_MM)
        high = np.floor((lines.high_x - right + SLACK_MM - begin) / STEP_MM) + 1
        used = np.flatnonzero((sizes > 0).any(axis=0))
        first, last = (used[0], used[-1] + 1) if len(used) else (0, 0)
        self._sizes = np.where(sizes > 0, sizes + gap_mm, 0.0)[:, first:last]
        self._bends = np.ascontiguousarray(bends[:, first:last])
        self._low, self._high = (at.astype(np.int64) - cells // 2 + first for at in (low, high))

    def shares(self) -> list[Floats]:
        """Return rows (n,) of what each part takes of the board at the least."""
        found = []
        if self._steps == 0:
            found.append(self._share(np.where(self._low > self._high, np.inf, 0.0), 1.0))
        if self._sizes.size == 0 or len(self._of) == 0:
            return found
        if self._steps == 0:
            found += self._by_size()
            for abreast in range(1, MOST_ABREAST + 1):
                found += self._abreast(abreast)
            found += self._by_units()
        return found

    def _by_size(self) -> Iterator[Floats]:
        """Yield rows that add up what parts take of chosen lines."""
        holds = np.bincount(self._of, self._widths, self._count)
        lengths = np.zeros((1, len(self._sizes)), np.int64)
        lengths[0] = (self._sizes > 0).sum(axis=1)
        for lines in self._choices(lengths):
            sums = least_sums(self._sizes, self._low, self._high, lines)
            yield self._share(sums, float(holds[lines].sum()))

    def _abreast(self, count: int) -> Iterator[Floats]:
        """Yield rows that count parts of which no more than so many lie side by side."""
        units = self._classes[0] / (count + 1) * (1 + 1e-9)
        where = np.array([longest(self._sizes, unit, LEVELS) for unit in units])
        for unit in units:
            yield self._all_over(unit, 1.0 - 1e-9)
        own = units[self._classes[1]]
        holds = np.bincount(self._of, np.floor(self._widths / own[self._of]), self._count)
        yield from self._on_lines(where, self._classes[1], holds)

    def _all_over(self, unit: float, rest: float) -> Floats:
        """Return what parts take of all lines together in units; of broken ones what is over."""
        total = rounded(self._sizes, unit, rest)
        holds = rounded(self._widths[None], unit, rest)
        return self._share(total, float(holds[0]))

    def _by_units(self) -> Iterator[Floats]:
        """Yield rows in units of what parts take, broken off as the lines' widths are."""
        typical = [float(np.median(row[row > 0])) for row in self._sizes if (row > 0).any()]
        for unit in _unlike(np.array(typical)):
            for width in self._classes[0]:
                if width >= unit:
                    yield self._all_over(unit * (1 - 1e-9), min((width / unit) % 1.0, 1.0 - 1e-9))

    def _on_lines(self, where: Ints, kinds: Ints, holds: Floats) -> Iterator[Floats]:
        """Yield rows of what chosen lines hit, each of its own kind."""
        lengths = where[:, :, 0, 1] - where[:, :, 0, 0]
        if lengths.max() == 0:
            return
        for lines in self._choices(lengths):
            hits = least_hits(where, kinds[lines], self._low, self._high, lines)
            yield self._share(hits, float(holds[lines].sum()))

    @cached_property
    def _classes(self) -> tuple[Floats, Ints]:
        """Widths, and for each line the number of the least that is not under its own, (m,)."""
        widest = np.zeros(self._count)
        np.maximum.at(widest, self._of, self._widths)
        widths = []
        left = np.sort(widest[widest > 0])
        while len(left):
            widths.append(left[-1])
            less = left[-1] * (1 - ALIKE) if len(widths) < MOST_CLASSES else 0.0
            left = left[left < less]
        found = np.array(widths)
        return found, len(found) - 1 - np.searchsorted(found[::-1], widest).clip(0, len(found) - 1)

    def _choices(self, lengths: Ints) -> list[Ints]:
        """Return choices of lines: evenly spaced, single ones, as far apart as parts are long."""
        last = self._count - 1
        chosen = [[share * last] for share in np.linspace(0.0, 1.0, SINGLE)]
        chosen += [[last * (i + 1) / (n + 1) for i in range(n)] for n in range(1, LEVELS * 2)]
        for length in _unlike(np.concatenate([self._least(row) for row in lengths * 1.0])):
            if 2 * length > last:
                chosen.append([last - length + 1, length - 2])
                chosen += [[last - length + 1], [length - 2]]
            for parts in (1, 2, 3):
                apart = (length - 1) / parts
                count = max(1, math.ceil(last / apart) - 1)
                if count <= MOST_LINES:
                    first = (last - (count - 1) * apart) / 2
                    chosen.append([first + i * apart for i in range(count)])
        ways = {tuple(sorted(set(np.clip(np.round(lines), 0, last).astype(int).tolist()))) for lines in chosen}
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
    """Return the rows that may rule a choice out and that no other makes needless, (k, n)."""
    rows = np.unique(rows[rows @ copies > 1.0 + 1e-9], axis=0)
    rows = rows[np.argsort(-(rows @ copies), kind="stable")]
    chosen: list[int] = []
    for r, row in enumerate(rows):
        if not (rows[chosen] >= row - 1e-12).all(axis=1).any():
            chosen.append(r)
    return rows[chosen[:MOST_ROWS]]


def _unlike(lengths: Floats) -> list[float]:
    """Return the figures over 2, of those that differ little the least."""
    found: list[float] = []
    for length in np.sort(lengths[np.isfinite(lengths) & (lengths > 2)]):
        if not found or length > found[-1] * (1 + ALIKE):
            found.append(float(length))
    return found


def _padded(chords: Floats, cells: int) -> Floats:
    side = (cells - chords.shape[1]) // 2
    return np.pad(chords, ((0, 0), (side, side)))
