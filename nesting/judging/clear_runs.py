"""Clear runs along a piece whose fastener places each may or may not be in the way.

A place blocks with a chance of its own, apart from the others, and places may lie over each other,
as screws do in a stretch that may be rotten. A run from the end of one blocked place to where
another begins is clear if every place that reaches into it is not; so sums over pairs of ends and
beginnings give the distribution of runs exactly. No board is drawn by lot.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


NEVER = 1e-9
"""A run less likely than this is left out."""

ALMOST = 1.0 - 1e-12
"""A place that is certainly in the way is so almost certainly, that logarithms stay finite."""

SAME_MM = 1e-9
"""Lengths nearer than that are the same."""

MOST_LENGTHS = 300
"""Lengths that the longest run is reckoned by; then it is known to a part in so many."""


class Places:
    """Places along a piece where something may be in the way.

    Parameters
    ----------
    length_mm
        Of the piece.
    at_mm
        (n,) middles of the places, in any order.
    half_mm
        (n,) half of what each takes of the length where it is in the way, clearance included.
    chance
        (n,) how likely each is in the way.
    """

    def __init__(
        self,
        length_mm: float,
        at_mm: Sequence[float] | Floats,
        half_mm: Sequence[float] | Floats,
        chance: Sequence[float] | Floats,
    ) -> None:
        order = np.argsort(np.asarray(at_mm, dtype=float), kind="stable")
        at, half, odds = (np.asarray(v, dtype=float)[order] for v in (at_mm, half_mm, chance))
        self._length_mm = length_mm
        self._begin, self._end = at - half, at + half
        self._odds = np.minimum(odds, ALMOST)
        free = np.log1p(-self._odds)
        # The ends are in the way for certain.
        ends, end_odds, free_left = _together(self._end, free)
        begins, begin_odds, free_right = _together(-self._begin, free)
        ends, end_odds, free_left = (
            np.concatenate([[v], kept])
            for v, kept in ((0.0, ends), (1.0, end_odds), (0.0, free_left))
        )
        begins, begin_odds, free_right = (
            np.concatenate([[v], kept])
            for v, kept in ((length_mm, -begins), (1.0, begin_odds), (0.0, free_right))
        )
        end, begin = _likely_pairs(ends, begins, free.sum() - free_left, free_right)
        runs = begins[begin] - ends[end]
        between = np.exp(np.minimum(free.sum() - free_left[end] - free_right[begin], 0.0))
        odds = end_odds[end] * begin_odds[begin] * between
        may_be = (odds > NEVER) & (runs > 0.0) & (ends[end] >= 0.0) & (begins[begin] <= length_mm)
        self._chance, self._runs = odds[may_be], runs[may_be]
        self._pieces: dict[tuple[float, float], float] = {}

    def expected_pieces(self, length_mm: float, kerf_mm: float) -> float:
        """Return how many pieces of a length are to be expected, sawn one after another.

        Asked for again and again, by parts of one length: reckoned once.
        """
        key = length_mm, kerf_mm
        if key not in self._pieces:
            counts = np.floor((self._runs + kerf_mm) / (length_mm + kerf_mm) + 1e-9)
            self._pieces[key] = float((self._chance * counts).sum())
        return self._pieces[key]

    def expected_length(self, least_mm: float = 0.0) -> float:
        """Return the length of all clear runs of at least a length that is to be expected, mm."""
        return float((self._chance * np.where(self._runs >= least_mm, self._runs, 0.0)).sum())

    def mean_longest(self) -> float:
        """Return the length that the longest clear run is expected to have, mm.

        Summed over lengths: the chance that no run is longer than each.
        """
        lengths = np.unique(np.concatenate([[0.0], self._runs]))
        if len(lengths) > MOST_LENGTHS:
            lengths = np.linspace(0.0, lengths[-1], MOST_LENGTHS)
        below = self._chance_of_none_over(lengths)
        return float(((1.0 - below[:-1]) * np.diff(lengths)).sum())

    def _chance_of_none_over(self, lengths_mm: Floats) -> Floats:
        """Return for each length the chance that no run is over it, place by place from the left.

        What is known on the way is how far the blocked places so far reach.
        """
        reached = np.unique(np.concatenate([[0.0], np.maximum(self._end, 0.0)]))
        chance = np.zeros((len(lengths_mm), len(reached)))
        chance[:, 0] = 1.0
        order = np.argsort(self._begin, kind="stable")
        for begin, end, odds in zip(
            self._begin[order], self._end[order], self._odds[order], strict=True
        ):
            is_short = begin - reached[None, :] <= lengths_mm[:, None] + SAME_MM
            blocked = odds * chance * is_short
            chance *= 1.0 - odds
            place = int(np.searchsorted(reached, max(0.0, end)))
            chance[:, place] += blocked[:, : place + 1].sum(axis=1)
            chance[:, place + 1 :] += blocked[:, place + 1 :]
        is_short = self._length_mm - reached[None, :] <= lengths_mm[:, None] + SAME_MM
        return np.asarray((chance * is_short).sum(axis=1))


def _likely_pairs(
    ends: Floats, begins: Floats, free_right_of: Floats, free_right: Floats
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return pairs of an end and a beginning to the right of it with no place between that is all
    but certainly in the way.

    Beginnings go from right to left, so those of an end are neighbours in their order.
    """
    least = np.log(NEVER) - SAME_MM - free_right_of
    first = np.searchsorted(-free_right, least, side="left")
    after = 1 + np.searchsorted(-begins[1:], -ends, side="left")  # The first is the piece's end.
    counts = np.maximum(after - first, 0)
    end = np.repeat(np.arange(len(ends)), counts)
    number = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return end, np.repeat(first, counts) + number


def _together(at_mm: Floats, free: Floats) -> tuple[Floats, Floats, Floats]:
    """Return places one after another, those at the same place as one: where, the chance that one
    at least is in the way, and the logarithm of the chance that none up to there is.
    """
    where, which = np.unique(at_mm, return_inverse=True)
    here = np.bincount(which, weights=free, minlength=len(where))
    return where, -np.expm1(here), np.cumsum(here)
