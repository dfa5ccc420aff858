"""The few cheapest of many, in order; compiled."""

from __future__ import annotations

from nesting.engine.geometry.arrays import Floats
from nesting.engine.geometry.compiled import inner

COST = 0
"""Of a row, before whatever else it holds."""


@inner
def keep(kept: Floats, cost: float, first: float, second: float, third: float) -> None:
    """Take a row into the few cheapest (k, 4), in order; of equal ones the earlier comes first."""
    at = kept.shape[0] - 1
    if cost >= kept[at, COST]:
        return
    while at > 0 and kept[at - 1, COST] > cost:
        for k in range(4):
            kept[at, k] = kept[at - 1, k]
        at -= 1
    kept[at, 0], kept[at, 1], kept[at, 2], kept[at, 3] = cost, first, second, third
