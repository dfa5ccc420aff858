"""One measure of one edge, faired as a line of its own, and how far each figure is off it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TypeVar

import numpy as np

from parts.curves import Points
from parts.lines.kriging import Kriging
from parts.lines.likely_battens import Battens
from parts.lines.parted_battens import FEWEST, PartedBattens, battens_along
from parts.lines.plane_curve import PlaneCurve, curve_through
from parts.lines.swept_lines import straight_through, swept_into
from parts.lines.table import Line

SaidT = TypeVar("SaidT")

TIMES_PUT = 2
"""Times that a figure is put where the other points foretell it."""

SAME_MM = 1e-6
"""Places along the boat as near as this are one."""

PAST_END = 2.0
"""How much more is doubted where a line runs on to than what lies between its figures: the stern of
a published ship bends away by 8.6 of the smaller doubts."""

VAGUE_MM = 30.0
"""What is known beforehand of a point that no batten tells of: about within this."""

LEVEL_MM = 1.0
"""A line that varies by less is level; and the least doubt of where it runs on to."""


@dataclass(frozen=True, eq=False)
class Row:
    """One measure of one edge: the points of a line in one plane.

    Attributes
    ----------
    line
        The table's line, to name a cell; None where the points are given otherwise.
    x, values
        (n,), x rising.
    stations
        (n,) index of the station of each; -1 for an end or a point of stem or sternpost.
    scatter, firm
        (n,) standard deviations: of what is a figure, which grows with the table's noise, and of
        what is none.
    noise
        Factor on the scatter, as the whole table has it; see :mod:`parts.lines.fits`.
    corners
        Numbers of the points at which the line turns sharply.
    straight
        Those of the first and the last point of a run that is straight, into which the line beside
        it is swept; see :mod:`parts.lines.straight_runs`.
    """

    line: Line | None
    x: Points
    values: Points
    stations: Points
    scatter: Points
    firm: Points
    noise: float = 1.0
    corners: tuple[int, ...] = ()
    straight: tuple[int, int] | None = None

    @cached_property
    def _scale(self) -> tuple[float, float]:
        low, high = float(self.values.min()), float(self.values.max())
        return (low + high) / 2, max(high - low, 1.0) / 2

    @cached_property
    def pieces(self) -> list[tuple[int, int]]:
        """First and last point of each run between corners and ends of what is straight."""
        ends = {0, *self.corners, *(self.straight or ()), len(self.x) - 1}
        return list(pairwise(sorted(ends)))

    def _battens(self, first: int, last: int) -> PartedBattens:
        """Return the battens along a run."""
        run = slice(first, last + 1)
        spread = np.hypot(self.scatter[run] * self.noise, self.firm[run])
        return battens_along(self.x[run], self.values[run], spread, self._scale)

    @cached_property
    def runs(self) -> list[PartedBattens | None]:
        """The battens of each run; None for one of too few points."""
        return [
            self._battens(first, last) if last - first + 1 >= FEWEST else None
            for first, last in self.pieces
        ]

    @cached_property
    def left_out(self) -> tuple[Points, Points]:
        """What each point is off its own line without it, and the doubt of that, (n,) mm each.

        The stiffness is found without it as well: in a line of a dozen figures one that is wrong
        would make the batten suit it. Infinite doubt where the line cannot tell.
        """
        return self._judged(
            [None if battens is None else battens.left_out for battens in self.runs]
        )

    @cached_property
    def _left_out_of_whole(self) -> tuple[Points, Points]:
        """Return the same by battens along the whole of each run, which its fair curve goes by."""
        return self._judged(
            [None if battens is None else battens.whole.left_out for battens in self.runs]
        )

    def _judged(self, said: Sequence[tuple[Points, Points] | None]) -> tuple[Points, Points]:
        """Return what each point is off, and the doubt, mm, of what the battens of runs say."""
        off, doubt = np.zeros(len(self.x)), np.full(len(self.x), np.inf)
        for (first, last), found in self._straight_last(said):
            fewest = FEWEST - 1 if (first, last) == self.straight else FEWEST
            if found is None or last - first < fewest:
                continue
            run = slice(first, last + 1)
            off[run], doubt[run] = (self._scale[1] * part for part in found)
            doubt[[first, last]] *= PAST_END
        beyond_question = self.scatter == 0.0
        beyond_question[list(self.corners)] = True
        off[beyond_question], doubt[beyond_question] = 0.0, np.inf
        return off, doubt

    @cached_property
    def misfit(self) -> float:
        """How surprising the points are, in mm; less is better.

        Those of a run that is too short for a batten count as anywhere within :data:`VAGUE_MM`.
        """
        return self._misfit([None if battens is None else battens.misfit for battens in self.runs])

    @cached_property
    def misfit_of_whole(self) -> float:
        """The same by battens along the whole of each run, which turn sharply nowhere in it."""
        return self._misfit(
            [None if battens is None else battens.whole.misfit for battens in self.runs]
        )

    def _misfit(self, misfits: Sequence[float | None]) -> float:
        scale, found = float(np.log(self._scale[1])), 0.0
        for (first, last), misfit in zip(self.pieces, misfits, strict=True):
            many = last - first + 1
            found += many * np.log(VAGUE_MM) if misfit is None else misfit + many * scale
        # A point in which what is straight meets what is swept is one of both, and counts once.
        return float(found - scale * self._joins)

    @property
    def _joins(self) -> int:
        """How many ends of what is straight are no ends of the line, nor corners."""
        taken = {0, *self.corners, len(self.x) - 1}
        return sum(end not in taken for end in self.straight or ())

    def judged_at(self, station: int) -> tuple[float, float]:
        """Return what the figure at a station is off, and the doubt of that; infinite if none."""
        at = np.flatnonzero(self.stations == station)
        if not len(at):
            return 0.0, np.inf
        off, doubt = self.left_out
        return float(off[at[0]]), float(doubt[at[0]])

    def open_mm2(self, station: int) -> float:
        """Return the variance that the fair line has at a station; 0 where it has no figure."""
        at = np.flatnonzero(self.stations == station)
        if not len(at) or self.scatter[at[0]] == 0.0:
            return 0.0
        own = float(self.scatter[at[0]] * self.noise) ** 2
        others = max(float(self._left_out_of_whole[1][at[0]]) ** 2 - own, 1e-6 * own)
        return own if not np.isfinite(others) else own * others / (own + others)

    def held_against(self, x: float, value: float, scatter: float) -> tuple[float, float]:
        """Return what a figure at a place is off the other points, and the doubt of that, mm.

        Places are told by the way along the line, which a gross error leads far off: so the figure
        is first put where the others are.
        """
        kept = np.abs(self.x - x) > SAME_MM
        near, doubt = float(np.interp(x, self.x[kept], self.values[kept])), np.inf
        for _ in range(TIMES_PUT):
            off, doubt = self.held_near(x, near, scatter)
            near -= off
        return (value - near, doubt) if np.isfinite(doubt) else (0.0, doubt)

    def held_near(self, x: float, value: float, scatter: float) -> tuple[float, float]:
        """Return the same of a figure that is no gross error."""
        kept = np.abs(self.x - x) > SAME_MM
        at = int(np.searchsorted(self.x[kept], x))
        number = np.cumsum(kept) - 1
        moved = [int(number[corner]) for corner in self.corners if kept[corner]]
        places = np.insert(self.x[kept], at, x)
        row = Row(
            self.line,
            places,
            np.insert(self.values[kept], at, value),
            np.insert(self.stations[kept], at, -1),
            np.insert(self.scatter[kept], at, scatter),
            np.insert(self.firm[kept], at, 0.0),
            self.noise,
            tuple(corner + (corner >= at) for corner in moved),
            self._straight_among(places),
        )
        off, doubt = row.left_out
        return float(off[at]), float(doubt[at])

    def _straight_among(self, places: Points) -> tuple[int, int] | None:
        """Return the first and the last of places, (n,) rising, on what is straight."""
        if self.straight is None:
            return None
        low, high = self.x[list(self.straight)]
        first, after = np.searchsorted(places, [low - SAME_MM, high + SAME_MM])
        return int(first), int(after) - 1

    @cached_property
    def curve(self) -> PlaneCurve:
        """The fair curve, within the figures' noise of every point."""
        values = self.values.copy()
        middle, half = self._scale
        for (first, last), battens in self._straight_last(self.runs):
            run = slice(first, last + 1)
            if (first, last) == self.straight:
                fair = straight_through(self.x[run], self.values[run])
            elif battens is not None:
                fair = middle + half * battens.fair
            else:
                continue
            # What is no figure stays: corners and ends belong to other lines as well.
            moves = self.scatter[run] > 0.0
            values[run][moves] = fair[moves]
        points = np.column_stack([self.x, values])
        # A figure is rounded evenly, by half a step at most.
        loose = math.sqrt(3.0) * self.noise * self.scatter
        if self.straight is None:
            return curve_through(points, self.corners, loose=loose)
        return swept_into(PlaneCurve(points, self.corners, self.straight, loose))

    def _straight_last(self, of_pieces: Sequence[SaidT]) -> list[tuple[tuple[int, int], SaidT]]:
        """Return pieces, each with what is said of it, the straight one last: its ends are its."""
        both = zip(self.pieces, of_pieces, strict=True)
        return sorted(both, key=lambda one: one[0] == self.straight)


