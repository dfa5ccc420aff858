"""A line that turns quickly, laid off with two battens that meet at one of its points.

Up a stem a rabbet rises by as much as in all the rest of the hull falls or rises a hundredth of:
one batten that is limp enough for the turn tells nothing of the keel. So besides the battens
along the whole line others are laid, one set up to each point and one on from it, and what all of
them say of a figure is weighed by how likely they are without that figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from parts.curves import Points
from parts.lines.likely_battens import Battens, parts_of_one

FEWEST = 5
"""Figures in a line below which none can be told to be odd."""

MANY, PARTED = 24, 6
"""Points of a line from which it is not parted at each of them, and at how many it is then: at all
of 60 that took four times as long as all else."""

UNEVEN = 2.0
"""Points of a line stand closer where it bends more, as up a stem. Where one chord is longer than
another by more than this, battens are also laid along the sum of the chords' roots (Lee 1989,
Choosing nodes in parametric curve interpolation, from memory), and what they say is weighed: a
rabbet that turns up quickly to a stem is then off by 1 instead of 9 of its doubts."""


@dataclass(frozen=True, eq=False)
class PartedBattens:
    """Battens along the whole of a line, and pairs of them, each parted at one point.

    Attributes
    ----------
    whole
        Along all the line.
    parted
        For each point at which it is parted, its number, the battens up to it and those from it.
    """

    whole: Battens
    parted: tuple[tuple[int, Battens, Battens], ...] = ()

    @property
    def figures(self) -> Points:
        """Values, (n,), in half the line's rise."""
        return self.whole.figures

    @property
    def fair(self) -> Points:
        """What the battens along the whole line have at the figures' places, (n,).

        Two that meet at a point lie no truer on a noisy line: it may bend there as it likes.
        """
        return self.whole.fair

    @cached_property
    def left_out(self) -> tuple[Points, Points]:
        """What each figure is off the battens through the others, and the doubt, (n,) each."""
        likely, off, doubt = zip(*self._sayings(), strict=True)
        weights = parts_of_one(np.array(likely))
        mean = (weights * off).sum(axis=0)
        spread = (weights * (np.array(doubt) ** 2 + (off - mean) ** 2)).sum(axis=0)
        return mean, np.sqrt(spread)

    @cached_property
    def misfit(self) -> float:
        """How surprising the figures are over all battens; less is better."""
        found = [self.whole.misfit, *(low.misfit + high.misfit for _, low, high in self.parted)]
        least = min(found)
        return least - float(np.log(np.exp(least - np.array(found)).mean()))

    def _sayings(self) -> list[tuple[Points, Points, Points]]:
        """Return how likely each set is without a figure, what that is off, and the doubt."""
        found = [(self.whole.likely_without, *self.whole.left_out)]
        for at, low, high in self.parted:
            likely, off, doubt = (
                np.concatenate([one[:-1], other])
                for one, other in zip(_said(low), _said(high), strict=True)
            )
            likely[:at] -= high.misfit
            likely[at + 1 :] -= low.misfit
            # Where both end nothing is foretold, and a line may not be parted at what is judged.
            likely[at] = -np.inf
            found.append((likely, off, doubt))
        return found


def _said(battens: Battens) -> tuple[Points, Points, Points]:
    return (battens.likely_without, *battens.left_out)


def battens_along(
    x: Points, values: Points, spread: Points, scale: tuple[float, float]
) -> PartedBattens:
    """Return the battens along points, parted too where those stand unevenly.

    Parameters
    ----------
    x, values, spread
        (n,) places, figures and the standard deviation of each, mm.
    scale
        The middle between the least and the greatest figure, and half of what they differ by.
    """
    return _battens_along(x.tobytes(), values.tobytes(), spread.tobytes(), scale)


@lru_cache(maxsize=64)
def _battens_along(
    x: bytes, values: bytes, spread: bytes, scale: tuple[float, float]
) -> PartedBattens:
    places, figures, spreads = (np.frombuffer(column) for column in (x, values, spread))
    middle, half = scale

    def laid(first: int, last: int) -> Battens:
        run = slice(first, last + 1)
        ways = np.array(_ways(places[run], figures[run]))
        return Battens(ways, (figures[run] - middle) / half, spreads[run] / half)

    last = len(places) - 1
    whole = laid(0, last)
    if len(whole.ways) == 1:
        return PartedBattens(whole)
    at = _parting(np.column_stack([places, figures]))
    return PartedBattens(whole, tuple((n, laid(0, n), laid(n, last)) for n in at))


def _parting(points: Points) -> list[int]:
    """Return at which of (n, 2) points battens are parted: of many where the line turns most."""
    places = np.arange(FEWEST - 1, len(points) - FEWEST + 1)
    if len(points) <= MANY:
        return [int(n) for n in places]
    run = np.diff(points, axis=0)
    turns = np.abs(np.diff(np.arctan2(run[:, 1], run[:, 0])))
    most = np.argsort(-turns[places - 1], kind="stable")[:PARTED]
    return sorted(int(n) for n in places[most])


def _ways(x: Points, values: Points) -> list[Points]:
    """Return the ways along points, (n,), -1 to 1 each."""
    chords = np.hypot(np.diff(x), np.diff(values))
    steps = [chords]
    if chords.max() > UNEVEN * chords.min():
        steps.append(np.sqrt(chords))
    return [_way(step) for step in steps]


def _way(steps: Points) -> Points:
    """Return the way along steps, -1 to 1."""
    way = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(2.0 * way / way[-1] - 1.0)
