"""Clear runs along a piece whose fastener places each may or may not be in the way.

A place blocks with a chance of its own, apart from the others; so what lies between two blocked
places has a distribution that sums over pairs of places give exactly. No board is drawn by lot.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


NEVER = 1e-9
"""A run less likely than this is left out."""


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
        # The ends are in the way for certain.
        self._from = np.concatenate([[0.0], at + half])
        self._to = np.concatenate([at - half, [length_mm]])
        odds = np.concatenate([[1.0], odds, [1.0]])
        self._odds = odds[:-1]
        free = np.concatenate([[0.0], np.cumsum(np.log1p(-np.minimum(odds[1:-1], 1 - 1e-12)))])
        between = free[None, :] - free[:, None]
        self._table = np.triu(odds[:-1, None] * odds[None, 1:] * np.exp(np.minimum(between, 0.0)))
        runs = np.triu(np.maximum(self._to[None, :] - self._from[:, None], 0.0))
        self._all_runs = runs
        may_be = (self._table > NEVER) & (runs > 0.0)
        self._chance, self._runs = self._table[may_be], runs[may_be]

    def expected_over(self, length_mm: float) -> float:
        """Return how many clear runs of at least a length are to be expected in a piece."""
        return float(self._chance[self._runs >= length_mm].sum())

    def expected_pieces(self, length_mm: float, kerf_mm: float) -> float:
        """Return how many pieces of a length are to be expected, sawn one after another."""
        counts = np.floor((self._runs + kerf_mm) / (length_mm + kerf_mm) + 1e-9)
        return float((self._chance * counts).sum())

    def expected_length(self, least_mm: float = 0.0) -> float:
        """Return the length of all clear runs of at least a length that is to be expected, mm."""
        return float((self._chance * np.where(self._runs >= least_mm, self._runs, 0.0)).sum())

    def mean_longest(self) -> float:
        """Return the length that the longest clear run is expected to have, mm.

        The chance that no run is over a length is a product along the piece: summed over lengths.
        """
        lengths = np.unique(np.concatenate([[0.0], self._runs]))
        below = np.array([self._chance_of_none_over(length) for length in lengths])
        return float(((1.0 - below[:-1]) * np.diff(lengths)).sum())

    def _chance_of_none_over(self, length_mm: float) -> float:
        """Return the chance that no run is over a length, place by place from the left end."""
        count = len(self._to)
        # fits[i]: chance that all is well up to place i - 1, and that this one is in the way.
        fits = np.ones(count + 1)
        for j in range(count):
            step = np.divide(
                self._table[: j + 1, j],
                self._odds[: j + 1],
                where=self._odds[: j + 1] > 0,
                out=np.zeros(j + 1),
            )
            is_short = self._all_runs[: j + 1, j] <= length_mm
            fits[j + 1] = float((fits[: j + 1] * step)[is_short].sum())
        return float(fits[count])
