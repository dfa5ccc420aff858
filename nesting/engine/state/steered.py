"""What wishes come to in the search: boards barred, prices on pieces and boards, old places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Row = tuple[int, float, bool, float, float]
"""Need, angle, face and place: a part in plain numbers."""


@dataclass(frozen=True)
class Steered:
    """Wishes by the numbers of needs and boards.

    Attributes
    ----------
    barred
        Of each need, the boards that it may not lie on, and the titles of the wishes that say so.
    piece_mm2
        By need and board, what each piece there breaks, as wood.
    opening_mm2
        Of each board, what opening it takes; its area if nothing is wished of it.
    is_open
        Boards that cost nothing to open, or count as if: they are tried before closed ones.
    homes
        Of each board, the pieces of the last plan, and what moving each has to save, mm2.
    later
        Needs of later stages, for which wood is only kept in view.
    locked
        Boards with pieces that stay, and what those are called.
    most_mm2
        What all that costs at the most: value not placed is dearer.
    """

    barred: tuple[Mapping[int, str], ...]
    piece_mm2: Mapping[tuple[int, int], float]
    opening_mm2: tuple[float, ...]
    is_open: frozenset[int] = frozenset()
    homes: tuple[Mapping[Row, float], ...] = ()
    later: frozenset[int] = frozenset()
    locked: Mapping[int, str] = field(default_factory=dict)
    most_mm2: float = 0.0

    @property
    def has_homes(self) -> bool:
        """Whether any piece has a place of its own in the last plan."""
        return any(self.homes)

    @cached_property
    def prices_mm2(self) -> Mapping[int, NDArray[np.float64]]:
        """What a piece of each need breaks on each board (boards,), as wood; none that nowhere."""
        prices = {need: np.zeros(len(self.opening_mm2)) for need, _ in self.piece_mm2}
        for (need, board), price in self.piece_mm2.items():
            prices[need][board] = price
        return {need: row for need, row in prices.items() if row.any()}

    def willing(self, board: int, wanted: Sequence[int]) -> list[int]:
        """Return how often each need is wanted on a board, none that breaks a wish there."""
        return [
            0 if need in self.later or (need, board) in self.piece_mm2 else count
            for need, count in enumerate(wanted)
        ]

    def outlay_mm2(self, board: int, counts: Mapping[int, int], rows: tuple[Row, ...]) -> float:
        """Return what wishes broken on a board cost, less what pieces that stayed there save."""
        broken = sum(
            count * self.piece_mm2.get((need, board), 0.0) for need, count in counts.items()
        )
        homes = self.homes[board] if self.homes else {}
        return broken - sum(homes.get(row, 0.0) for row in rows) if homes else broken