def carried_on(row: Row, x: float) -> tuple[float, float]:
    """Return the value of a row at a place past its end, and the doubt of that, mm."""
    value, doubt = runs_on(row, np.array([x]))
    return float(value[0]), float(doubt[0])


def runs_on(row: Row, x: Points) -> tuple[Points, Points]:
    """Return the values of a row at places past one of its ends, and the doubt of each, mm.

    As a batten through its figures runs on; level where there are too few of them.
    """
    end = row.values[0 if x[0] < row.x[0] else -1]
    if len(row.x) < FEWEST or float(np.ptp(row.values)) < LEVEL_MM:
        return np.full(len(x), end), np.full(len(x), LEVEL_MM)
    low, high = float(row.x[0]), float(row.x[-1])
    middle, half = row._scale
    along, figures = 2.0 * (row.x - low) / (high - low) - 1.0, (row.values - middle) / half
    spread = np.hypot(row.scatter * row.noise, row.firm) / half
    stiffness = Battens(along[None], figures, spread).likeliest
    function = Kriging(along[:, None], figures, spread, stiffness)
    places = (2.0 * (x - low) / (high - low) - 1.0)[:, None]
    doubt = np.maximum(half * function.doubt_at(places), LEVEL_MM)
    return middle + half * function.at(places), doubt
